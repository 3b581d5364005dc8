"""From runs to what became of them: those that share a network are its lanes, whatever container they are of."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from threading import Lock

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.container import Container
from geometries.errors import InputError
from geometries.numeric import Array, Numeric
from thermal_model.assemble.build import assemble
from thermal_model.assemble.checks import is_possible
from thermal_model.assemble.contents import contents_of, start_enthalpy
from thermal_model.assemble.lanes import Lanes, joined_alike
from thermal_model.assemble.timeline import MOST_OPENINGS
from thermal_model.scenario import Scenario
from thermal_model.solver.cores import are_free, cores, side_by_side
from thermal_model.solver.engine import MakeStepper, Outcome, Trajectory, integrate
from thermal_model.solver.network import CONTENTS, Contents
from thermal_model.solver.rates import contents_enthalpy, contents_temperature
from thermal_model.solver.scatter import Indices
from thermal_model.solver.shared_steps import MakeShared
from thermal_model.solver.steppers import stepper_for
from thermal_model.solver.stepping import PlainStepper, Tolerance
from thermal_model.work_done import ShareDone

DEFAULT_HORIZON = 7.0 * 86400.0
"""Longest time a run is followed [s]; a limit not reached by then counts as not reached."""

LANES_AT_ONCE = 2048
"""Lanes in one network: enough to spread the cost of numpy's calls, few enough for the processor's cache."""

LANES_PER_CORE, MOST_UNEVEN = 64, 1.25
"""Batches are followed side by side with so many lanes a core or more, and none larger than a core's share by more than
that factor: else the steps of each are shared out."""

GAVE_UP = (
    "the computation gave up on this container under these conditions; change a size or a condition a little, "
    "and please report the case"
)


@dataclass(frozen=True)
class Followed:
    """What became of n runs.

    Attributes
    ----------
    hold_times : (m, n) array
        Time to each of m limits; NaN where it is not reached or the run failed: `outcome` says which. [s]
    outcome : (n,) int array
        Members of Outcome.
    end_time : (n,) array
        How far each run was followed. [s]
    final_temperature : (n,) array
        Of the contents, at that time. [K]
    evaporated : (n,) array
        From open contents. [kg]
    heat_to_room : (n,) array
        Since the start, a preheat included. [J]
    balance_error : (n,) array
        |stored + lost - started|, relative. [-]
    known_until : (n,) array
        Up to when the openings are listed. [s]
    curves : tuple of n FollowedCurve
        Empty unless recorded; None for a run that can't be.
    computed : int
        Runs that went through the engine: one that differs in nothing from the first of its family did not.
    containers : tuple of (str, int)
        Names, and how many runs one after the other are of each.
    """

    hold_times: Array
    outcome: NDArray[np.int64]
    end_time: Array
    final_temperature: Array
    evaporated: Array
    heat_to_room: Array
    balance_error: Array
    known_until: Array
    curves: "tuple[FollowedCurve | None, ...]"
    computed: int
    containers: tuple[tuple[str, int], ...]

    @property
    def is_good(self) -> NDArray[np.bool_]:
        """Whether each run could be computed, (n,)."""
        return self.outcome <= Outcome.NOT_REACHED

    @property
    def first(self) -> "Followed":
        """The first run alone."""
        numbers = {name: values[..., :1] for name, values in vars(self).items() if isinstance(values, np.ndarray)}
        name, _ = self.containers[0]
        return replace(self, **numbers, curves=self.curves[:1], computed=1, containers=((name, 1),))

    def temperature(self, run: int, times: Array) -> Array:
        """Return the contents' temperature at times within a recorded run. [K]"""
        curve = self.curves[run]
        assert curve is not None
        return curve.temperature(times)

    def stretched_temperatures(self, runs: Indices, times: Array, stretch: Array) -> Array:
        """Return the temperatures, (r, k), of recorded runs whose times are multiplied by `stretch`, (n,). [K]

        Past its end a run keeps the temperature it ended with.
        """
        slowed = [(run, np.minimum(times / stretch[run], self.end_time[run])) for run in runs.tolist()]
        return np.stack([self.temperature(run, at) for run, at in slowed])

    def failure(self, run: int) -> InputError:
        """Return why a run that is not good could not be computed."""
        if self.end_time[run] >= self.known_until[run]:
            message = f"more than {MOST_OPENINGS} before the run is over; space them, or take a limit that comes sooner"
            return InputError(message, "openings")
        return InputError(GAVE_UP, source=self._container_of(run))

    def _container_of(self, run: int) -> str:
        ends = np.cumsum([count for _, count in self.containers])
        return self.containers[int(np.searchsorted(ends, run, side="right"))][0]


