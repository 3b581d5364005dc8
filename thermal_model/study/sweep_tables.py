"""What is told of every design of a table besides its hold time: where the heat goes, an interval, and measures."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from geometries.numeric import Array
from thermal_model.assemble.checks import is_possible
from thermal_model.batch import Lot, Table, evaluate, lots
from thermal_model.follow import LANES_AT_ONCE
from thermal_model.prediction import split_of_runs
from thermal_model.solver.engine import MakeStepper, Outcome
from thermal_model.solver.network import PATHS
from thermal_model.solver.steppers import stepper_for
from thermal_model.solver.stepping import Tolerance
from thermal_model.study.measures import Measure
from thermal_model.study.question import Question
from thermal_model.uncertainty import Sample, low_high
from thermal_model.work_done import ShareDone, part_of


def heat_paths(question: Question, table: Table, limits: Sequence[float]) -> Array:
    """Return the split of the heat loss coefficient of every row over PATHS, as `prediction.heat_paths`.

    Parameters
    ----------
    question : Question
        What the rows start from.
    table : Table
        Of n rows.
    limits : sequence of float
        [K]

    Returns
    -------
    (len(PATHS), n) array
        NaN for rows that make no run. [W K-1]
    """
    found = np.full((len(PATHS), table.count), np.nan)
    for lot in lots(question.container, question.scenario, table, question.unknowns):
        if lot.runs is None:
            continue
        good = np.flatnonzero(is_possible(lot.runs))
        found[:, lot.rows[good]] = split_of_runs([lot.runs.take(good)] if len(good) else [], limits)
    return found


def intervals(
    question: Question,
    table: Table,
    limits: Sequence[float],
    sample: Sample,
    *,
    stepper: MakeStepper | None = None,
    tolerance: Tolerance | None = None,
    progress: ShareDone | None = None,
) -> tuple[Array, Array]:
    """Return what nine in ten of the drawn containers of every row lie between, low and high, (m, n) each. [s]

    Every row has the same draws, so that rows compare. Infinite where the draw does not reach the limit; NaN where the
    row makes no run.
    """
    low, high = np.full((2, len(limits), table.count), np.nan)
    draws = sample.count - 1
    normals = {name: normal[1:] for name, normal in sample.standard_normals.items()}
    in_order, size = np.concatenate([rows for _, _, rows in table.groups()]), max(LANES_AT_ONCE // draws, 1)
    for start in range(0, table.count, size):
        rows = in_order[start : start + size]
        found = evaluate(
            question.container,
            question.scenario,
            table.drawn(rows, normals),
            limits,
            horizon=question.horizon,
            unknowns=question.unknowns,
            tolerance=tolerance,
            stepper=stepper or stepper_for(table.count * draws),
            progress=part_of(progress, start / table.count, (start + len(rows)) / table.count),
        )
        never = (found.outcome == Outcome.NOT_REACHED) & np.isnan(found.hold_times)
        times = np.where(never, np.inf, found.hold_times)
        times = times.reshape(len(limits), len(rows), draws) * sample.stretch[1:]
        for limit, at_limit in enumerate(times):
            low[limit, rows], high[limit, rows] = np.array([low_high(one) for one in at_limit]).T
    return low, high


def measured(found: Iterable[Lot], measures: Mapping[str, Measure], count: int) -> dict[str, Array]:
    """Return what the n rows of a table measure, (n,) by name, NaN for those that make no container. [SI]"""
    columns = {name: np.full(count, np.nan) for name in measures}
    for lot in found:
        if lot.runs is None:
            continue
        good = is_possible(lot.runs)
        for name, measure in measures.items():
            own = np.broadcast_to(measure.of(lot.runs.container, lot.runs.scenario), good.shape)
            columns[name][lot.rows] = np.where(good, own, np.nan)
    return columns
