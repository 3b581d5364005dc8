"""Hold times of many designs: a plan of them, worked off in chunks that a journal keeps.

A design's result does not depend on those computed beside it, so neither on the size of a chunk, nor on where a run
was interrupted, nor on who computes.
"""

import pickle
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cache, lru_cache, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.container import Container
from geometries.errors import InputError, InputProblem
from geometries.numeric import Array
from geometries.overrides import with_values
from geometries.ranges import Range
from geometries.validation import validated
from thermal_model.batch import DesignOutcome, Table, evaluate, with_kinds, with_numbers
from thermal_model.prediction import DEFAULT_HORIZON
from thermal_model.scenario import Scenario
from thermal_model.solver.scatter import Indices
from thermal_model.solver.steppers import stepper_of_study
from thermal_model.solver.stepping import PlainStepper
from thermal_model.study.axes import Axis
from thermal_model.study.crew import Crew, Part
from thermal_model.study.journal import Journal, Results
from thermal_model.study.ranges import SCENARIO
from thermal_model.study.sampling import Plan, Rows
from thermal_model.study.sampling_kind import Sampling
from thermal_model.unknowns import GUESSED, Unknowns
from thermal_model.version import version

BLOCK, PLAIN_BLOCK = 512, 128
"""Most designs computed together, by the compiled stepper and by the plain one: a chunk is cut into such blocks."""

MOST_DESIGNS = 100_000_000

_YEAR = 365.25 * 86400.0

_TRIAL = 64
"""Designs computed to learn how fast this machine is."""

Progress = Callable[[int], None]


@dataclass(frozen=True)
class Sweep:
    """What is computed.

    Attributes
    ----------
    container : Container
    scenario : Scenario
    limits : tuple of float
        Limit temperatures. [K]
    plan : Plan
    horizon : float
        Longest time a design is followed. [s]
    unknowns : Unknowns
        Of the container.
    """

    container: Container
    scenario: Scenario
    limits: tuple[float, ...]
    plan: Plan
    horizon: float = DEFAULT_HORIZON
    unknowns: Unknowns = GUESSED

    def inputs(self) -> dict[str, Any]:
        """Return all that decides the results, as a JSON object."""
        return {
            "version": version(),
            "libraries": libraries(),
            "design": self.container.model_dump(mode="json", exclude_unset=True),
            "scenario": self.scenario.model_dump(mode="json"),
            "unknowns": asdict(self.unknowns),
            "until_K": list(self.limits),
            "horizon_s": self.horizon,
            "vary": {axis.path: axis_document(axis) for axis in self.plan.axes},
            "sampling": self.plan.sampling.value,
            "designs": self.plan.count,
            "seed": self.plan.seed,
        }

    @property
    def is_compiled(self) -> bool:
        """Whether the compiled stepper computes it: by its size alone, so that it ends the same on every machine."""
        return stepper_of_study(self.plan.count) is not PlainStepper

    def blocks(self, start: int, stop: int) -> Iterator[Part]:
        """Yield what is computed together of designs by number."""
        size = BLOCK if self.is_compiled else min(PLAIN_BLOCK, BLOCK)
        for low in range(start, stop, size):
            yield low, min(low + size, stop)

    def block(self, start: int, stop: int, progress: Progress | None = None) -> Results:
        """Return the results of designs by number, `start` up to but without `stop`."""
        rows = self.plan.rows(start, stop)
        found = _Collected(len(self.limits), stop - start, progress)
        for members, axes in _alike(self.plan, rows):
            _evaluate_alike(self, rows, members, axes, found)
        return found.finished()

    def message(self, row: int) -> str:
        """Return in a line, with its figures, why a design is not possible."""
        rows, found = self.plan.rows(row, row + 1), _Collected(len(self.limits), 1)
        for members, axes in _alike(self.plan, rows):
            _evaluate_alike(self, rows, members, axes, found)
        return next(iter(found.lines), "")


@cache
def libraries() -> dict[str, str]:
    """Return the versions of the libraries that a result may depend on to the last bit."""
    from importlib.metadata import version as version_of

    return {name: version_of(name) for name in ("numpy", "scipy", "numba")}


def axis_document(axis: Axis) -> dict[str, Any]:
    """Return what an axis varies, as a JSON object."""
    variation = axis.variation
    if isinstance(variation, Range):
        ends = axis.shown(np.array([variation.low, variation.high])).tolist()
        return {"low": ends[0], "high": ends[1], "count": variation.count, "unit": axis.unit}
    if axis.is_number:
        return {"values": axis.shown(axis.points).tolist(), "unit": axis.unit}
    return {"values": list(axis.labels), "as_in_a_file": list(axis.documents)}


