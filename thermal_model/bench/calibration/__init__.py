"""Bench readings correct the model: what is not known, fitted, with how well it is then known."""
