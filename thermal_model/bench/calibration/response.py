"""What the model says a bench would have shown: temperatures of the contents at the times somebody looked.

Runs whose networks have the same nodes and links, and copies of them with one unknown moved, go through the engine as
lanes of one batch; a derivative is the difference of two lanes that took the same steps.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from pydantic import BaseModel

from geometries.numeric import Array
from thermal_model.assemble.build import assemble
from thermal_model.bench.calibration.coordinates import NETWORK_NAMES
from thermal_model.bench.records import Run
from thermal_model.scenario import Scenario, contents_kind
from thermal_model.solver.engine import MakeStepper, Outcome, Trajectory, integrate
from thermal_model.solver.network import Contents, Network
from thermal_model.solver.rates import contents_temperature
from thermal_model.solver.scatter import Indices
from thermal_model.solver.shared_steps import shared_steps
from thermal_model.solver.steppers import stepper_for
from thermal_model.solver.stepping import Tolerance
from thermal_model.uncertainty import PRIORS, perturbed_container, perturbed_scenario
from thermal_model.unknowns import UNKNOWN_NAMES, Unknowns

LANES_AT_ONCE = 1024

EXPECTED_ROUNDS = 4
"""Times that a fit asks for derivatives: tells whether a compiled stepper is worth its start."""

STEP = 0.05
"""Difference of a standard normal for a derivative [-]: a tenth of what a reading's noise blurs, rounding apart."""

TOLERANCE = Tolerance(contents=3e-4, others=0.1)
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

    @cached_property
    def _groups(self) -> list[Indices]:
        """Numbers of the runs that can share a network."""
        members: dict[str, list[int]] = {}
        for number, item in enumerate(self.watched):
            members.setdefault(_kind_of(item.run), []).append(number)
        return [np.array(numbers) for numbers in members.values()]

    def values(self, normals: Array, progress: Callable[[float], None] | None = None) -> list[Response]:
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
        progress: Callable[[float], None] | None = None,
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
        moves = STEP * np.vstack([np.zeros(count), np.eye(count)])
        moved = (normals[wanted, None] + moves).reshape(-1, count)
        responses = self.lanes(np.repeat(wanted, len(moves)), moved, progress)
        return [_with_derivatives(responses[k : k + len(moves)]) for k in range(0, len(responses), len(moves))]

    def lanes(self, runs: Indices, normals: Array, progress: Callable[[float], None] | None = None) -> list[Response]:
        """Return the responses of n lanes.

        Parameters
        ----------
        runs : (n,) int array
            Number of the run that each lane is of.
        normals : (n, 20) array
        """
        found: dict[int, Response] = {}
        for group in self._groups:
            here = np.flatnonzero(np.isin(runs, group))
            for start in range(0, len(here), LANES_AT_ONCE):
                some = here[start : start + LANES_AT_ONCE]
                found |= zip(some.tolist(), self._batch(runs[some], normals[some]), strict=True)
                if progress is not None:
                    progress(len(found) / len(runs))
        return [found[lane] for lane in range(len(runs))]

    def _batch(self, runs: Indices, normals: Array) -> list[Response]:
        """Return the responses of lanes of one kind; one whose network is that of its run's first lane is not run."""
        whole = network_of([self.watched[number].run for number in runs], normals, self._refinement)
        _, firsts, of_run = np.unique(runs, return_index=True, return_inverse=True)
        leader = firsts[of_run]
        is_own = whole.differs_from(leader) | (leader == np.arange(len(runs)))
        own = np.flatnonzero(is_own)
        found = dict(zip(own.tolist(), self._computed(whole.take_lanes(own), runs[own]), strict=True))
        return [found[lane if is_own[lane] else int(leader[lane])] for lane in range(len(runs))]

    def _computed(self, network: Network, runs: Indices) -> list[Response]:
        items = [self.watched[number] for number in runs]
        horizon = np.array([item.times.max(initial=0.0) + 1.0 for item in items])
        trajectory = integrate(
            network,
            np.full((1, len(items)), np.nan),
            horizon,
            tolerance=TOLERANCE,
            record=True,
            stepper=shared_steps(self._stepper, runs),
        )
        self.lanes_computed += len(runs)
        return _responses(network.contents, trajectory, [item.times for item in items])


def _with_derivatives(responses: list[Response]) -> Response:
    """Return the first response with derivatives, from it and from one with each unknown moved by STEP."""
    base, *others = responses
    moved = np.stack([(other.temperature - base.temperature) / STEP for other in others], axis=-1)
    return Response(base.temperature, base.slope, np.nan_to_num(moved))


