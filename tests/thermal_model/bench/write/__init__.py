"""Checks of thermal_model.bench.write."""
