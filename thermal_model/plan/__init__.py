"""What to test next, how long, how often."""