@dataclass(frozen=True)
class FollowedCurve:
    """A recorded run: one lane of a trajectory."""

    contents: Contents
    trajectory: Trajectory
    lane: int

    def enthalpy(self, times: Array) -> Array:
        """Return the contents' specific enthalpy at times within the run. [J kg-1]"""
        return self.trajectory.enthalpy_at(self.lane, times)

    @property
    def final_enthalpy(self) -> float:
        """Of the contents at the end of the run. [J kg-1]"""
        return float(self.trajectory.final_state[CONTENTS, self.lane])

    def temperature(self, times: Array) -> Array:
        """Return the contents' temperature at times within the run. [K]"""
        return np.asarray(contents_temperature(self.contents, self.enthalpy(times)))


def follow(
    runs: Lanes | Sequence[Lanes],
    limits: ArrayLike,
    *,
    horizon: float | Array = DEFAULT_HORIZON,
    at_least: float = 0.0,
    refinement: int = 1,
    record: bool = False,
    tolerance: Tolerance | None = None,
    stepper: MakeStepper | None = None,
    family: Indices | None = None,
    is_valid: NDArray[np.bool_] | None = None,
    progress: ShareDone | None = None,
) -> Followed:
    """Follow runs until each has crossed every limit, or to the horizon.

    Parameters
    ----------
    runs : Lanes or sequence of Lanes
        n runs in all, one after the other.
    limits : (m,) or (m, n) array
        Limit temperatures, NaN for none. [K]
    horizon : float or (n,) array
        Longest time to follow a run. [s]
    at_least : float
        Follow every run this long, even if it has crossed its last limit before. [s]
    refinement : int
        Multiplies the cells along walls and in the lid.
    record : bool
        Keep the curves.
    tolerance : Tolerance, optional
    stepper : callable, optional
        What the engine steps with; left out: what suits the number of runs.
    family : (n,) int array, optional
        Runs of one number, which stand together, take the same steps, so that their error cancels in a difference.
    is_valid : (n,) bool array, optional
        Runs that can be at all, as `assemble.checks` finds if left out; the outcome of the others is INVALID.
    progress : callable, optional
        Called with the share of the work done.

    Notes
    -----
    A run's results do not depend on those followed beside it, but for those of its family.
    """
    parts = [runs] if isinstance(runs, Lanes) else list(runs)
    count = sum(part.count for part in parts)
    none = np.zeros(0, dtype=bool)
    valid = np.concatenate([none, *map(is_possible, parts)]) if is_valid is None else is_valid
    marks = limits_of_lanes(limits, count)
    horizons = np.broadcast_to(np.asarray(horizon, dtype=float), (count,))
    found = _Found(len(marks), tuple((part.container.name, part.count) for part in parts), progress)
    how = _How(at_least, refinement, record, tolerance, stepper or stepper_for(count))
    possible = np.flatnonzero(valid)
    batches = []
    for kept, lanes in joined_alike(_possible_parts(parts, valid)):
        places = possible[kept]
        families = None if family is None else family[places]
        for block in _blocks(len(places), families):
            here, of_block = places[block], None if families is None else families[block]
            some = lanes.take(np.arange(len(places))[block])
            batches.append(_Batch(here, some, marks[:, here], horizons[here], of_block))
    _follow_all(batches, how, found)
    return found.finished()


def _follow_all(batches: "Sequence[_Batch]", how: "_How", found: "_Found") -> None:
    """Follow batches, side by side where that keeps all cores busy: the kernel lets go of the interpreter's lock.

    Else one after the other, each on all cores.
    """
    sizes = [len(batch.places) for batch in batches]
    are_many = sum(sizes) >= LANES_PER_CORE * cores() and max(sizes, default=0) * cores() <= MOST_UNEVEN * sum(sizes)
    if not are_many or not are_free() or how.stepper is PlainStepper:
        tell = found.tell if found.is_told else None
        for batch in batches:
            found.add(batch, _followed(batch, how, tell))
        return
    works = [partial(_followed, batch, how, found.tell) for batch in batches]
    for batch, block in zip(batches, side_by_side(works, found.give_up), strict=True):
        found.add(batch, block)


