"""One mechanism of heat transfer a module: pure functions on floats and arrays."""
