"""Checks of thermal_model.plan."""
