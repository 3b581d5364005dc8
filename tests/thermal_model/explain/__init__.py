"""Checks of thermal_model.explain."""
