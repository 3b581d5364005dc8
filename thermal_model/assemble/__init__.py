"""From a container and a scenario to a network: one small function for each kind of heat path."""
