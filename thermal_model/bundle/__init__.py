"""A bench with all that was made of it, packed so that others can make it again and compare."""
