"""Checks against sources outside the project, and the data they use."""