# --- the work -------------------------------------------------------------------------------------------------


def run(
    sweep: Sweep,
    journal: Journal,
    *,
    chunk: int = BLOCK,
    progress: Progress | None = None,
    crew: Crew | None = None,
) -> None:
    """Compute what a journal does not have yet, chunk by chunk.

    Parameters
    ----------
    sweep : Sweep
    journal : Journal
        Of the same inputs; written from this thread alone.
    chunk : int
        Designs between two writes.
    progress : callable, optional
        Called with the number of designs done since the last call, at first with those done before.
    crew : Crew, optional
        Who computes; left out: this thread. The results do not depend on it, nor on the order it works in.

    Raises
    ------
    InputError
        If a chunk can't be written, or the crew can't go on.
    """
    if progress is not None:
        progress(sum(stop - start for start, stop in journal.chunks()))
    chunks = list(journal.missing(sweep.plan.count, chunk))
    for start, results in _whole_chunks(sweep, chunks, _finished_blocks(sweep, chunks, crew, progress)):
        journal.keep(start, results)


def _finished_blocks(
    sweep: Sweep, chunks: list[Part], crew: Crew | None, progress: Progress | None
) -> Iterator[tuple[Part, Results]]:
    """Yield the blocks of chunks as they are finished."""
    blocks = (block for chunk in chunks for block in sweep.blocks(*chunk))
    if crew is None:
        for block in blocks:
            yield block, sweep.block(*block, progress)
        return
    compute = partial(_block_of, pickle.dumps(sweep), version(), libraries())
    for block, results in crew.finished(compute, blocks):
        if progress is not None:
            progress(block[1] - block[0])
        yield block, results


def _block_of(sweep: bytes, wanted_version: str, wanted: Mapping[str, str], start: int, stop: int) -> Results:
    """Return a block, wherever this runs; other versions would mix other results among those of the rest."""
    here = {"holdtime": version()} | libraries()
    for name, wants in {"holdtime": wanted_version, **wanted}.items():
        if here[name] != wants:
            raise InputError(f"a worker has {name} {here[name]}, this command {wants}; install the same on both")
    return _unpacked(sweep).block(start, stop)


@lru_cache(maxsize=1)
def _unpacked(sweep: bytes) -> Sweep:
    """Return a sweep, the same for all its blocks: what its plan has drawn serves the next."""
    unpacked: Sweep = pickle.loads(sweep)
    return unpacked


def _whole_chunks(
    sweep: Sweep, chunks: list[Part], finished: Iterable[tuple[Part, Results]]
) -> Iterator[tuple[int, Results]]:
    """Yield first design and results of a chunk as soon as its last block is there."""
    chunk_of = {block: chunk for chunk in chunks for block in sweep.blocks(*chunk)}
    there: dict[Part, dict[Part, Results]] = {}
    for block, results in finished:
        chunk = chunk_of[block]
        parts = there.setdefault(chunk, {})
        parts[block] = results
        if sum(stop - start for start, stop in parts) == chunk[1] - chunk[0]:
            yield chunk[0], joined([parts[part] for part in sorted(parts)])
            del there[chunk]


def joined(parts: list[Results]) -> Results:
    """Return consecutive results as one."""
    reasons: dict[str, int] = {}
    numbers = []
    for part in parts:
        place = [reasons.setdefault(reason, len(reasons)) for reason in part.reasons]
        numbers.append(np.where(part.reason >= 0, np.array([*place, -1])[part.reason], -1).astype(np.int32))
    return Results(
        hold_times=np.concatenate([part.hold_times for part in parts], axis=1),
        outcome=np.concatenate([part.outcome for part in parts]),
        reason=np.concatenate(numbers),
        reasons=tuple(reasons),
    )


def _alike(plan: Plan, rows: Rows) -> Iterator[tuple[Indices, tuple[Axis, ...]]]:
    """Yield designs of the same kinds, one at a time also of the same axis, and the axes that apply to them."""
    count = len(next(iter(rows.values.values())))
    varied = np.full(count, -1, dtype=np.int64) if rows.varied is None else rows.varied
    kinds = [rows.values[axis.path] for axis in plan.axes if not axis.shares_network]
    _, group = np.unique(np.vstack([varied, *kinds]), axis=1, return_inverse=True)
    for number in range(group.max() + 1):
        members = np.flatnonzero(group == number)
        if rows.varied is None:
            yield members, plan.axes
        else:
            which = int(varied[members[0]])
            yield members, plan.axes[which : which + 1] if which >= 0 else ()


