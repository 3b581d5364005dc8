"""What a container does: a thermal network, solved."""
