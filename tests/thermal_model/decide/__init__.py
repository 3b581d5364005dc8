"""Checks of what is decided on predictions and readings."""
