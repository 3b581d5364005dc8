"""Constants of nature and of convention."""

GRAVITY = 9.80665
"""Standard acceleration of free fall [m s-2], 3rd CGPM 1901."""

STANDARD_PRESSURE = 101325.0
"""Standard atmosphere [Pa], 10th CGPM 1954."""

GAS_CONSTANT = 8.31446261815324
"""Molar gas constant [J mol-1 K-1], SI 2019, exact."""
