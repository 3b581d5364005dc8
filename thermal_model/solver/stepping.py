"""What the engine steps with: lanes of a network during a phase, their links at hand, and the size of an error."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from geometries.numeric import Array, Numeric
from thermal_model.solver.network import CONTENTS, LinkTable, Network
from thermal_model.solver.rates import RightHandSide
from thermal_model.solver.rosenbrock import RODAS, RODAS3, Method, StepMatrix, rosenbrock_step
from thermal_model.solver.scatter import Indices


@dataclass(frozen=True)
class Tolerance:
    """What a step may err, and the method that suits.

    The defaults keep every hold time of the catalogue within 0.7 s of an integration at 1e-11, all but one within
    0.5 s; the benchmark `tests.benchmarks.model_accuracy` prints the figures.

    Attributes
    ----------
    contents, others : float
        Error allowed in the contents and in the other nodes; a node with less than a thousandth of the contents' heat
        capacity may err up to 20 times more. [K]
    greatest : float
        Allowed in any node but those of next to no capacity, which keep to GREATEST_ALLOWANCE. [K]
    room_share : float
        Allowed in the heat that goes to the room, as what it changes of the contents' temperature, over what is
        allowed in the contents. [-]
    at_fill : float
        How many times more contents and nodes may err at a fill than later; see `lenience`. [-]
    slopes_are_exact : bool
        Whether the nodes are near enough for the contents' slope to tell where a limit is crossed within a step.
    first_step : float
        With which a fill begins: it starts with a shock of milliseconds. [s]
    method : Method
    dtype : str
        Format of the numbers that compiled code steps with; the plain stepper's are double.
    """

    contents: float = 3.5e-5
    others: float = 3.5e-3
    greatest: float = 0.1
    room_share: float = 1.0
    at_fill: float = 100.0
    slopes_are_exact: bool = True
    first_step: float = 0.005
    method: Method = RODAS
    dtype: str = "float64"


SCREENING = Tolerance(
    contents=3e-2,
    others=0.35,
    greatest=0.35,
    room_share=0.1,
    at_fill=10.0,
    slopes_are_exact=False,
    first_step=1.0,
    method=RODAS3,
    dtype="float32",
)
"""For searches and maps: hold times within 0.1 % or 10 s of the defaults, by measurement: 0.052 % at worst, where that
is more than 10 s, in 20 087 random designs of two seeds (the benchmark `tests.benchmarks.engine_accuracy`). What nodes
err while the walls take up their heat dies away; what went to the room meanwhile does not, and has its own limit."""

FILL_DIES_AWAY, FILL_IS_OVER = 60.0, 1200.0
"""Time over which what may err more at a fill falls to a third, and from which nothing does. [s]"""


def lenience(time: Array, at_fill: float) -> Array:
    """Return how many times more contents and nodes may err at a time after the fill than they may later. [-]

    How the first heat is shared between contents and walls evens out within minutes; what went to the room meanwhile
    does not, and keeps to its own limit from the start. A fourth fewer steps, hold times as before.
    """
    dying = at_fill * np.exp(-np.maximum(time, 0.0) / FILL_DIES_AWAY)
    return np.where((time >= 0.0) & (time < FILL_IS_OVER), 1.0 + dying, 1.0)


LIGHT_NODE, GREATEST_LENIENCE = 1e-3, 20.0
WATER_HEAT_CAPACITY = 4186.0
COLDEST = 150.0
"""No node may fall below this in a sound step. [K]"""

UNSOUND = 1e4
"""Error of a step that went astray."""


class Stepper(Protocol):
    """Steps of n lanes of a network through one phase."""

    def evaluate(self, state: Array, room: Array) -> tuple[Array, Array]:
        """Keep the links at a state; return what the contents take up and what evaporates, (n,). [W, kg s-1]"""

    def step(self, state: Array, time: Array, step: Array, mass: Array) -> tuple[Array, Array]:
        """Return the state after a step from the state last evaluated, and its error over what is allowed, (n,)."""

    def take_lanes(self, lanes: Indices) -> "Stepper":
        """Return the stepper of some lanes only; their state is to be evaluated anew."""


class PlainStepper:
    """Steps in numpy: at hand at once, without a compiler."""

    def __init__(self, network: Network, links: LinkTable, tolerance: Tolerance) -> None:
        self.tolerance = tolerance
        self._rhs = RightHandSide(network, links)
        self._matrix = StepMatrix(self._rhs)

    def evaluate(self, state: Array, room: Array) -> tuple[Array, Array]:
        """As in Stepper."""
        self._here = here = self._rhs.linearised(state, room)
        evaporating = self._rhs.evaporation_rate(here.flows, here.temperatures)
        return self._rhs.heating(here.flows)[CONTENTS], evaporating

    def step(self, state: Array, time: Array, step: Array, mass: Array) -> tuple[Array, Array]:
        """As in Stepper."""
        capacities = self._rhs.capacities(mass)
        with np.errstate(all="ignore"):
            new_state, error = rosenbrock_step(
                self._matrix, state, time, step, capacities, self._here, self.tolerance.method
            )
            allowed = allowed_errors(mass, capacities, self.tolerance, lenience(time, self.tolerance.at_fill))
            return new_state, error_size(error, new_state, allowed)

    def take_lanes(self, lanes: Indices) -> "PlainStepper":
        """As in Stepper."""
        return PlainStepper(self._rhs.network.take_lanes(lanes), self._rhs.links.take_lanes(lanes), self.tolerance)


GREATEST_ALLOWANCE = 0.1
"""Error allowed in a node of next to no capacity however coarse the rest, after a fill too [K]. It is half of what
vapour sets in over (`laws.ONSET`): with five times as much, air beside a plug was thrown across that at every step, and
the steps of some designs stayed at a thousandth of a second."""

NEXT_TO_NONE = 0.02
"""Capacity of no more than 20 mL of air. [J K-1]"""


def allowed_in_contents(tolerance: Numeric) -> Numeric:
    """Return the error allowed in the contents' enthalpy; water's capacity turns kelvin into J/kg. [J kg-1]"""
    return tolerance * WATER_HEAT_CAPACITY


def allowed_in_room(mass: Numeric, tolerance: Numeric) -> Numeric:
    """Return the error allowed in the heat to the room, by the mass of the contents. [J]"""
    return tolerance * WATER_HEAT_CAPACITY * mass


def allowed_in_node(mass: Numeric, capacity: Numeric, tolerance: Numeric, greatest: Numeric, more: Numeric) -> Numeric:
    """Return the error allowed in another node, by the mass of the contents and the node's heat capacity. [K]"""
    light = LIGHT_NODE * WATER_HEAT_CAPACITY * mass / np.maximum(capacity, 1e-9)
    most = np.where(capacity < NEXT_TO_NONE, GREATEST_ALLOWANCE, greatest * more)
    return np.minimum(tolerance * more * np.minimum(np.maximum(light, 1.0), GREATEST_LENIENCE), most)


def allowed_errors(mass: Array, capacities: Array, tolerance: Tolerance, more: Array) -> Array:
    """Return the error allowed in each row of a state, (N + 1, n), `more` times as much as usual but in the room."""
    allowed = np.empty_like(capacities)
    allowed[:-1] = allowed_in_node(mass, capacities[:-1], tolerance.others, tolerance.greatest, more)
    allowed[CONTENTS] = allowed_in_contents(tolerance.contents) * more
    allowed[-1] = allowed_in_room(mass, tolerance.contents * tolerance.room_share)
    return allowed


def error_size(error: Array, state: Array, allowed: Array) -> Array:
    """Return the largest error of a lane, (n,), in units of what is allowed; UNSOUND of a step that went astray."""
    largest = (np.abs(error) / allowed).max(axis=0)
    is_sound = np.isfinite(largest) & np.isfinite(state).all(axis=0)
    is_sound &= (state[CONTENTS + 1 : -1] > COLDEST).all(axis=0)
    return np.where(is_sound, largest, UNSOUND)
