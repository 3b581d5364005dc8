"""What readings say without a model."""
