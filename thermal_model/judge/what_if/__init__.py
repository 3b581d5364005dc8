"""What if: hold times under other conditions, at once, from tables that the engine made; and how far they are off."""
