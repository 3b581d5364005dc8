"""Checks of the questions asked of many designs."""
