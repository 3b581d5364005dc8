"""Checks of thermal_model.assemble."""
