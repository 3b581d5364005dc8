"""Measured runs: reading them, reducing them, and calibrating with them."""
