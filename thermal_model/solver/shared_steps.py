"""Lanes that take the same steps: so the error of the steps is the same in them, and cancels in their difference.

Bock, H. G. (1981), "Numerical treatment of inverse problems in chemical reaction kinetics", in Modelling of Chemical
Reaction Systems, Springer: "internal numerical differentiation". Cited from memory.
"""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.engine import MakeStepper
from thermal_model.solver.network import LinkTable, Network
from thermal_model.solver.scatter import Indices
from thermal_model.solver.stepping import UNSOUND, Stepper, Tolerance


@dataclass(frozen=True)
class MakeShared:
    """Makes steppers whose steps are as long as the lane in most need of its group allows.

    Attributes
    ----------
    make : callable
        Makes the stepper that takes them.
    groups : (n,) int array
        Number of each lane's group.
    """

    make: MakeStepper
    groups: Indices

    def __call__(self, network: Network, links: LinkTable, tolerance: Tolerance) -> "_SharedSteps":
        """Make a stepper of all lanes."""
        return _SharedSteps(self.make(network, links, tolerance), self.groups)

    def of_lanes(self, lanes: Indices) -> "MakeShared":
        """Return what makes a stepper of those lanes that are left."""
        return MakeShared(self.make, self.groups[lanes])


class _SharedSteps:
    """A stepper whose lanes have the largest error of their group; one that went astray goes its own way."""

    def __init__(self, stepper: Stepper, groups: Indices) -> None:
        self._stepper, self._groups = stepper, groups

    def evaluate(self, state: Array, room: Array) -> tuple[Array, Array]:
        """As in Stepper."""
        return self._stepper.evaluate(state, room)

    def step(self, state: Array, time: Array, step: Array, mass: Array) -> tuple[Array, Array]:
        """As in Stepper, but for the size of the error."""
        after, size = self._stepper.step(state, time, step, mass)
        is_sound = size < UNSOUND
        largest = np.zeros(self._groups.max() + 1)
        np.maximum.at(largest, self._groups[is_sound], size[is_sound])
        return after, np.where(is_sound, largest[self._groups], size)

    def take_lanes(self, lanes: Indices) -> "_SharedSteps":
        """As in Stepper."""
        return _SharedSteps(self._stepper.take_lanes(lanes), self._groups[lanes])
