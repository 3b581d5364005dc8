"""Checks of the package that says what a container is."""
