"""Which is best, what holds elsewhere, and which promise is kept."""