def _evaluate_alike(sweep: Sweep, rows: Rows, members: Indices, axes: tuple[Axis, ...], found: "_Collected") -> None:
    kinds = {axis.path: axis.document(rows.values[axis.path][members[0]]) for axis in axes if not axis.shares_network}
    numbers = {axis.path: rows.values[axis.path][members] for axis in axes if axis.shares_network}
    try:
        container, scenario = with_kinds(sweep.container, sweep.scenario, kinds)
        with_numbers(container, scenario, numbers)  # a path may lead nowhere once a part is gone
    except InputError as error:
        found.refuse(members, error.problems[0])
        return
    fits = np.ones(len(members), dtype=bool)
    for bad, problem in _scenario_problems(scenario, numbers):
        found.refuse(members[bad & fits], problem)
        fits &= ~bad
    alone = bool(numbers) and any(np.any(opening.pour > 0.0) for opening in scenario.openings)
    for lanes in np.split(np.flatnonzero(fits), int(fits.sum())) if alone else [np.flatnonzero(fits)]:
        _evaluate_lanes(replace(sweep, container=container, scenario=scenario), numbers, lanes, members, found)


def _evaluate_lanes(
    sweep: Sweep, numbers: Mapping[str, Array], lanes: Indices, members: Indices, found: "_Collected"
) -> None:
    """Compute designs together; if one of them can't be, halve them until it stands alone."""
    if not len(lanes):
        return
    table = Table({path: column[lanes] for path, column in numbers.items()}, {})
    try:
        result = evaluate(
            sweep.container,
            sweep.scenario,
            table,
            sweep.limits,
            horizon=sweep.horizon,
            unknowns=sweep.unknowns,
            stepper=stepper_of_study(sweep.plan.count),
            progress=found.tell,
        )
    except InputError as error:
        if len(lanes) == 1:
            found.refuse(members[lanes], error.problems[0])
            return
        middle = len(lanes) // 2
        for half in (lanes[:middle], lanes[middle:]):
            _evaluate_lanes(sweep, numbers, half, members, found)
        return
    # Without a number that varies the result is that of one design, whatever the number of rows that ask for it.
    shape = (len(lanes),)
    hold_times, outcome = np.broadcast_to(result.hold_times, (len(sweep.limits), *shape)), result.outcome
    found.add(members[lanes], hold_times, np.broadcast_to(outcome, shape))
    problem = np.broadcast_to(result.problem, shape)
    for number, line in enumerate(result.messages):
        place, _, message = line.partition(": ")
        found.refuse(members[lanes[problem == number]], InputProblem(message, place))


def _scenario_problems(
    scenario: Scenario, numbers: Mapping[str, Array]
) -> Iterator[tuple[NDArray[np.bool_], InputProblem]]:
    """Yield which designs have a scenario that can't be, and why.

    What is allowed of one number does not depend on another's, and is an interval: if both ends fit, all do.
    """
    for path, column in numbers.items():
        if not path.startswith(SCENARIO):
            continue
        name = path.removeprefix(SCENARIO)
        if all(_scenario_problem(scenario, name, end) is None for end in (column.min(), column.max())):
            continue
        for value in np.unique(column):
            problem = _scenario_problem(scenario, name, value)
            if problem is not None:
                yield column == value, problem


def _scenario_problem(scenario: Scenario, name: str, value: float) -> InputProblem | None:
    """Return what is wrong with a scenario in which one number is another."""
    try:
        validated(Scenario, with_values(scenario, {name: float(value)}).model_dump(mode="json", exclude_none=True))
    except InputError as error:
        return replace(error.problems[0], field=f"{SCENARIO}{error.problems[0].field}")
    return None


