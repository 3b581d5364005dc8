"""How hold times of one design answer to its numbers: derivatives with respect to any of them.

The design and its neighbours, each with one number a little off, are lanes of one network that take the same steps.
So the error of the steps is the same in all of them and cancels in the difference, and a number may be off by so
little that the difference is the derivative.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from geometries.container import Container
from geometries.errors import InputError, InputProblem, nearest_hint
from geometries.numeric import Array
from geometries.quantities import Dimension, quantity_fields
from thermal_model.assemble.checks import run_problems
from thermal_model.assemble.lanes import Lanes, alike
from thermal_model.batch import SCENARIO, UNKNOWNS, with_numbers
from thermal_model.follow import DEFAULT_HORIZON, follow
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper, Outcome
from thermal_model.solver.scatter import Indices
from thermal_model.solver.stepping import Tolerance
from thermal_model.unknowns import GUESSED, UNKNOWN_NAMES, Unknowns

RELATIVE_STEP = 1e-5
"""Of each number: rounding then weighs some 1e-6 of a slope, and the curvature left in it less than the engine's own
error, some 1e-4."""

TYPICAL = {
    Dimension.LENGTH: 0.01,
    Dimension.VOLUME: 1e-3,
    Dimension.MASS: 0.1,
    Dimension.IRRADIANCE: 100.0,
}
"""What a step is measured by where a number is zero; 1 of the SI unit for what is not named. [SI]"""


@dataclass(frozen=True)
class Gradients:
    """Hold times of one design and their derivatives.

    Attributes
    ----------
    paths : tuple of str
        As in `batch.Table`.
    hold_times : (m,) array
        Of the design itself; NaN where a limit is not reached. [s]
    slopes : (m, p) array
        Change of each hold time per change of each number; NaN where neither side has one. [s per SI unit]
    steps : (p,) array
        By how much each number was off. [SI]
    is_one_sided : (p,) bool array
        Whether the slope was taken towards one side only.
    reasons : dict of str to str
        By path, why a slope is missing.
    """

    paths: tuple[str, ...]
    hold_times: Array
    slopes: Array
    steps: Array
    is_one_sided: NDArray[np.bool_]
    reasons: dict[str, str] = field(default_factory=dict)


def gradients(
    container: Container,
    scenario: Scenario,
    limits: Sequence[float],
    paths: Sequence[str],
    *,
    relative_step: float = RELATIVE_STEP,
    is_central: bool = False,
    horizon: float = DEFAULT_HORIZON,
    unknowns: Unknowns = GUESSED,
    tolerance: Tolerance | None = None,
    stepper: MakeStepper | None = None,
) -> Gradients:
    """Compute hold times and their derivatives with respect to numbers of a design, scenario or the unknowns.

    Parameters
    ----------
    container, scenario
        The design itself, m limits.
    limits : sequence of float
        Limit temperatures. [K]
    paths : sequence of str
        Of p numbers, as in `batch.Table`: "body.neck.mouth_diameter", "scenario.room", "unknowns.gap_emissivity".
    relative_step : float
        By how much each number is off.
    is_central : bool
        Whether to take two neighbours a number, one to each side, instead of one: twice the work for an error that
        falls with the square of the step.
    horizon : float
        Longest time a lane is followed. [s]
    unknowns : Unknowns
        Of the design itself.
    tolerance : Tolerance, optional
    stepper : callable, optional
        What the engine steps with; left out: what suits the number of lanes.

    Raises
    ------
    InputError
        If a path leads to no number, or the design itself can't be.

    Notes
    -----
    Where the first neighbour is no container, or has another network, the one to the other side is taken.

    At the default tolerance a slope errs, as percent per percent, by some 2e-4 of the largest one: so one that is a
    thousandth of it, such as that of a pocket whose convection dies away during the run, may be off by some percent
    of itself. A twentieth of the tolerance makes that ten times less. `tests.benchmarks.gradient_cost` prints it.

    References
    ----------
    Bock, H. G. (1981), "Numerical treatment of inverse problems in chemical reaction kinetics", in Modelling of
    Chemical Reaction Systems, Springer: differences of runs that share their steps ("internal numerical
    differentiation"). Cited from memory.
    """
    found = [_number(container, scenario, unknowns, path) for path in paths]
    values = np.array([value for value, _ in found])
    steps = relative_step * np.array([abs(value) or (TYPICAL.get(of, 1.0) if of else 1.0) for value, of in found])
    block = _Block(container, scenario, unknowns, tuple(limits), tuple(paths), values, horizon, tolerance, stepper)
    every = np.arange(len(paths))
    if is_central:
        times, why = block.run(np.append(every, every), np.append(steps, -steps))
        up, down, reasons = times[:, 1 : len(paths) + 1], times[:, len(paths) + 1 :], why[: len(paths)]
    else:
        times, reasons = block.run(every, steps)
        up, down = times[:, 1:], np.full_like(times[:, 1:], np.nan)
        missing = np.flatnonzero(_lacks(up, times[:, 0]))
        if len(missing):
            other, _ = block.run(missing, -steps[missing])
            # Of their own block: its steps are others, and so is its error.
            down[:, missing] = times[:, :1] + other[:, 1:] - other[:, :1]
    return _gradients(tuple(paths), times[:, 0], up, down, steps, reasons)


def _lacks(times: Array, base: Array) -> NDArray[np.bool_]:
    """Return which neighbours, (p,), do not reach a limit that the design itself reaches."""
    return np.any(~np.isfinite(times) & np.isfinite(base)[:, None], axis=0)


def _gradients(
    paths: tuple[str, ...], base: Array, up: Array, down: Array, steps: Array, reasons: Sequence[str]
) -> Gradients:
    lacks_up, lacks_down = _lacks(up, base), _lacks(down, base)
    upper, lower = (np.where(lacks, base[:, None], times) for lacks, times in ((lacks_up, up), (lacks_down, down)))
    sides = 2.0 - lacks_up - lacks_down
    with np.errstate(invalid="ignore", divide="ignore"):
        slopes = np.where(sides > 0.0, (upper - lower) / (sides * steps), np.nan)
    none = np.flatnonzero(sides == 0.0).tolist()
    return Gradients(paths, base, slopes, steps, sides < 2.0, {paths[k]: reasons[k] for k in none})


@dataclass(frozen=True)
class _Block:
    """One design and its neighbours as lanes that take the same steps."""

    container: Container
    scenario: Scenario
    unknowns: Unknowns
    limits: tuple[float, ...]
    paths: tuple[str, ...]
    values: Array
    horizon: float
    tolerance: Tolerance | None
    stepper: MakeStepper | None

    def run(self, columns: Indices, moves: Array) -> tuple[Array, list[str]]:
        """Return hold times of the design and of k neighbours, (m, 1 + k), and why a neighbour has none.

        Each neighbour has the number of one column moved.

        Raises
        ------
        InputError
            If the design itself can't be.
        """
        numbers = {path: np.full(1 + len(moves), value) for path, value in zip(self.paths, self.values, strict=True)}
        for lane, (column, move) in enumerate(zip(columns.tolist(), moves.tolist(), strict=True), start=1):
            numbers[self.paths[column]][lane] += move
        count = 1 + len(moves)
        runs = Lanes(*with_numbers(self.container, self.scenario, numbers, self.unknowns), count)
        problems = _problems(runs)
        if problems[0]:
            raise InputError(problems[0])
        found = follow(
            runs,
            self.limits,
            horizon=self.horizon,
            tolerance=self.tolerance,
            stepper=self.stepper,
            family=np.zeros(count, dtype=np.intp),
            is_valid=np.array([not problem for problem in problems]),
        )
        if not found.is_good[0]:
            raise found.failure(0)
        reasons = {
            Outcome.NOT_REACHED: f"a limit is not reached within the {self.horizon / 86400.0:g} days",
            Outcome.FAILED: "the computation failed",
        }
        told = zip(problems[1:], found.outcome[1:].tolist(), strict=True)
        return found.hold_times, [problem or reasons.get(Outcome(outcome), "") for problem, outcome in told]


def _problems(runs: Lanes) -> list[str]:
    """Return what is wrong with each lane, "" if nothing is."""
    found = [""] * runs.count
    for problem in run_problems(runs):
        for lane in np.flatnonzero(np.broadcast_to(problem.mask, runs.count)):
            found[lane] = found[lane] or f"{problem.field}: {problem.message}"
    for same in alike(runs):
        if 0 not in same:
            for lane in same:
                found[lane] = found[lane] or "here a part, or an opening, begins or ends"
    return found


def _number(container: Container, scenario: Scenario, unknowns: Unknowns, path: str) -> tuple[float, Dimension | None]:
    """Return the number that a path leads to, and what it measures."""
    if path.startswith(UNKNOWNS):
        if path.removeprefix(UNKNOWNS) not in UNKNOWN_NAMES:
            hint = nearest_hint(path, (UNKNOWNS + name for name in UNKNOWN_NAMES))
            raise InputError(InputProblem(f"is no unknown; {hint}allowed: {', '.join(UNKNOWN_NAMES)}", path))
        return float(getattr(unknowns, path.removeprefix(UNKNOWNS))), None
    with_numbers(container, scenario, {path: np.zeros(1)})  # refuses a path that leads nowhere
    place: Any = scenario if path.startswith(SCENARIO) else container
    *way, last = path.removeprefix(SCENARIO).split(".")
    for key in way:
        place = place[int(key)] if isinstance(place, tuple) else getattr(place, key)
    record: BaseModel = place
    quantity, value = quantity_fields(type(record)).get(last), getattr(record, last, None)
    if quantity is None:
        raise InputError(InputProblem("holds no number with a unit", path))
    if value is None:
        raise InputError(InputProblem("is left out in this design; give it there first", path))
    return float(value), quantity.dimension
