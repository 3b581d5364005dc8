"""Many designs at once: a table of values over one base design becomes networks of lanes, and hold times.

Rows of the same kinds (texts, counts, yes or no) share a network; their numbers are its lanes. Rows that make no
container are told apart, not fatal.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.checks import Problem, dimension_problems, fill_problems
from geometries.container import Container
from geometries.errors import InputError
from geometries.numeric import Array
from geometries.overrides import with_overrides, with_values
from thermal_model.assemble.build import LOWER_SEAL_DEPTH, assemble, filled_volume
from thermal_model.prediction import DEFAULT_HORIZON, reachable_limits
from thermal_model.scenario import Scenario, with_scenario_overrides
from thermal_model.solver.engine import MakeStepper, Outcome, integrate
from thermal_model.solver.scatter import Indices
from thermal_model.solver.steppers import stepper_for
from thermal_model.solver.stepping import Tolerance
from thermal_model.unknowns import GUESSED, Unknowns

LANES_AT_ONCE = 512
"""Designs in one network: enough to spread the cost of numpy's calls, few enough for the processor's cache."""

SCENARIO, UNKNOWNS = "scenario.", "unknowns."


class DesignOutcome(IntEnum):
    """What became of a design."""

    REACHED = 0
    NOT_REACHED = 1
    INVALID = 2
    FAILED = 3


@dataclass(frozen=True)
class BatchResult:
    """Hold times of n designs.

    Attributes
    ----------
    hold_times : (m, n) array
        Time to each of m limits; NaN where it is not reached or the design is invalid. [s]
    outcome : (n,) int array
        Members of DesignOutcome; REACHED if the last limit is.
    problem : (n,) int array
        Number in `messages` of what is wrong with the design, -1 if nothing is.
    messages : tuple of str
        One line each.
    """

    hold_times: Array
    outcome: NDArray[np.int64]
    problem: NDArray[np.int64]
    messages: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """Designs as rows: numbers by path (SI), and kinds by path (as a design file would hold them).

    Paths lead into the container, or with a prefix into the scenario ("scenario.fill") or the unknowns
    ("unknowns.gap_emissivity").

    Attributes
    ----------
    numbers : mapping of str to (n,) array
    kinds : mapping of str to sequence of n values
    """

    numbers: Mapping[str, Array]
    kinds: Mapping[str, Sequence[object]]

    @property
    def count(self) -> int:
        """Number of rows n."""
        columns = [*self.numbers.values(), *self.kinds.values()]
        return len(columns[0]) if columns else 1

    def groups(self) -> Iterator[tuple[dict[str, object], Indices]]:
        """Yield each combination of kinds that occurs, with its rows, in order of first appearance."""
        rows: dict[tuple[str, ...], list[int]] = {}
        columns = list(self.kinds.values())
        for row in range(self.count):
            rows.setdefault(tuple(repr(column[row]) for column in columns), []).append(row)
        for members in rows.values():
            yield {path: self.kinds[path][members[0]] for path in self.kinds}, np.array(members, dtype=np.intp)


def evaluate(
    container: Container,
    scenario: Scenario,
    table: Table,
    limits: Sequence[float],
    *,
    horizon: float = DEFAULT_HORIZON,
    unknowns: Unknowns = GUESSED,
    tolerance: Tolerance | None = None,
    stepper: MakeStepper | None = None,
    progress: Callable[[int], None] | None = None,
) -> BatchResult:
    """Compute the hold times of every row of a table.

    Parameters
    ----------
    container, scenario, unknowns
        What the rows start from.
    table : Table
    limits : sequence of float
        Limit temperatures. [K]
    horizon : float
        [s]
    tolerance : Tolerance, optional
    stepper : callable, optional
        What the engine steps with; left out: what suits the number of rows.
    progress : callable, optional
        Called with the number of rows done since the last call.

    Raises
    ------
    InputError
        If a path leads nowhere.
    """
    result = _Collected(len(limits), table.count)
    how = _How(limits, horizon, unknowns, tolerance, stepper or stepper_for(table.count))
    for kinds, rows in table.groups():
        try:
            base, base_scenario = with_kinds(container, scenario, kinds)
        except InputError as error:
            result.refuse(rows, str(error).splitlines()[0])
            _tell(progress, len(rows))
            continue
        for start in range(0, len(rows), LANES_AT_ONCE):
            some = rows[start : start + LANES_AT_ONCE]
            numbers = {path: np.asarray(column)[some] for path, column in table.numbers.items()}
            _evaluate_lanes(base, base_scenario, numbers, some, how, result)
            _tell(progress, len(some))
    return result.finished()


def _tell(progress: Callable[[int], None] | None, count: int) -> None:
    if progress is not None:
        progress(count)


def with_kinds(container: Container, scenario: Scenario, kinds: Mapping[str, object]) -> tuple[Container, Scenario]:
    """Return a design with its kinds; the last entries of a list are taken away first.

    Raises
    ------
    InputError
        If the kinds make no valid design.
    """
    of_scenario = {path.removeprefix(SCENARIO): kind for path, kind in kinds.items() if path.startswith(SCENARIO)}
    of_container = {path: kinds[path] for path in sorted(kinds, reverse=True) if not path.startswith(SCENARIO)}
    if of_container:
        container = with_overrides(container, of_container, source="")
    if of_scenario:
        scenario = with_scenario_overrides(scenario, of_scenario, source="")
    return container, scenario


@dataclass(frozen=True)
class _How:
    """How rows are computed, whatever they are."""

    limits: Sequence[float]
    horizon: float
    unknowns: Unknowns
    tolerance: Tolerance | None
    stepper: MakeStepper


def _evaluate_lanes(
    container: Container,
    scenario: Scenario,
    numbers: Mapping[str, Array],
    rows: Indices,
    how: "_How",
    result: "_Collected",
) -> None:
    for same in lanes_alike(container, scenario, numbers, len(rows)):
        some = {path: column[same] for path, column in numbers.items()}
        _evaluate_alike(container, scenario, some, rows[same], how, result)


def lanes_alike(
    container: Container, scenario: Scenario, numbers: Mapping[str, Array], count: int
) -> Iterator[Indices]:
    """Yield the lanes that can share a network: those whose seals lie in the same order, deep or at the rim."""
    lid = with_numbers(container, scenario, numbers)[0].lid
    if lid is None or not lid.seals:
        yield np.arange(count)
        return
    depths = np.stack([np.broadcast_to(np.asarray(seal.depth, dtype=float), (count,)) for seal in lid.seals])
    pattern = np.vstack([np.argsort(depths, axis=0, kind="stable"), depths > LOWER_SEAL_DEPTH])
    _, group = np.unique(pattern, axis=1, return_inverse=True)
    for number in range(group.max() + 1):
        yield np.flatnonzero(group == number)


def _evaluate_alike(
    container: Container,
    scenario: Scenario,
    numbers: Mapping[str, Array],
    rows: Indices,
    how: "_How",
    result: "_Collected",
) -> None:
    designs, run, unknowns = with_numbers(container, scenario, numbers, how.unknowns)
    problems = [*dimension_problems(designs), *fill_problems(designs, filled_volume(designs, run))]
    valid = np.ones(len(rows), dtype=bool)
    for problem in problems:
        bad = np.broadcast_to(problem.mask, valid.shape) & valid
        result.refuse(rows[bad], _line(problem))
        valid &= ~bad
    if not valid.any():
        return
    if not valid.all():
        numbers = {path: column[valid] for path, column in numbers.items()}
        designs, run, unknowns = with_numbers(container, scenario, numbers, how.unknowns)
        rows = rows[valid]
    network = assemble(designs, run, unknowns, lanes=len(rows))
    levels = reachable_limits(designs, run, how.limits, len(rows))
    horizons = np.full(len(rows), how.horizon)
    trajectory = integrate(network, levels, horizons, tolerance=how.tolerance, stepper=how.stepper)
    result.add(rows, trajectory.crossing_times, trajectory.outcome)


def _line(problem: Problem) -> str:
    return f"{problem.field}: {problem.message}"


def with_numbers(
    container: Container, scenario: Scenario, numbers: Mapping[str, Array], unknowns: Unknowns = GUESSED
) -> tuple[Container, Scenario, Unknowns]:
    """Put arrays of lanes into a container, a scenario and the unknowns, by path; nothing is validated."""
    of_scenario: dict[str, Any] = {}
    of_unknowns: dict[str, Any] = {}
    of_container: dict[str, Any] = {}
    for path, column in numbers.items():
        if path.startswith(SCENARIO):
            of_scenario[path.removeprefix(SCENARIO)] = column
        elif path.startswith(UNKNOWNS):
            of_unknowns[path.removeprefix(UNKNOWNS)] = column
        else:
            of_container[path] = column
    return with_values(container, of_container), with_values(scenario, of_scenario), replace(unknowns, **of_unknowns)


class _Collected:
    """Results as they come in, by row."""

    def __init__(self, limits: int, count: int) -> None:
        self.hold_times = np.full((limits, count), np.nan)
        self.outcome = np.full(count, DesignOutcome.INVALID, dtype=np.int64)
        self.problem = np.full(count, -1, dtype=np.int64)
        self.messages: dict[str, int] = {}

    def refuse(self, rows: Indices, message: str) -> None:
        if len(rows):
            self.problem[rows] = self.messages.setdefault(message, len(self.messages))

    def add(self, rows: Indices, times: Array, outcome: NDArray[np.int64]) -> None:
        self.hold_times[:, rows] = times
        reached = np.where(np.isfinite(times[-1]), DesignOutcome.REACHED, DesignOutcome.NOT_REACHED)
        self.outcome[rows] = np.where(outcome == Outcome.FAILED, DesignOutcome.FAILED, reached)

    def finished(self) -> BatchResult:
        return BatchResult(self.hold_times, self.outcome, self.problem, tuple(self.messages))