class _Collected:
    """Results as they come in, by row."""

    def __init__(self, limits: int, count: int, progress: Progress | None = None) -> None:
        self.hold_times = np.full((limits, count), np.nan)
        self.outcome = np.full(count, DesignOutcome.INVALID, dtype=np.int8)
        self.reason = np.full(count, -1, dtype=np.int32)
        self.reasons: dict[str, int] = {}
        self.lines: list[str] = []
        self._progress, self._untold = progress, count

    def tell(self, count: int) -> None:
        """Pass on that designs are done."""
        if self._progress is not None:
            self._progress(min(count, self._untold))
            self._untold -= min(count, self._untold)

    def refuse(self, rows: Indices, problem: InputProblem) -> None:
        """Note the field that is wrong: figures in the message are those of all designs computed together."""
        if len(rows):
            self.lines.append(str(problem))
            reason = problem.field or problem.message.partition(":")[0]
            self.reason[rows] = self.reasons.setdefault(reason, len(self.reasons))

    def add(self, rows: Indices, hold_times: Array, outcome: NDArray[np.int64]) -> None:
        self.hold_times[:, rows] = hold_times
        self.outcome[rows] = outcome

    def finished(self) -> Results:
        self.tell(self._untold)
        return Results(self.hold_times, self.outcome, self.reason, tuple(self.reasons))


# --- what came out --------------------------------------------------------------------------------------------


@dataclass
class Extremes:
    """The shortest and the longest time one limit is held, and by which designs; None if none reaches it. [s]"""

    shortest: float | None = None
    shortest_row: int = -1
    longest: float | None = None
    longest_row: int = -1

    def see(self, start: int, times: Array) -> None:
        """Take the times of designs from `start` on into account."""
        if not np.isfinite(times).any():
            return
        low, high = int(np.nanargmin(times)), int(np.nanargmax(times))
        if self.shortest is None or times[low] < self.shortest:
            self.shortest, self.shortest_row = float(times[low]), start + low
        if self.longest is None or times[high] > self.longest:
            self.longest, self.longest_row = float(times[high]), start + high


@dataclass
class Summary:
    """What became of all designs.

    Attributes
    ----------
    outcomes : dict of DesignOutcome to int
        Number of designs.
    extremes : list of Extremes
        For each limit.
    reasons : dict of str to (int, int)
        Field that is wrong: number of designs, and the first of them.
    """

    outcomes: dict[DesignOutcome, int] = field(default_factory=lambda: dict.fromkeys(DesignOutcome, 0))
    extremes: list[Extremes] = field(default_factory=list)
    reasons: dict[str, tuple[int, int]] = field(default_factory=dict)

    @property
    def valid(self) -> int:
        """Number of designs that are possible."""
        return sum(count for outcome, count in self.outcomes.items() if outcome is not DesignOutcome.INVALID)

    def see(self, start: int, results: Results) -> None:
        """Take results from design `start` on into account."""
        for outcome in DesignOutcome:
            self.outcomes[outcome] += int(np.sum(results.outcome == outcome))
        for extremes, times in zip(self.extremes, results.hold_times, strict=True):
            extremes.see(start, times)
        for number, reason in enumerate(results.reasons):
            rows = np.flatnonzero(results.reason == number)
            if len(rows):
                count, first = self.reasons.get(reason, (0, start + int(rows[0])))
                self.reasons[reason] = (count + len(rows), first)


def summary_of(sweep: Sweep, journal: Journal) -> Summary:
    """Return what became of all designs of a finished journal."""
    summary = Summary(extremes=[Extremes() for _ in sweep.limits])
    for start, results in journal.pieces():
        summary.see(start, results)
    return summary


# --- how long it would take -----------------------------------------------------------------------------------


def check_size(sweep: Sweep) -> None:
    """Refuse more designs than anyone waits for: how many, how long, and what to do instead.

    Raises
    ------
    InputError
    """
    from thermal_model.words.numbers import duration_text

    count = sweep.plan.count
    if count <= MOST_DESIGNS:
        return
    rate = trial_rate(sweep)
    years = count / rate / _YEAR
    length = f"{years:.2g} years" if years >= 1.0 else duration_text(count / rate)
    raise InputError(
        InputProblem(
            f"{_thousands(count)} designs are too many, at most {_thousands(MOST_DESIGNS)}; at the {rate:.3g} a second "
            f"measured here they would take {length}; draw a sample, --sample sobol --count 4096, or take fewer steps",
            source="--vary",
        )
    )


def trial_rate(sweep: Sweep) -> float:
    """Return how many designs a second this machine computes together, from a small sample of the sweep. [s-1]"""
    trial = replace(sweep, plan=Plan(sweep.plan.axes, Sampling.SOBOL, sweep.plan.count, sweep.plan.seed))
    trial.block(0, 1)  # what is loaded and built once is not counted
    started = time.perf_counter()
    trial.block(0, _TRIAL)
    return _TRIAL / (time.perf_counter() - started)


def _thousands(count: int) -> str:
    return f"{count:,}".replace(",", " ")
