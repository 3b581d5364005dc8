"""Checks of thermal_model.workbench."""