def _possible_parts(parts: Sequence[Lanes], is_valid: NDArray[np.bool_]) -> list[Lanes]:
    """Return the runs that can be, part by part: numbers of others may be none to any formula."""
    if not parts:
        return []
    ends = np.cumsum([part.count for part in parts])[:-1]
    kept = zip(parts, np.split(is_valid, ends), strict=True)
    return [part if valid.all() else part.take(np.flatnonzero(valid)) for part, valid in kept]


def limits_of_lanes(limits: ArrayLike, lanes: int) -> Array:
    """Return the limits of each of n lanes, (m, n), from (m,) or (m, n) limits."""
    marks = np.asarray(limits, dtype=float)
    return np.broadcast_to(marks if marks.ndim == 2 else marks[:, None], (len(marks), lanes))


def limit_enthalpies(scenario: Scenario, limits: ArrayLike, lanes: int) -> Array:
    """Return the contents' specific enthalpy at each limit, (m, n), from (m,) or (m, n) limits [K]. [J kg-1]"""
    return np.asarray(contents_enthalpy(contents_of(scenario), limits_of_lanes(limits, lanes)))


def reachable_limits(container: Container, scenario: Scenario, limits: ArrayLike, lanes: int) -> Array:
    """Return what `limit_enthalpies` does, NaN where a limit is the room itself: contents only come near it. [J kg-1]

    Rounding would have them touch it after days. Open contents may cross it, and so may contents in the sun.
    """
    levels = limit_enthalpies(scenario, limits, lanes)
    if container.lid is not None and not scenario.openings and scenario.room_profile is None:
        away = np.abs(limits_of_lanes(limits, lanes) - scenario.room)
        levels[(away < 1e-3) & np.equal(scenario.sunlight, 0.0)] = np.nan
    return levels


@dataclass(frozen=True)
class _How:
    """How runs are followed, whatever they are."""

    at_least: float
    refinement: int
    record: bool
    tolerance: Tolerance | None
    stepper: MakeStepper


@dataclass(frozen=True)
class _Batch:
    """Runs that share a network: their places among all, limits (m, n) [K], horizons [s], and families if any."""

    places: Indices
    lanes: Lanes
    limits: Array
    horizon: Array
    families: Indices | None


@dataclass(frozen=True)
class _Block:
    """What became of the lanes of one network."""

    trajectory: Trajectory
    contents: Contents
    known_until: Numeric
    hold_times: Array
    outcome: NDArray[np.int64]
    source: Indices
    """Lane of the trajectory that each lane's results are."""


def _blocks(count: int, families: Indices | None) -> Iterator[slice]:
    """Yield stretches of lanes, LANES_AT_ONCE at most unless one family is larger."""
    starts = np.arange(count) if families is None else np.flatnonzero(np.diff(families, prepend=-1))
    first = 0
    for start, end in zip(starts.tolist(), [*starts[1:].tolist(), count], strict=False):
        if end - first > LANES_AT_ONCE and start > first:
            yield slice(first, start)
            first = start
    if first < count:
        yield slice(first, count)


def _followed(batch: _Batch, how: _How, tell: "Callable[[_Batch, float], None] | None") -> _Block:
    lanes, horizon, families = batch.lanes, batch.horizon, batch.families
    network = assemble(lanes.container, lanes.scenario, lanes.unknowns, lanes=lanes.count, refinement=how.refinement)
    levels = reachable_limits(lanes.container, lanes.scenario, batch.limits, lanes.count)
    stepper, source = how.stepper, np.arange(lanes.count)
    if families is not None:
        _, firsts, of_family = np.unique(families, return_index=True, return_inverse=True)
        leader = firsts[of_family]
        own = np.flatnonzero(network.differs_from(leader) | (leader == source) | (horizon != horizon[leader]))
        source = np.searchsorted(own, np.where(np.isin(source, own), source, leader))
        network, levels, horizon = network.take_lanes(own), levels[:, own], horizon[own]
        stepper = MakeShared(stepper, families[own])
    trajectory = integrate(
        network,
        levels,
        horizon,
        tolerance=how.tolerance,
        at_least=how.at_least,
        record=how.record,
        stepper=stepper,
        progress=None if tell is None else partial(tell, batch),
    )
    times = trajectory.crossing_times[:, source]
    outcome = trajectory.outcome[source]
    times = np.where(outcome == Outcome.FAILED, np.nan, _with_past(lanes, batch.limits, times))
    reached = (outcome == Outcome.NOT_REACHED) & np.isfinite(times).all(axis=0)
    return _Block(
        trajectory, network.contents, network.known_until, times, np.where(reached, Outcome.REACHED, outcome), source
    )


