"""One step of a stiff integration: the Rosenbrock methods RODAS of order 4(3) and RODAS3 of order 3(2).

The stages share one matrix, factorised once a step; the step is L-stable and stiffly accurate, and sums of the
state that the right-hand side keeps, it keeps too: energy is balanced to rounding at any tolerance.

References
----------
.. [1] E. Hairer, G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer 1996, section IV.10
       (code RODAS). Coefficients from memory; the test measures the order of convergence, 4 and 3.
.. [2] A. Sandu et al., Benchmarking stiff ODE solvers for atmospheric chemistry problems II, Atmospheric Environment
       31 (1997) 3459-3472 (RODAS3). Coefficients from memory; the test measures the order, 3 and 2.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.elimination import Elimination, Factors
from thermal_model.solver.rates import LinearRates, RightHandSide
from thermal_model.solver.scatter import Scatter, sum_of_rows


@dataclass(frozen=True)
class Method:
    """Coefficients of a method whose last stage, reached from the others, is the error of the step.

    Attributes
    ----------
    order : int
        Of the step; its error is estimated by a step of one order less.
    gamma : float
        Share of the step that the matrix takes.
    stage_times, time_derivative : tuple of s floats
        Where in the step a stage is evaluated, and its share of the derivative by time.
    stages, couplings : tuple of s tuples of float
        Weights of earlier stages in the state at which a stage is evaluated, and in its right-hand side.
    """

    order: int
    gamma: float
    stage_times: tuple[float, ...]
    time_derivative: tuple[float, ...]
    stages: tuple[tuple[float, ...], ...]
    couplings: tuple[tuple[float, ...], ...]

    @property
    def starts(self) -> tuple[bool, ...]:
        """Whether a stage is evaluated at the start of the step, where all flows are known."""
        return tuple(not any(weights) for weights in self.stages)


RODAS = Method(
    order=4,
    gamma=0.25,
    stage_times=(0.0, 0.386, 0.21, 0.63, 1.0, 1.0),
    time_derivative=(0.25, -0.1043, 0.1035, -0.0362, 0.0, 0.0),
    stages=(
        (),
        (1.544,),
        (0.9466785280815826, 0.2557011698983284),
        (3.314825187068521, 2.896124015972201, 0.9986419139977817),
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895),
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895, 1.0),
    ),
    couplings=(
        (),
        (-5.6688,),
        (-2.430093356833875, -0.2063599157091915),
        (-0.1073529058151375, -9.594562251023355, -20.47028614809616),
        (7.496443313967647, -10.24680431464352, -33.99990352819905, 11.7089089320616),
        (8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136, -6.058818238834054),
    ),
)
"""Six stages, five of them to be evaluated."""

RODAS3 = Method(
    order=3,
    gamma=0.5,
    stage_times=(0.0, 0.0, 1.0, 1.0),
    time_derivative=(0.5, 1.5, 0.0, 0.0),
    stages=((), (0.0,), (2.0, 0.0), (2.0, 0.0, 1.0)),
    couplings=((), (4.0,), (1.0, -1.0), (1.0, -1.0, -8.0 / 3.0)),
)
"""Four stages, two of them to be evaluated: cheaper where little accuracy is asked for."""


@lru_cache(maxsize=64)
def _elimination(size: int, first: bytes, second: bytes) -> Elimination:
    """Return the order of elimination of a pattern; a lid that comes off and goes on again finds its own."""
    return Elimination(size, np.frombuffer(first, dtype=np.intp), np.frombuffer(second, dtype=np.intp))


class StepMatrix:
    """Assembles (C / (h gamma) - d heating / d state) from the links' derivatives, and solves with it."""

    def __init__(self, right_hand_side: RightHandSide) -> None:
        self.right_hand_side, size = right_hand_side, right_hand_side.network.node_count
        start, end = right_hand_side.links.start, right_hand_side.links.end
        self._size = size
        self._start_inside, self._end_inside = np.flatnonzero(start < size), np.flatnonzero(end < size)
        self._to_room = np.flatnonzero((start == size) | (end == size))
        self._inside = np.flatnonzero((start < size) & (end < size))
        first, second = start[self._inside], end[self._inside]
        self.elimination = _elimination(size, first.tobytes(), second.tobytes())
        slots, starts, ends = self.elimination.slots, start[self._start_inside], end[self._end_inside]
        self._entry_scatter = Scatter.onto(
            np.concatenate([slots(starts, starts), slots(ends, ends), slots(first, second), slots(second, first)])
        )

    def factorise(self, diagonal: Array, by_start: Array, by_end: Array, slopes: Array) -> Factors:
        """Factorise for a diagonal C / (h gamma), (N, n), and link derivatives, (l, n)."""
        links, inside = self.right_hand_side.links, self._inside
        start_slopes, end_slopes = slopes[links.start], slopes[links.end]
        scaled_start, scaled_end = by_start * start_slopes, by_end * end_slopes
        rows = np.concatenate(
            [
                scaled_start[self._start_inside],
                -scaled_end[self._end_inside],
                scaled_end[inside],
                -scaled_start[inside],
            ]
        )
        entries = self._entry_scatter.sum(rows, self.elimination.entry_count)
        entries[: self._size] += diagonal
        return self.elimination.factorise(entries)

    def room_heating(self, by_start: Array, by_end: Array, changes: Array) -> Array:
        """Return what changes of the node temperatures (N + 1, n; room 0) change in the heat to the room, (n,)."""
        links, rows = self.right_hand_side.links, self._to_room
        flows = by_start[rows] * changes[links.start[rows]] + by_end[rows] * changes[links.end[rows]]
        sign = np.where(links.end[rows] == self._size, 1.0, -1.0)
        return sum_of_rows(sign[:, None] * flows)


