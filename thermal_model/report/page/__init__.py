"""One page a reader can explore: a ranking, the readings behind it, why, and what if; it works offline."""
