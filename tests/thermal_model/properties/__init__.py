"""Checks of the fitted properties."""
