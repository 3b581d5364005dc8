"""What the model says a bench would have shown: temperatures of the contents at the times somebody looked.

Runs whose networks have the same nodes and links, and copies of them with one unknown moved, go through the engine as
lanes of one batch; a derivative is the difference of two lanes that took the same steps.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from geometries.numeric import Array
from thermal_model.assemble.lanes import Lanes
from thermal_model.bench.calibration.coordinates import NETWORK_NAMES
from thermal_model.bench.records import Run
from thermal_model.follow import Followed, follow
from thermal_model.gradients import Neighbours
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper
from thermal_model.solver.scatter import Indices
from thermal_model.solver.steppers import stepper_for
from thermal_model.solver.stepping import Tolerance
from thermal_model.uncertainty import PRIORS, perturbed_runs
from thermal_model.work_done import ShareDone

EXPECTED_ROUNDS = 4
"""Times that a fit asks for derivatives: tells whether a compiled stepper is worth its start."""

STEP = 0.05
"""Difference of a standard normal for a derivative [-]: a tenth of what a reading's noise blurs, rounding apart."""

TOLERANCE = Tolerance(contents=3e-4, others=0.1, at_fill=0.0)
"""Temperatures err by up to 0.006 K, alike in neighbours; derivatives by 0.002 K, since the lanes of a run share steps.

Looser ones leave derivatives so rough that a fit to hundreds of readings does not come to rest.
"""

SLOPE_STEP = 30.0
"""Half the span over which a rate of cooling is taken. [s]"""

COLDEST_ROOM, WARMEST_ROOM = 288.15, 303.15
"""Where nobody measured the room it is taken to lie between these, anywhere alike: 15 to 30 C. [K]"""

UNKNOWN_START = 10.0
"""Standard deviation of a start temperature that nobody measured. [K]"""

UNKNOWN_FILL = 0.1
"""Relative standard deviation of a fill that nobody measured. [-]"""


@dataclass(frozen=True)
class Response:
    """What the contents of a run did at k times.

    Attributes
    ----------
    temperature : (k,) array
        NaN where the integration did not get there. [K]
    slope : (k,) array
        Rate of change. [K s-1]
    by_normal : (k, 20) array or None
        Derivative of the temperature by the standard normals of NETWORK_NAMES. [K]
    """

    temperature: Array
    slope: Array
    by_normal: Array | None = None


@dataclass(frozen=True)
class Watched:
    """A run and the times at which it is looked at, (k,). [s]"""

    run: Run
    times: Array


class ResponseModel:
    """The runs of a bench as batches of lanes.

    Parameters
    ----------
    watched : sequence of Watched
    refinement : int
        Multiplies the cells along walls and in the lid.
    """

    def __init__(self, watched: Sequence[Watched], refinement: int = 1) -> None:
        self.watched = tuple(watched)
        self._refinement = refinement
        self.lanes_computed = 0

    @cached_property
    def _stepper(self) -> MakeStepper:
        return stepper_for(len(self.watched) * len(NETWORK_NAMES) * EXPECTED_ROUNDS)

    def values(self, normals: Array, progress: ShareDone | None = None) -> list[Response]:
        """Return the responses of all runs.

        Parameters
        ----------
        normals : (r, 20) array
            Of each run, in the order of NETWORK_NAMES. [-]
        """
        return self.lanes(np.arange(len(self.watched)), normals, progress)

    def with_derivatives(
        self,
        normals: Array,
        runs: Indices | None = None,
        *,
        progress: ShareDone | None = None,
    ) -> list[Response]:
        """Return responses with their derivatives, of all runs or some.

        Parameters
        ----------
        normals : (r, 20) array
            Of each run of the bench.
        runs : (k,) int array, optional
            Numbers of the runs that are wanted; left out, all.
        progress : callable, optional
        """
        wanted = np.arange(len(self.watched)) if runs is None else runs
        count = len(NETWORK_NAMES)
        moves = Neighbours(np.full(count, STEP)).moves
        moved = (normals[wanted, None] + moves).reshape(-1, count)
        responses = self.lanes(np.repeat(wanted, len(moves)), moved, progress)
        return [_with_derivatives(responses[k : k + len(moves)]) for k in range(0, len(responses), len(moves))]

    def lanes(self, runs: Indices, normals: Array, progress: ShareDone | None = None) -> list[Response]:
        """Return the responses of n lanes.

        Parameters
        ----------
        runs : (n,) int array
            Number of the run that each lane is of.
        normals : (n, k) array
        """
        starts = [0, *(np.flatnonzero(np.diff(runs)) + 1).tolist(), len(runs)] if len(runs) else []
        parts = [slice(low, high) for low, high in pairwise(starts)]
        times = [self.watched[number].times for number in runs.tolist()]
        found = follow(
            [run_with(self.watched[runs[part.start]].run, normals[part]) for part in parts],
            [np.nan],
            horizon=np.array([at.max(initial=0.0) + 1.0 for at in times]),
            refinement=self._refinement,
            record=True,
            tolerance=TOLERANCE,
            stepper=self._stepper,
            family=runs,
            is_valid=np.ones(len(runs), dtype=bool),
            progress=progress,
        )
        self.lanes_computed += found.computed
        return [_response(found, lane, at) for lane, at in enumerate(times)]


