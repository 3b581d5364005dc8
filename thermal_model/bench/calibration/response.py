"""What the model says a bench would have shown: temperatures of the contents at the times somebody looked.

Runs whose networks have the same nodes and links, and copies of them with one unknown moved, go through the engine as
lanes of one batch; a derivative is the difference of two lanes that took the same steps.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from geometries.numeric import Array
from thermal_model.assemble.lanes import Lanes
from thermal_model.bench.calibration.coordinates import NETWORK_NAMES
from thermal_model.bench.records import Run
from thermal_model.follow import Followed, follow
from thermal_model.gradients import Neighbours
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

    def with_derivatives(self, normals: Array, runs: Indices, progress: ShareDone | None = None) -> list[Response]:
        """Return responses with their derivatives.

        Parameters
        ----------
        normals : (r, 20) array
            Of each run of the bench, in the order of NETWORK_NAMES. [-]
        runs : (k,) int array
            Numbers of the runs that are wanted.
        progress : callable, optional
        """
        neighbours = Neighbours(np.full(len(NETWORK_NAMES), STEP))
        moved = normals[runs, None] + neighbours.moves
        lanes = moved.shape[1]
        responses = self.lanes(np.repeat(runs, lanes), moved.reshape(-1, len(NETWORK_NAMES)), progress)
        found = []
        for k in range(0, len(responses), lanes):
            temperatures = np.stack([response.temperature for response in responses[k : k + lanes]], axis=-1)
            found.append(replace(responses[k], by_normal=np.nan_to_num(neighbours.slopes(temperatures))))
        return found

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
    from scipy.special import ndtr

    scenario = run.scenario
    values = {name: prior.values(normals[:, k]) for k, (name, prior) in enumerate(PRIORS.items())}
    fill, start, room = (normals[:, NETWORK_NAMES.index(name)] for name in ("fill", "start", "room"))
    values["fill"] = np.exp(fill_spread(run) * fill)
    values["start"] = start_spread(run) * start
    if np.isfinite(run.room_spread):
        values["room"] = run.room_spread * room
    else:  # it never leaves its range
        scenario = scenario.model_copy(update={"room": 0.5 * (COLDEST_ROOM + WARMEST_ROOM), "room_profile": None})
        values["room"] = (WARMEST_ROOM - COLDEST_ROOM) * (ndtr(room) - 0.5)
    return perturbed_runs(run.container_at_run, scenario, values, len(normals))


def fill_spread(run: Run) -> float:
    """Return the relative standard deviation of a run's fill, measured or not. [-]"""
    return run.fill_spread if np.isfinite(run.fill_spread) else UNKNOWN_FILL


def start_spread(run: Run) -> float:
    """Return the standard deviation of a run's start, measured or not. [K]"""
    return run.start_spread if np.isfinite(run.start_spread) else UNKNOWN_START
