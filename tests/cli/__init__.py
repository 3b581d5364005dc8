"""The command, as a user meets it."""
