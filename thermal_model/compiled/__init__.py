"""The engine's steps compiled: the very laws of `thermal_model.laws`, traced and run on blocks of lanes."""
