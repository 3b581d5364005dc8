"""Numbers and dimensions in words."""
