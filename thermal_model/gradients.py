"""How hold times and temperatures of one run answer to its numbers, or to what is not known of it: derivatives.

The run and its neighbours, each with one number off, are lanes of one batch. Where a number is off by little they take
the same steps: so the error of the steps is the same in all of them and cancels in the difference.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container
from geometries.errors import InputError, nearest_hint
from geometries.numeric import Array
from geometries.quantities import Dimension, quantity_fields
from thermal_model.assemble.build import room_temperature
from thermal_model.assemble.checks import run_problems
from thermal_model.assemble.lanes import Lanes, alike
from thermal_model.batch import SCENARIO, UNKNOWNS, with_numbers
from thermal_model.follow import DEFAULT_HORIZON, Followed, follow
from thermal_model.prediction import check_fill, check_run
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper, Outcome
from thermal_model.solver.stepping import Tolerance
from thermal_model.uncertainty import PRIORS, Scope, perturbed_runs
from thermal_model.unknowns import GUESSED, UNKNOWN_NAMES, Unknowns

RELATIVE_STEP = 1e-5
"""Of each number: rounding then weighs some 1e-6 of a slope, and the curvature left in it less than the engine's own
error, some 1e-4."""

SHARP = Tolerance(contents=2.5e-6, others=2.5e-4)
"""A twentieth of the engine's own, for about twice the steps: a slope that is a thousandth of the largest one, such as
that of a seal's depth, is then within a thousandth of itself."""

TYPICAL = {
    Dimension.LENGTH: 0.01,
    Dimension.VOLUME: 1e-3,
    Dimension.MASS: 0.1,
    Dimension.IRRADIANCE: 100.0,
}
"""What a step is measured by where a number is zero; 1 of the SI unit for what is not named. [SI]"""


@dataclass(frozen=True)
class Neighbours:
    """A point of p numbers and its neighbours, each with one number off: up, and down as well if central.

    Attributes
    ----------
    steps : (p,) array
        By how much each number is off.
    is_central : bool
    """

    steps: Array
    is_central: bool = False

    @property
    def moves(self) -> Array:
        """What is added to the numbers, (1 + p, p) or (1 + 2 p, p): nothing, each up, and each down."""
        up = np.diag(self.steps)
        return np.vstack([np.zeros(len(self.steps)), up, *([-up] if self.is_central else [])])

    def sides(self, results: Array) -> tuple[Array, Array, Array]:
        """Return results, whose last axis is the point and its neighbours, as point, up and down; NaN for none."""
        base, up, down = np.split(results, [1, 1 + len(self.steps)], axis=-1)
        return base, up, down if self.is_central else np.full_like(up, np.nan)

    def slopes(self, results: Array) -> Array:
        """Return derivatives by each number, unknowns last, of results as in `sides`."""
        return slopes_between(*self.sides(results), self.steps)


def slopes_between(base: Array, up: Array, down: Array, steps: Array) -> Array:
    """Return derivatives from results at a point, (..., 1), and a step up and down, (..., p); one side will do."""
    lacks_up, lacks_down = np.isnan(up), np.isnan(down)
    sides = 2.0 - lacks_up - lacks_down
    rise = np.where(lacks_up, base, up) - np.where(lacks_down, base, down)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(sides > 0.0, rise / (sides * steps), np.nan)