def _with_past(lanes: Lanes, limits: Array, times: Array) -> Array:
    """Return hold times with 0 where contents start at or beyond a limit, on their way to the room and away from it.

    So it is with draws about a start close to the limit. Sunlight may still bring contents back up to it.
    """
    scenario, count = lanes.scenario, lanes.count
    start, marks = start_enthalpy(lanes.container, scenario), limit_enthalpies(scenario, limits, count)
    rooms = np.atleast_2d(scenario.room)
    if scenario.room_profile is not None:
        rooms = np.asarray(scenario.room_profile.temperatures)[:, None] + scenario.room_profile.shift
    ends = limit_enthalpies(scenario, rooms, count)
    is_falling = np.all(ends <= start, axis=0) & (start <= marks) & np.equal(scenario.sunlight, 0.0)
    is_rising = np.all(ends >= start, axis=0) & (start >= marks)
    is_still = np.all(ends == start, axis=0)
    return np.where(np.isnan(times) & (is_falling | is_rising) & ~is_still, 0.0, times)


_NUMBERS = ("end_time", "final_temperature", "evaporated", "heat_to_room", "balance_error", "known_until")
"""What is told of each run besides hold times and outcome, in the order of `_Found.add`."""


class _GivenUpError(Exception):
    """Ends a batch whose results nobody waits for."""


class _Found:
    """Results as they come in, by run."""

    def __init__(self, limits: int, containers: tuple[tuple[str, int], ...], progress: ShareDone | None) -> None:
        self.containers, count = containers, sum(count for _, count in containers)
        self.hold_times = np.full((limits, count), np.nan)
        self.outcome = np.full(count, Outcome.INVALID, dtype=np.int64)
        self.numbers = {name: np.full(count, np.nan) for name in _NUMBERS}
        self.curves: list[FollowedCurve | None] = [None] * count
        self.computed = 0
        self._is_given_up = False
        self._progress, self._count, self._lock = progress, max(count, 1), Lock()
        self._done: dict[int, float] = {}
        """Runs done of each batch, by its first run."""

    def give_up(self) -> None:
        """Let every batch in hand end where it is told of next."""
        self._is_given_up = True

    @property
    def is_told(self) -> bool:
        """Whether someone is told of the share that is done."""
        return self._progress is not None

    def tell(self, batch: _Batch, share: float) -> None:
        """Pass on what share of a batch is done; end the work on it if all is given up."""
        if self._is_given_up:
            raise _GivenUpError
        if self._progress is not None:
            with self._lock:  # one at a time
                self._done[int(batch.places[0])] = share * len(batch.places)
                self._progress(sum(self._done.values()) / self._count)

    def add(self, batch: _Batch, block: _Block) -> None:
        places, trajectory, source = batch.places, block.trajectory, block.source
        self.hold_times[:, places], self.outcome[places] = block.hold_times, block.outcome
        end = np.asarray(contents_temperature(block.contents, trajectory.final_state[CONTENTS]))
        known_until = np.broadcast_to(block.known_until, trajectory.end_time.shape)
        told = [trajectory.end_time, end, trajectory.evaporated, trajectory.final_state[-1]]
        told += [trajectory.balance_error, known_until]
        for name, values in zip(_NUMBERS, told, strict=True):
            self.numbers[name][places] = values[source]
        self.computed += len(trajectory.end_time)
        if trajectory.times:
            capacity = np.broadcast_to(block.contents.heat_capacity, trajectory.end_time.shape)
            for place, lane in zip(places.tolist(), source.tolist(), strict=True):
                contents = replace(block.contents, heat_capacity=float(capacity[lane]))
                self.curves[place] = FollowedCurve(contents, trajectory, lane)
        self.tell(batch, 1.0)

    def finished(self) -> Followed:
        curves = tuple(self.curves)
        return Followed(
            self.hold_times,
            self.outcome,
            curves=curves,
            computed=self.computed,
            containers=self.containers,
            **self.numbers,
        )
