"""Checks of what results say, write and draw."""