def _with_derivatives(responses: list[Response]) -> Response:
    """Return the first response with derivatives, from it and from one with each unknown moved by STEP."""
    temperatures = np.stack([response.temperature for response in responses], axis=-1)
    slopes = Neighbours(np.full(len(responses) - 1, STEP)).slopes(temperatures)
    return Response(responses[0].temperature, responses[0].slope, np.nan_to_num(slopes))


def _response(found: Followed, lane: int, times: Array) -> Response:
    """Return what the contents of a lane did at some times."""
    if not found.is_good[lane]:
        return Response(np.full(len(times), np.nan), np.full(len(times), np.nan))
    before, after = np.maximum(times - SLOPE_STEP, 0.0), np.minimum(times + SLOPE_STEP, found.end_time[lane])
    here, early, late = np.split(found.temperature(lane, np.concatenate([times, before, after])), 3)
    return Response(here, (late - early) / np.maximum(after - before, 1.0))


def run_with(run: Run, normals: Array) -> Lanes:
    """Return a run with its unknowns set, n times.

    Parameters
    ----------
    run : Run
    normals : (n, 20) array
        Standard normals in the order of NETWORK_NAMES.
    """
    return perturbed_runs(run.container_at_run, _with_known_room(run), _physical_values(run, normals), len(normals))


def _physical_values(run: Run, normals: Array) -> dict[str, Array]:
    values = {name: prior.values(normals[:, k]) for k, (name, prior) in enumerate(PRIORS.items())}
    fill, start, room = (normals[:, NETWORK_NAMES.index(name)] for name in ("fill", "start", "room"))
    values["fill"] = np.exp((run.fill_spread if np.isfinite(run.fill_spread) else UNKNOWN_FILL) * fill)
    values["start"] = (run.start_spread if np.isfinite(run.start_spread) else UNKNOWN_START) * start
    values["room"] = run.room_spread * room if np.isfinite(run.room_spread) else _unmeasured_room(room)
    return values


def _unmeasured_room(standard_normal: Array) -> Array:
    """Return how far an unmeasured room is from the middle of its range; it never leaves the range. [K]"""
    from scipy.special import ndtr

    return (WARMEST_ROOM - COLDEST_ROOM) * (ndtr(standard_normal) - 0.5)


def _with_known_room(run: Run) -> Scenario:
    if np.isfinite(run.room_spread):
        return run.scenario
    middle = 0.5 * (COLDEST_ROOM + WARMEST_ROOM)
    return run.scenario.model_copy(update={"room": middle, "room_profile": None})
