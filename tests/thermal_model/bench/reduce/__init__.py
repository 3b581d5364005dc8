"""Checks of thermal_model.bench.reduce.reduction."""
