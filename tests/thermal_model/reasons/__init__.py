"""Checks of thermal_model.reasons."""