def rosenbrock_step(
    matrix: StepMatrix,
    state: Array,
    time: Array,
    step: Array,
    capacities: Array,
    here: LinearRates,
    method: Method = RODAS,
) -> tuple[Array, Array]:
    """Take one step in every lane.

    Parameters
    ----------
    matrix : StepMatrix
    state : (N + 1, n) array
    time, step : (n,) array
        Start and length of the step; lanes differ. [s]
    capacities : (N + 1, n) array
        As of `RightHandSide.capacities`.
    here : LinearRates
        The links at the state.
    method : Method, optional

    Returns
    -------
    new_state, error : (N + 1, n) array
        State after the step and its error estimate.
    """
    rhs = matrix.right_hand_side
    room = rhs.network.room
    by_start, by_end = here.by_start, here.by_end
    heating = rhs.heating(here.flows)
    slopes = rhs.state_slopes(state, here.temperatures)
    shifted = step * method.gamma
    factors = matrix.factorise(capacities[:-1] / shifted, by_start, by_end, slopes)
    drift = _room_drift(matrix, by_start, by_end, room.slope(time))

    increments: list[Array] = []
    for stage, is_at_start in enumerate(method.starts):
        stage_heating = heating
        if not is_at_start:
            stage_state = state + _combine(method.stages[stage], increments)
            stage_room = room.at(time + method.stage_times[stage] * step)
            stage_heating = rhs.heating(rhs.flows(rhs.temperatures(stage_state, stage_room)))
        right = stage_heating + capacities * (_combine(method.couplings[stage], increments) / step)
        right += method.time_derivative[stage] * step * drift
        increment = np.empty_like(state)
        increment[:-1] = matrix.elimination.solve(factors, right[:-1])
        changes = np.vstack([increment[:-1] * slopes[:-1], np.zeros_like(step)[None]])
        increment[-1] = shifted * (right[-1] + matrix.room_heating(by_start, by_end, changes))
        increments.append(increment)
    new_state = stage_state + increments[-1]
    return new_state, increments[-1]


def _combine(coefficients: tuple[float, ...], increments: list[Array]) -> Array | float:
    return sum(c * k for c, k in zip(coefficients, increments, strict=True)) if coefficients else 0.0


def _room_drift(matrix: StepMatrix, by_start: Array, by_end: Array, slope: Array) -> Array | float:
    """Return the partial derivative of the heating by time, through the room temperature. [W s-1]"""
    if not np.any(slope):
        return 0.0
    rhs = matrix.right_hand_side
    size = rhs.network.node_count
    changes = (by_start * (rhs.links.start == size)[:, None] + by_end * (rhs.links.end == size)[:, None]) * slope
    drift = rhs.heating(changes)
    drift[:-1] -= rhs.network.sources
    drift[-1] += sum_of_rows(rhs.network.sources)
    return drift
