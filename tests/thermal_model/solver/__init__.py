"""Checks of thermal_model.solver."""
