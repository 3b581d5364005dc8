"""The best of many designs under constraints: hold time against mass, mouth or whatever else a designer cares for."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.batch import Lot, lots
from thermal_model.follow import follow
from thermal_model.solver.engine import Outcome
from thermal_model.solver.scatter import Indices
from thermal_model.study import sweep_tables
from thermal_model.study.axes import Axis
from thermal_model.study.measures import HOLD, MEASURES, Constraint, Measure
from thermal_model.study.question import Question
from thermal_model.study.sampling import Plan, Rows, table_of
from thermal_model.study.sweep_tables import measured
from thermal_model.work_done import ShareDone

MOST_DESIGNS = 200_000

SHOWN = 12
"""Designs of a front that get an interval."""


@dataclass(frozen=True)
class Screening:
    """n designs, what they measure, and which of them no other beats.

    Attributes
    ----------
    plan : Plan
    values : dict of str to (n,) array
        What is varied, by path, as `Axis.points`.
    against : Measure
    measures : dict of str to (n,) array
        By name; NaN for a design that makes no container. [SI]
    hold_times : (n,) array
        Infinite where the limit is not reached; NaN where nothing was computed. [s]
    meets : (n,) bool array
        Makes a container and meets every constraint.
    invalid : int
        Designs that make no container.
    reason : str
        Why the first of these does not.
    failed : int
        Designs whose computation failed.
    front : (f,) int array
        Rows no other design beats in both, from the best of `against` on.
    """

    plan: Plan
    values: dict[str, Array]
    against: Measure
    measures: dict[str, Array]
    hold_times: Array
    meets: NDArray[np.bool_]
    invalid: int
    reason: str
    failed: int
    front: Indices

    @property
    def shown(self) -> Indices:
        """SHOWN of the front, evenly spread, both ends included."""
        if len(self.front) <= SHOWN:
            return self.front
        return self.front[np.round(np.linspace(0, len(self.front) - 1, SHOWN)).astype(int)]


def screen(
    question: Question,
    plan: Plan,
    constraints: Sequence[Constraint],
    against: Measure,
    *,
    progress: ShareDone | None = None,
) -> Screening:
    """Compute the hold times of the designs that meet the constraints, and their Pareto front.

    Parameters
    ----------
    question : Question
    plan : Plan
        Which designs.
    constraints : sequence of Constraint
        What can be measured is checked before anything is computed.
    against : Measure
        What is weighed against the hold time.
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If no design makes a container, or none meets the constraints: names the nearest.
    """
    values = dict(plan.rows(0, plan.count).values)
    found = lots(question.container, question.scenario, table_of(plan.axes, Rows(values)), question.unknowns)
    parts = sorted(found, key=lambda lot: lot.runs is not None)  # kinds that make no container are told first
    reasons = [str(problem) for lot in parts for _, problem in islice(lot.problems(), 1)]
    wanted = {m.name: m for m in (*MEASURES.values(), against, *(c.measure for c in constraints)) if m.name != HOLD}
    measures = measured(parts, wanted, plan.count)
    is_there = np.isfinite(measures["mass"])
    if not is_there.any():
        raise InputError(f"none of the {plan.count} designs makes a container; the first: {reasons[0]}")
    measurable = [c for c in constraints if c.measure.name != HOLD]
    meets = is_there & _meet(measurable, measures, plan.count)
    if not meets.any():
        raise InputError(_nearest(measurable, measures, is_there, plan.axes, values))
    hold_times = _hold_times(question, parts, meets, progress)
    failed = int((meets & np.isnan(hold_times)).sum())
    is_held = meets & ~np.isnan(hold_times)
    if not is_held.any():
        raise InputError("the computation gave up on every design that meets the constraints; please report the case")
    measures[HOLD] = hold_times
    meets = is_held & _meet(constraints, measures, plan.count)
    if not meets.any():
        raise InputError(_nearest(constraints, measures, is_held, plan.axes, values))
    front = pareto_front(hold_times, measures[against.name], meets, less_is_better=against.less_is_better)
    invalid = int((~is_there).sum())
    reason = reasons[0] if reasons else ""
    return Screening(plan, values, against, measures, hold_times, meets, invalid, reason, failed, front)


def _meet(constraints: Sequence[Constraint], measures: dict[str, Array], count: int) -> NDArray[np.bool_]:
    meets = np.ones(count, dtype=bool)
    for constraint in constraints:
        meets &= np.asarray(constraint.miss(measures[constraint.measure.name])) <= 0.0
    return meets


def _nearest(
    constraints: Sequence[Constraint],
    measures: dict[str, Array],
    among: NDArray[np.bool_],
    axes: Sequence[Axis],
    values: dict[str, Array],
) -> str:
    """Say which design comes nearest to the constraints, by the largest of its relative misses."""
    misses = np.stack([np.asarray(c.miss(measures[c.measure.name])) for c in constraints])
    worst = np.where(among, np.nan_to_num(misses.max(axis=0), nan=np.inf, posinf=np.inf), np.inf)
    row = int(np.argmin(worst))
    where = ", ".join(f"{axis.path} = {axis.text(values[axis.path][row])}" for axis in axes)
    parts = []
    for constraint, miss in zip(constraints, misses[:, row], strict=True):
        if not miss <= 0.0:
            parts.append(f"{constraint.measure.text(measures[constraint.measure.name][row])}, not {constraint.text()}")
    return f"no design meets the constraints; the nearest ({where}) has {'; '.join(parts)}"


def _hold_times(
    question: Question, parts: Sequence[Lot], among: NDArray[np.bool_], progress: ShareDone | None
) -> Array:
    """Return hold times by row: infinite where the limit is not reached, NaN where there is none. [s]"""
    times = np.full(len(among), np.nan)
    chosen = [(lot.runs, lot.rows, among[lot.rows]) for lot in parts if lot.runs is not None]
    runs = [lanes.take(np.flatnonzero(own)) for lanes, _, own in chosen if own.any()]
    found = follow(runs, [question.limit], horizon=question.horizon, progress=progress)
    rows = np.concatenate([rows[own] for _, rows, own in chosen])
    times[rows] = np.where(found.outcome == Outcome.NOT_REACHED, np.inf, found.hold_times[0])
    return times


def pareto_front(hold_times: Array, against: Array, among: NDArray[np.bool_], *, less_is_better: bool) -> Indices:
    """Return the designs that no other one beats: none holds longer and is at least as good in the other, or equal.

    Parameters
    ----------
    hold_times : (n,) array
        More is better. [s]
    against : (n,) array
    among : (n,) bool array
        The designs that count.
    less_is_better : bool
        Of `against`.

    Returns
    -------
    (f,) int array
        Rows, from the best of `against` on; of equal designs the first.

    Examples
    --------
    >>> times, masses = np.array([5.0, 6.0, 4.0, 7.0]), np.array([1.0, 2.0, 3.0, 4.0])
    >>> pareto_front(times, masses, np.ones(4, dtype=bool), less_is_better=True).tolist()
    [0, 1, 3]
    """
    cost = against if less_is_better else -against
    rows = np.flatnonzero(among & ~np.isnan(cost))
    order = rows[np.lexsort((-hold_times[rows], cost[rows]))]
    best = np.concatenate([[-np.inf], np.maximum.accumulate(hold_times[order])[:-1]])
    return order[hold_times[order] > best]


def intervals(
    question: Question, found: Screening, *, draws: int, seed: int, progress: ShareDone | None = None
) -> dict[int, tuple[float, float]]:
    """Return the quantiles INTERVAL of the hold times of the designs shown, over the priors of the unknowns.

    Parameters
    ----------
    question : Question
    found : Screening
    draws : int
        The same for every design, so that they compare.
    seed : int
    progress : callable, optional

    Returns
    -------
    dict of int to (float, float)
        By row; infinite where that quantile does not reach the limit. [s]
    """
    rows = Rows({path: column[found.shown] for path, column in found.values.items()})
    sample = question.sample(draws, seed)
    low, high = sweep_tables.intervals(
        question, table_of(found.plan.axes, rows), [question.limit], sample, progress=progress
    )
    ends = zip(low[0].tolist(), high[0].tolist(), strict=True)
    return dict(zip(found.shown.tolist(), ends, strict=True))


def check_count(count: int) -> None:
    """Refuse more designs than a screening is meant for.

    Raises
    ------
    InputError
    """
    if count > MOST_DESIGNS:
        message = (
            f"{count} designs are too many to screen at once, at most {MOST_DESIGNS}; give fewer steps, "
            "or leave the steps out and say --count"
        )
        raise InputError(message, source="--vary")
