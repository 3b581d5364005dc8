"""How the network changes over time: its data, its laws, the one right-hand side, and what steps it."""
