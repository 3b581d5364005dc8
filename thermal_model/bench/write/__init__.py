"""Files of a bench, written: templates, demo, descriptor."""
