"""Hold times of many designs: a plan of them, worked off in chunks that a journal keeps.

A design's result does not depend on those computed beside it, so neither on the size of a chunk, nor on where a run
was interrupted, nor on which thread or worker computes it.
"""

import hashlib
import pickle
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cache, lru_cache, partial
from typing import Any

import numpy as np

from geometries.container import Container
from geometries.errors import InputError
from geometries.numeric import Array
from geometries.ranges import Range
from thermal_model.batch import BatchResult, evaluate
from thermal_model.follow import DEFAULT_HORIZON
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome
from thermal_model.solver.steppers import WORTH_COMPILING, is_kept, stepper_of_study
from thermal_model.solver.stepping import SCREENING, PlainStepper, Tolerance
from thermal_model.study.axes import Axis
from thermal_model.study.crew import Crew, Part
from thermal_model.study.journal import Journal, Results
from thermal_model.study.question import Question
from thermal_model.study.sampling import Plan, table_of
from thermal_model.study.sampling_kind import Sampling
from thermal_model.uncertainty import Belief
from thermal_model.unknowns import GUESSED, Unknowns
from thermal_model.version import version
from thermal_model.work_done import ShareDone

BLOCK, PLAIN_BLOCK = 1024, 128
"""Most designs computed together, by the compiled stepper and by the plain one: a chunk is cut into such blocks. Twice
as many are a little faster, and take a fourth more memory."""

MOST_DESIGNS = 100_000_000

PATHS_UNASKED = 10_000
"""Designs up to which a table has the paths of heat if nothing is said: they take five times as long as a hold time."""

PATHS_OF, LOW, HIGH = "heat_paths", "low", "high"
"""Names among `Results.more`: (len(PATHS), n) [W K-1]; and (m, n) ends of the intervals of hold times [s]."""

_YEAR = 365.25 * 86400.0

_TRIAL = 64
"""Designs computed to learn how fast this machine is."""