def _responses(contents: Contents, trajectory: Trajectory, times: list[Array]) -> list[Response]:
    """Return what the contents of every lane did at its own times."""
    ends = trajectory.end_time
    before = [np.maximum(at - SLOPE_STEP, 0.0) for at in times]
    after = [np.minimum(at + SLOPE_STEP, end) for at, end in zip(times, ends, strict=True)]
    asked = [np.concatenate(parts) for parts in zip(times, before, after, strict=True)]
    enthalpies = [trajectory.enthalpy_at(lane, at) for lane, at in enumerate(asked)]
    counts = [len(at) for at in asked]
    capacity = np.repeat(np.broadcast_to(contents.heat_capacity, len(times)), counts)
    flat = contents_temperature(replace(contents, heat_capacity=capacity), np.concatenate(enthalpies))
    found = []
    for lane, temperatures in enumerate(np.split(np.asarray(flat), np.cumsum(counts)[:-1])):
        here, early, late = np.split(temperatures, 3)
        slope = (late - early) / np.maximum(after[lane] - before[lane], 1.0)
        lost = np.where(trajectory.outcome[lane] == Outcome.FAILED, np.nan, 0.0)
        found.append(Response(here + lost, slope + lost))
    return found


def network_of(runs: Sequence[Run], normals: Array, refinement: int = 1) -> Network:
    """Return the network of n lanes, each a run with its unknowns set.

    Parameters
    ----------
    runs : sequence of n Run
        All of one kind.
    normals : (n, 20) array
        Standard normals in the order of NETWORK_NAMES.
    """
    container = _stacked([run.container_at_run for run in runs])
    scenario = _stacked([_with_known_room(run) for run in runs])
    values = _physical_values(runs, normals)
    container = perturbed_container(container, values)
    scenario = perturbed_scenario(container, scenario, values)
    kind = contents_kind(scenario.contents)
    scenario = scenario.model_copy(update={"start": np.clip(scenario.start, kind.coldest, kind.hottest)})
    unknowns = Unknowns(**{name: values[name] for name in UNKNOWN_NAMES})
    return assemble(container, scenario, unknowns, lanes=len(runs), refinement=refinement)


def _physical_values(runs: Sequence[Run], normals: Array) -> dict[str, Array]:
    values = {name: prior.values(normals[:, k]) for k, (name, prior) in enumerate(PRIORS.items())}
    fill, start, room = (normals[:, NETWORK_NAMES.index(name)] for name in ("fill", "start", "room"))
    spreads = [np.array([getattr(run, f"{what}_spread") for run in runs]) for what in ("fill", "start", "room")]
    values["fill"] = np.exp(np.where(np.isfinite(spreads[0]), spreads[0], UNKNOWN_FILL) * fill)
    values["start"] = np.where(np.isfinite(spreads[1]), spreads[1], UNKNOWN_START) * start
    measured = np.where(np.isfinite(spreads[2]), spreads[2], 0.0) * room
    values["room"] = np.where(np.isfinite(spreads[2]), measured, _unmeasured_room(room))
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


_LANE_FIELDS = {"fill", "start", "room", "shift"}
"""Fields of a scenario that may differ between lanes; other numbers shape the phases of a run."""


def _kind_of(run: Run) -> str:
    """Return what two runs must have in common to share a network."""
    container, scenario = run.container_at_run, _with_known_room(run)
    return repr((_skeleton(container, None), _skeleton(scenario, _LANE_FIELDS)))


def _skeleton(value: Any, lane_fields: set[str] | None, field: str = "") -> Any:
    if isinstance(value, BaseModel):
        return {name: _skeleton(inner, lane_fields, name) for name, inner in _fields(value)}
    if isinstance(value, tuple):
        return [_skeleton(inner, lane_fields) for inner in value]
    if isinstance(value, float) and (lane_fields is None or field in lane_fields):
        return "number"
    return repr(value)


def _fields(record: BaseModel) -> Iterator[tuple[str, Any]]:
    for name in type(record).model_fields:
        if name not in ("name", "summary"):
            yield name, getattr(record, name)


def _stacked(records: list[Any]) -> Any:
    """Return one record whose numbers are arrays of lanes where they differ."""
    first = records[0]
    if all(record is first for record in records):
        return first
    if isinstance(first, BaseModel):
        update = {name: _stacked([getattr(record, name) for record in records]) for name, _ in _fields(first)}
        return first.model_copy(update=update)
    if isinstance(first, tuple):
        return tuple(_stacked(list(items)) for items in zip(*records, strict=True))
    if isinstance(first, float) and any(record != first for record in records):
        return np.array(records)
    return first
