"""What a sweep computes of every design besides its hold times: where the heat goes, and an interval."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.assemble.checks import is_possible
from thermal_model.assemble.lanes import Lanes
from thermal_model.batch import Table, lots, with_kinds, with_numbers
from thermal_model.follow import LANES_AT_ONCE, follow
from thermal_model.prediction import split_of_runs
from thermal_model.solver.engine import MakeStepper, Outcome
from thermal_model.solver.network import PATHS
from thermal_model.solver.scatter import Indices
from thermal_model.solver.stepping import Tolerance
from thermal_model.study.prior_table import with_priors
from thermal_model.study.question import Question
from thermal_model.study.screen import quantiles
from thermal_model.uncertainty import Sample


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
    stepper: MakeStepper,
    tolerance: Tolerance,
) -> tuple[Array, Array]:
    """Return what nine in ten of the drawn containers of every row lie between, low and high, (m, n) each. [s]

    Every row has the same draws, so that rows compare. Infinite where the draw does not reach the limit; NaN where the
    row makes no run.
    """
    low, high = np.full((2, len(limits), table.count), np.nan)
    draws = sample.count - 1
    for kinds, numbers, rows in table.groups():
        for some in _few(rows, draws):
            own = {path: column[np.searchsorted(rows, some)] for path, column in numbers.items()}
            try:
                container, scenario = with_kinds(question.container, question.scenario, kinds)
                asked = replace(question, container=container, scenario=scenario)
                runs = _drawn(asked, own, len(some), sample)
            except InputError:
                continue  # these kinds make no container, or have no such number
            found = follow(runs, limits, horizon=question.horizon, stepper=stepper, tolerance=tolerance)
            never = (found.outcome == Outcome.NOT_REACHED) & np.isnan(found.hold_times)
            times = np.where(never, np.inf, found.hold_times)
            times = times.reshape(len(limits), len(some), draws) * sample.stretch[1:]
            for limit, at_limit in enumerate(times):
                low[limit, some], high[limit, some] = np.array([quantiles(one) for one in at_limit]).T
    return low, high


def _few(rows: Indices, draws: int) -> Iterator[Indices]:
    size = max(LANES_AT_ONCE // draws, 1)
    for start in range(0, len(rows), size):
        yield rows[start : start + size]


def _drawn(question: Question, numbers: dict[str, Array], count: int, sample: Sample) -> Lanes:
    draws = sample.count - 1
    lanes = count * draws
    many = {path: np.repeat(column, draws) for path, column in numbers.items()}
    normals = {name: np.tile(normal[1:], count) for name, normal in sample.standard_normals.items()}
    columns = with_priors(question, many, normals, lanes)
    return Lanes(*with_numbers(question.container, question.scenario, columns, question.unknowns), lanes)