QUICK = "quick: hold times within 0.1 % or 10 s"
"""Stands in the header of what the coarser engine computed."""

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
    wants_paths : bool
        Whether the heat loss coefficient of every design is split over its paths.
    draws : int
        Containers drawn for an interval of every hold time; 0: none.
    belief : Belief, optional
        What readings leave unknown, for the draws; left out, the priors.
    is_quick : bool
        Whether the coarser engine computes it, as `QUICK` says.
    """

    container: Container
    scenario: Scenario
    limits: tuple[float, ...]
    plan: Plan
    horizon: float = DEFAULT_HORIZON
    unknowns: Unknowns = GUESSED
    wants_paths: bool = False
    draws: int = 0
    belief: Belief | None = None
    is_quick: bool = False

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
        } | self._more_inputs()

    def _more_inputs(self) -> dict[str, Any]:
        more: dict[str, Any] = {"heat_paths": True} if self.wants_paths else {}
        if self.draws:
            more["interval_draws"] = self.draws
            if self.belief is not None:
                more["belief"] = hashlib.sha256(pickle.dumps(self.belief)).hexdigest()
        if self.is_quick:
            more["accuracy"] = QUICK
        return more

    @property
    def tolerance(self) -> Tolerance:
        """Of the engine."""
        return SCREENING if self.is_quick else Tolerance()

    @property
    def question(self) -> Question:
        """What is asked of every design."""
        return Question(self.container, self.scenario, self.limits[0], self.horizon, self.unknowns, self.belief)

    @property
    def runs(self) -> int:
        """Runs that are followed in all."""
        return self.plan.count * (1 + self.draws)

    @property
    def is_compiled(self) -> bool:
        """Whether the compiled stepper computes it: by its size alone, so that it ends the same on every machine."""
        return stepper_of_study(self.runs) is not PlainStepper

    def blocks(self, start: int, stop: int) -> Iterator[Part]:
        """Yield what is computed together of designs by number."""
        size = BLOCK if self.is_compiled else min(PLAIN_BLOCK, BLOCK)
        for low in range(start, stop, size):
            yield low, min(low + size, stop)

    def block(self, start: int, stop: int, progress: Progress | None = None) -> Results:
        """Return the results of designs by number, `start` up to but without `stop`."""
        result = self._evaluated(start, stop, progress)
        reasons: dict[str, int] = {}
        # The field that is wrong: figures in the message are those of all designs computed together.
        fields = [problem.field or problem.message.partition(":")[0] for problem in result.problems]
        numbers = np.array([*(reasons.setdefault(one, len(reasons)) for one in fields), -1], dtype=np.int32)
        more = self._more(start, stop)
        outcome = result.outcome.astype(np.int8)
        return Results(result.hold_times, outcome, numbers[result.problem], tuple(reasons), more)

    def _more(self, start: int, stop: int) -> dict[str, Array]:
        """Return what is asked besides hold times: PATHS_OF, LOW and HIGH."""
        if not self.wants_paths and not self.draws:
            return {}
        from thermal_model.study.sweep_tables import heat_paths, intervals

        table = table_of(self.plan.axes, self.plan.rows(start, stop))
        found = {PATHS_OF: heat_paths(self.question, table, self.limits)} if self.wants_paths else {}
        if self.draws:
            sample = self.question.sample(self.draws, self.plan.seed)
            how: dict[str, Any] = {"stepper": stepper_of_study(self.runs), "tolerance": self.tolerance}
            found[LOW], found[HIGH] = intervals(self.question, table, self.limits, sample, **how)
        return found

    def message(self, row: int) -> str:
        """Return in a line, with its figures, why a design is not possible."""
        return next((str(problem) for problem in self._evaluated(row, row + 1).problems), "")

    def _evaluated(self, start: int, stop: int, progress: Progress | None = None) -> BatchResult:
        return evaluate(
            self.container,
            self.scenario,
            table_of(self.plan.axes, self.plan.rows(start, stop)),
            self.limits,
            horizon=self.horizon,
            unknowns=self.unknowns,
            tolerance=self.tolerance,
            stepper=stepper_of_study(self.runs),
            progress=None if progress is None else _counted(progress, stop - start),
        )


def _counted(progress: Progress, total: int) -> ShareDone:
    """Return what turns the share that is done into numbers of designs."""
    done = 0

    def tell(share: float) -> None:
        nonlocal done
        more = int(share * total) - done
        if more > 0:
            done += more
            progress(more)

    return tell


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
        What computes; left out: this thread. The results do not depend on it, nor on its order.

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
    packed = pickle.dumps(sweep)
    _AT_HAND[packed] = sweep
    try:
        compute = partial(_block_of, packed, version(), libraries())
        for block, results in crew.finished(compute, blocks):
            if progress is not None:
                progress(block[1] - block[0])
            yield block, results
    finally:
        _AT_HAND.pop(packed, None)


def _block_of(sweep: bytes, wanted_version: str, wanted: Mapping[str, str], start: int, stop: int) -> Results:
    """Return a block, wherever this runs; other versions would mix other results among those of the rest."""
    here = {"holdtime": version()} | libraries()
    for name, wants in {"holdtime": wanted_version, **wanted}.items():
        if here[name] != wants:
            raise InputError(f"a worker has {name} {here[name]}, this command {wants}; install the same on both")
    return (_AT_HAND.get(sweep) or _unpacked(sweep)).block(start, stop)


_AT_HAND: dict[bytes, Sweep] = {}
"""Sweeps that this process hands out: its own threads share what a plan has drawn."""


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
        more={name: np.concatenate([part.more[name] for part in parts], axis=1) for name in parts[0].more},
    )


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
    outcomes : dict of Outcome to int
        Number of designs.
    extremes : list of Extremes
        For each limit.
    reasons : dict of str to (int, int)
        Field that is wrong: number of designs, and the first of them.
    first_failed : int or None
        First design that could not be computed.
    """

    outcomes: dict[Outcome, int] = field(default_factory=lambda: dict.fromkeys(Outcome, 0))
    extremes: list[Extremes] = field(default_factory=list)
    reasons: dict[str, tuple[int, int]] = field(default_factory=dict)
    first_failed: int | None = None

    @property
    def valid(self) -> int:
        """Number of designs that are possible."""
        return sum(count for outcome, count in self.outcomes.items() if outcome is not Outcome.INVALID)

    def see(self, start: int, results: Results) -> None:
        """Take results from design `start` on into account."""
        for outcome in Outcome:
            self.outcomes[outcome] += int(np.sum(results.outcome == outcome))
        failed = np.flatnonzero(results.outcome == Outcome.FAILED)
        if self.first_failed is None and len(failed):
            self.first_failed = start + int(failed[0])
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
    if sweep.runs <= MOST_DESIGNS:
        return
    rate = trial_rate(sweep)
    years = count / rate / _YEAR
    length = f"{years:.{0 if years >= 10.0 else 1}f} years" if years >= 1.0 else duration_text(count / rate)
    raise InputError(
        f"{_thousands(count)} designs are too many, at most {_thousands(MOST_DESIGNS)}; at the {rate:.3g} a second "
        f"measured here they would take {length}; draw a sample, --sample sobol --count 4096, or take fewer steps",
        source="--vary",
    )


def trial_rate(sweep: Sweep) -> float:
    """Return how many designs a second this machine computes together, from a small sample of the sweep. [s-1]

    Nothing is compiled for it: a refusal is no reason to wait.
    """
    count = sweep.plan.count if is_kept() else max((WORTH_COMPILING - 1) // (1 + sweep.draws), 1)
    trial = replace(sweep, plan=Plan(sweep.plan.axes, Sampling.SOBOL, count, sweep.plan.seed))
    trial.block(0, 1)  # what is loaded and built once is not counted
    started = time.perf_counter()
    trial.block(0, _TRIAL)
    return _TRIAL / (time.perf_counter() - started)


def _thousands(count: int) -> str:
    return f"{count:,}".replace(",", " ")
