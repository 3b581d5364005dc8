"""Why one container, run or set differs from another."""
