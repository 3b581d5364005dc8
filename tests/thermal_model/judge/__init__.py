"""Checks of thermal_model.judge."""
