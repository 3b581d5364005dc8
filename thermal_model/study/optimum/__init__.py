"""The best design: search over all of a space, then refinement by slopes; for any problem of the form in `problem`."""
