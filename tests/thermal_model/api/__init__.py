"""Checks of the public functions."""
