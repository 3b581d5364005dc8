"""Checks of thermal_model.bench.read."""
