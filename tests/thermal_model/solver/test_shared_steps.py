"""Lanes of one group take the same steps; one that went astray goes its own way."""

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.scatter import Indices
from thermal_model.solver.shared_steps import _SharedSteps
from thermal_model.solver.stepping import UNSOUND


class Told:
    """A stepper that finds the errors it was told."""

    def __init__(self, sizes: Array) -> None:
        self._sizes = sizes

    def evaluate(self, state: Array, room: Array) -> tuple[Array, Array]:
        return state, room

    def step(self, state: Array, time: Array, step: Array, mass: Array) -> tuple[Array, Array]:
        return state + time + step + mass, self._sizes

    def take_lanes(self, lanes: Indices) -> "Told":
        return Told(self._sizes[lanes])


def test_the_largest_error_of_a_group_is_that_of_all_its_lanes() -> None:
    sizes = np.array([0.1, 0.5, 0.2, 0.9, UNSOUND])
    shared = _SharedSteps(Told(sizes), np.array([3, 3, 7, 7, 7]))
    nothing = np.zeros(5)
    assert shared.step(nothing, nothing, nothing, nothing)[1].tolist() == [0.5, 0.5, 0.9, 0.9, UNSOUND]
    left = shared.take_lanes(np.array([0, 2, 4]))
    assert left.step(nothing[:3], nothing[:3], nothing[:3], nothing[:3])[1].tolist() == [0.1, 0.2, UNSOUND]
