"""Many designs at once: a table of values over one base design, and what became of each row.

Rows of the same kinds (texts, counts, yes or no) are lanes of one record. Rows that make no run are told apart, not
fatal.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.container import Container, closed_capacity
from geometries.errors import InputError, InputProblem
from geometries.numeric import Array
from geometries.overrides import with_overrides, with_values
from thermal_model.assemble.checks import run_problems
from thermal_model.assemble.lanes import Lanes
from thermal_model.follow import DEFAULT_HORIZON, follow
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper, Outcome
from thermal_model.solver.scatter import Indices
from thermal_model.solver.steppers import stepper_for
from thermal_model.solver.stepping import Tolerance
from thermal_model.uncertainty import PRIORS, perturbed_runs, unsure_drawn
from thermal_model.unknowns import GUESSED, UNKNOWN_NAMES, Unknowns
from thermal_model.work_done import ShareDone, part_of

SCENARIO, UNKNOWNS = "scenario.", "unknowns."


AS_GIVEN = object()
"""Stands in a column of kinds for what the base design has; in one of numbers NaN does."""


@dataclass(frozen=True)
class BatchResult:
    """What became of n designs.

    Attributes
    ----------
    hold_times : (m, n) array
        Time to each of m limits; NaN where there is none: `outcome` says why. [s]
    outcome : (n,) int array
        Members of Outcome.
    problem : (n,) int array
        Number in `problems` of what is wrong with the design, -1 if nothing is.
    problems : tuple of InputProblem
        Figures in them are those of all rows they concern.
    """

    hold_times: Array
    outcome: NDArray[np.int64]
    problem: NDArray[np.int64]
    problems: tuple[InputProblem, ...]

    def problem_of(self, row: int) -> InputProblem | None:
        """Return what is wrong with a design, None if nothing is."""
        number = int(self.problem[row])
        return None if number < 0 else self.problems[number]


@dataclass(frozen=True)
class Table:
    """Designs as rows: numbers by path (SI), and kinds by path (as a design file would hold them).

    Paths lead into the container, or with a prefix into the scenario ("scenario.fill") or the unknowns
    ("unknowns.gap_emissivity").

    Attributes
    ----------
    numbers : mapping of str to (n,) array
        NaN where the row leaves it as the base design has it.
    kinds : mapping of str to sequence of n values
        AS_GIVEN where the row leaves it.
    rows : int, optional
        Their number n; left out, that of the columns, or 1 without any.
    normals : mapping of str to (n,) array
        Draws of what is not known, as `with_draws` puts them on top of the rest.
    """

    numbers: Mapping[str, Array]
    kinds: Mapping[str, Sequence[object]] = field(default_factory=dict)
    rows: int | None = None
    normals: Mapping[str, Array] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """Number of rows n."""
        columns = [*self.numbers.values(), *self.kinds.values(), *self.normals.values()]
        return self.rows if self.rows is not None else len(columns[0]) if columns else 1

    def groups(self) -> Iterator[tuple[dict[str, object], dict[str, Array], Indices]]:
        """Yield the kinds that occur together, the numbers given with them, and the rows they are in."""
        members: dict[tuple[object, ...], list[int]] = {}
        for row, key in enumerate(self._keys()):
            members.setdefault(key, []).append(row)
        for rows in members.values():
            first, some = rows[0], np.array(rows, dtype=np.intp)
            kinds = {path: column[first] for path, column in self.kinds.items() if column[first] is not AS_GIVEN}
            numbers = {path: column[some] for path, column in self.numbers.items() if not np.isnan(column[first])}
            yield kinds, numbers, some

    def drawn(self, rows: Indices, normals: Mapping[str, Array]) -> "Table":
        """Return some rows, each with all draws, (d,) by name, of what is not known."""
        many = np.repeat(rows, len(next(iter(normals.values()))))
        return Table(
            {path: column[many] for path, column in self.numbers.items()},
            {path: [column[row] for row in many.tolist()] for path, column in self.kinds.items()},
            len(many),
            {name: np.tile(normal, len(rows)) for name, normal in normals.items()},
        )

    def _keys(self) -> Iterable[tuple[object, ...]]:
        columns: list[list[Any]] = [[repr(kind) for kind in column] for column in self.kinds.values()]
        columns += [np.isnan(column).tolist() for column in self.numbers.values() if np.isnan(column).any()]
        return zip(*columns, strict=True) if columns else [()] * self.count


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
    progress: ShareDone | None = None,
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
        Called with the share of the rows done.

    Raises
    ------
    InputError
        If a path leads nowhere in the base design.
    """
    hold_times = np.full((len(limits), table.count), np.nan)
    outcome = np.full(table.count, Outcome.INVALID, dtype=np.int64)
    first_problem = np.full(table.count, -1, dtype=np.int64)
    problems: dict[str, InputProblem] = {}
    how: dict[str, Any] = {"tolerance": tolerance, "stepper": stepper or stepper_for(table.count)}
    done = 0
    for lot in lots(container, scenario, table, unknowns):
        valid = np.ones(len(lot.rows), dtype=bool)
        for mask, problem in lot.problems():
            if (mask & valid).any():
                problems.setdefault(str(problem), problem)
                first_problem[lot.rows[mask & valid]] = list(problems).index(str(problem))
            valid &= ~mask
        if lot.runs is not None:
            told = part_of(progress, done / table.count, (done + len(lot.rows)) / table.count)
            found = follow(lot.runs, limits, horizon=horizon, is_valid=valid, progress=told, **how)
            hold_times[:, lot.rows], outcome[lot.rows] = found.hold_times, found.outcome
        done += len(lot.rows)
        if progress is not None:
            progress(done / table.count)
    return BatchResult(hold_times, outcome, first_problem, tuple(problems.values()))


