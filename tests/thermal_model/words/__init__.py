"""Checks of thermal_model.words."""
