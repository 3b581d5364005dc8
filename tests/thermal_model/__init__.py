"""Checks of thermal_model."""