# --- by the numbers of a design -------------------------------------------------------------------------------------


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
    horizon : float
        Longest time a lane is followed. [s]
    unknowns : Unknowns
        Of the design itself.
    tolerance : Tolerance, optional
        SHARP if left out.
    stepper : callable, optional
        What the engine steps with; left out: what suits the number of lanes.

    Raises
    ------
    InputError
        If a path leads to no number, or the design itself can't be.

    Notes
    -----
    Each number has a neighbour to each side. Where one of the two is no container, or has another network, the slope is
    that to the other side.

    At the engine's own tolerance a slope errs, as percent per percent, by some 2e-4 of the largest one: so one that is
    a thousandth of it, such as that of a seal's depth, is off by some percent of itself. The default here is a
    twentieth of that tolerance. `tests.benchmarks.gradient_cost` prints what it costs.

    References
    ----------
    Bock, H. G. (1981), "Numerical treatment of inverse problems in chemical reaction kinetics", in Modelling of
    Chemical Reaction Systems, Springer: differences of runs that share their steps ("internal numerical
    differentiation"). Cited from memory.
    """
    found = [_number(container, scenario, unknowns, path) for path in paths]
    values = np.array([value for value, _ in found])
    steps = relative_step * np.array([abs(value) or (TYPICAL.get(of, 1.0) if of else 1.0) for value, of in found])

    near = Neighbours(steps, is_central=True)
    numbers = dict(zip(paths, (values + near.moves).T, strict=True))
    runs = Lanes(*with_numbers(container, scenario, numbers, unknowns), len(near.moves))
    problems = _problems(runs)
    if problems[0]:
        raise InputError(problems[0])
    followed = follow(
        runs,
        limits,
        horizon=horizon,
        tolerance=tolerance or SHARP,
        stepper=stepper,
        family=np.zeros(runs.count, dtype=np.intp),  # they take the same steps
        is_valid=np.array([not problem for problem in problems]),
    )
    if not followed.is_good[0]:
        raise followed.failure(0)
    reasons = {
        Outcome.NOT_REACHED: f"a limit is not reached within the {horizon / 86400.0:g} days",
        Outcome.FAILED: "the computation gave up; please report the case",
    }
    base, up, down = near.sides(followed.hold_times)
    up[:, _lacks(up, base) == 1] = np.nan
    down[:, _lacks(down, base) == 1] = np.nan
    slopes = slopes_between(base, up, down, steps)
    sides = 2 - _lacks(up, base) - _lacks(down, base)
    none = {
        paths[k]: problems[1 + k] or reasons.get(Outcome(followed.outcome[1 + k]), "")
        for k in np.flatnonzero(sides == 0).tolist()
    }
    return Gradients(tuple(paths), followed.hold_times[:, 0], slopes, steps, sides < 2, none)


def _lacks(times: Array, base: Array) -> NDArray[np.int64]:
    """Return whether neighbours, (p,), do not reach a limit that the design itself reaches: 1 or 0."""
    return np.any(~np.isfinite(times) & np.isfinite(base), axis=0).astype(np.int64)


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
            raise InputError(f"is no unknown; {hint}allowed: {', '.join(UNKNOWN_NAMES)}", path)
        return float(getattr(unknowns, path.removeprefix(UNKNOWNS))), None
    with_numbers(container, scenario, {path: np.zeros(1)})  # refuses a path that leads nowhere
    place: Any = scenario if path.startswith(SCENARIO) else container
    *way, last = path.removeprefix(SCENARIO).split(".")
    for key in way:
        place = place[int(key)] if isinstance(place, tuple) else getattr(place, key)
    record: BaseModel = place
    quantity, value = quantity_fields(type(record)).get(last), getattr(record, last, None)
    if quantity is None:
        raise InputError("holds no number with a unit", path)
    if value is None:
        raise InputError("is left out in this design; give it there first", path)
    return float(value), quantity.dimension


# --- by what is not known of a run ----------------------------------------------------------------------------------

UNKNOWN_STEP = 0.5
"""In standard deviations of the prior: the mean slope over what is likely, not that at a point: some are wide."""

_ABOUT_CENTRE = Neighbours(np.full(len(PRIORS), UNKNOWN_STEP), is_central=True)

UNKNOWN_LANES = len(_ABOUT_CENTRE.moves)
"""Of a run and its neighbours."""

LASTING = tuple(name for name, prior in PRIORS.items() if prior.scope is not Scope.RUN)
"""Unknowns that a later run shares: what can be learnt."""

PASSING = tuple(name for name, prior in PRIORS.items() if prior.scope is Scope.RUN)
"""Unknowns that are anew in each run."""

CENTRE = dict.fromkeys(PRIORS, 0.0)
"""The best guess of every unknown, in units of its prior."""


@dataclass(frozen=True)
class TemperatureResponse:
    """Temperatures that a run would show, and how they answer to what is not known.

    Attributes
    ----------
    temperatures : (k,) array
        [K]
    lasting, passing : (k, p), (k, q) array
        Slopes by the unknowns, in units of their priors. [K]
    excess : (k,) array
        Over the room. [K]
    """

    temperatures: Array
    lasting: Array
    passing: Array
    excess: Array


def log_hold_time(
    container: Container,
    scenario: Scenario,
    limit: float,
    centre: Mapping[str, float] = CENTRE,
    stepper: MakeStepper | None = None,
) -> tuple[float, Array, Array]:
    """Return a hold time, and the slopes of its logarithm by the unknowns in units of their priors.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limit : float
        [K]
    centre : mapping of str to float
        Where the unknowns are, in units of their priors.
    stepper : callable, optional

    Returns
    -------
    float
        With the unknowns at the centre. [s]
    (p,), (q,) array
        By the lasting unknowns, and by the passing ones. [-]

    Raises
    ------
    InputError
        If the limit can't be reached, is not within the horizon, or a run could not be computed.
    """
    check_run(container, scenario, [limit])
    found = follow(_about(container, scenario, centre), [limit], stepper=stepper)
    _refuse_failed(found)
    times = found.hold_times[0]
    if not np.isfinite(times).all():
        message = (
            f"{limit - ZERO_CELSIUS:.1f} C is not reached within {DEFAULT_HORIZON / 86400.0:g} days; take another limit"
        )
        raise InputError(message, "until")
    return float(times[0]), *_by_unknown(np.log(times))


def temperature_response(
    container: Container,
    scenario: Scenario,
    times: Array,
    centre: Mapping[str, float] = CENTRE,
    stepper: MakeStepper | None = None,
) -> TemperatureResponse:
    """Return the temperatures at the readings of a run, and their slopes by the unknowns."""
    runs = _about(container, scenario, centre)
    temperatures = temperatures_at(runs, times, stepper)
    nominal = runs.take(np.zeros(1, dtype=np.intp)).scenario
    room = np.concatenate([room_temperature(nominal, 1).at(np.array([time])) for time in times])
    excess = np.maximum(np.abs(temperatures[:, 0] - room), 1e-3)
    return TemperatureResponse(temperatures[:, 0], *_by_unknown(temperatures), excess)


def temperatures_at(runs: Lanes, times: Array, stepper: MakeStepper | None = None) -> Array:
    """Return the contents' temperature at k times in n runs, (k, n). [K]

    Raises
    ------
    InputError
        If a run could not be computed.
    """
    found = follow(runs, [np.nan], horizon=float(times[-1]), record=True, stepper=stepper)
    _refuse_failed(found)
    return np.stack([found.temperature(run, times) for run in range(runs.count)], axis=1)


def _refuse_failed(found: Followed) -> None:
    for run in np.flatnonzero(~found.is_good).tolist():
        raise found.failure(run)


def _about(container: Container, scenario: Scenario, centre: Mapping[str, float]) -> Lanes:
    """Return a run at the centre, and its neighbours."""
    check_fill(container, scenario)
    normals = np.array([centre[name] for name in PRIORS]) + _ABOUT_CENTRE.moves
    values = {name: prior.values(column) for (name, prior), column in zip(PRIORS.items(), normals.T, strict=True)}
    return perturbed_runs(container, scenario, values, UNKNOWN_LANES)


def _by_unknown(results: Array) -> tuple[Array, Array]:
    """Return slopes of results, lanes last, by the lasting and by the passing unknowns, unknowns last."""
    slopes = dict(zip(PRIORS, np.moveaxis(_ABOUT_CENTRE.slopes(results), -1, 0), strict=True))
    lasting, passing = (np.stack([slopes[name] for name in names], axis=-1) for names in (LASTING, PASSING))
    return lasting, passing
