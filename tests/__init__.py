"""Checks of both packages."""
