"""The engine's steps compiled: the very laws of `thermal_model.solver.laws`, traced and run on blocks of lanes."""