@dataclass(frozen=True)
class Lot:
    """Rows of a table that are lanes of one record; `runs` is None where their kinds make none, as `problem` says."""

    rows: Indices
    runs: Lanes | None
    problem: InputProblem | None = None

    def problems(self) -> Iterator[tuple[NDArray[np.bool_], InputProblem]]:
        """Yield what can't be, and which of the rows it concerns; the first that concerns a row counts."""
        if self.problem is not None or self.runs is None:
            assert self.problem is not None
            yield np.ones(len(self.rows), dtype=bool), self.problem
            return
        for problem in run_problems(self.runs):
            yield np.broadcast_to(problem.mask, len(self.rows)), InputProblem(problem.message, problem.field)


def lots(container: Container, scenario: Scenario, table: Table, unknowns: Unknowns = GUESSED) -> Iterator[Lot]:
    """Yield the rows of a table in lots of the same kinds.

    Raises
    ------
    InputError
        If a path leads nowhere in the base design.
    """
    for kinds, numbers, rows in table.groups():
        try:
            base = with_kinds(container, scenario, kinds)
            runs = Lanes(*with_numbers(*base, numbers, unknowns), len(rows))
            if table.normals:
                runs = with_draws(runs, {name: normal[rows] for name, normal in table.normals.items()})
        except InputError as error:
            if not kinds:
                raise
            yield Lot(rows, None, replace(error.problems[0], source=""))  # a part that is gone has no numbers either
            continue
        yield Lot(rows, runs)


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
        scenario = with_overrides(scenario, of_scenario, source="")
    return container, scenario


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


def with_draws(runs: Lanes, normals: Mapping[str, Array]) -> Lanes:
    """Return n runs with draws of what is not known put on top.

    Parameters
    ----------
    runs : Lanes
    normals : mapping of str to (n,) array
        Standard normal draws by the name of the prior, or the path of a dimension that was not measured, as in
        `uncertainty.Sample`; those left out stay at their best guess. A ruler's error is added to a dimension,
        whatever its value in the run; one that a table varies is as the row says, measured or not.
    """
    values = {name: prior.values(normals.get(name, np.zeros(runs.count))) for name, prior in PRIORS.items()}
    container, _ = unsure_drawn(runs.container, normals, runs.count)
    drawn = perturbed_runs(container, runs.scenario, values, runs.count)
    scenario, fill = drawn.scenario, runs.scenario.fill
    if fill is not None:
        # What does not fit to begin with is no misreading.
        fits = np.less_equal(fill, closed_capacity(runs.container) * (1.0 + 1e-9))
        scenario = scenario.model_copy(update={"fill": np.where(fits, np.asarray(scenario.fill), fill)})
    unknowns = Unknowns(**{name: values[name] * getattr(runs.unknowns, name) for name in UNKNOWN_NAMES})
    return Lanes(drawn.container, scenario, unknowns, runs.count)
