"""Files of a bench, read and checked line by line."""
