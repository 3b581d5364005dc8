"""Constants that both packages need."""

ZERO_CELSIUS = 273.15
"""0 °C [K], by definition of the scale."""
