"""Pictures: what is to be seen as plain data, and one way to draw it."""
