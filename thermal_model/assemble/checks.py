"""What of a run can't be: one check for a single run and for every lane of a batch."""

from collections.abc import Iterator
from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from geometries.checks import DimensionProblem, bound_problems, dimension_problems
from thermal_model.assemble.contents import filling_problems
from thermal_model.assemble.lanes import Lanes
from thermal_model.assemble.timeline import opening_problems
from thermal_model.scenario import condition_problems
from thermal_model.unknowns import Unknowns


def run_problems(runs: Lanes) -> list[DimensionProblem]:
    """Return what of n runs can't be, dimensions first; where two problems meet, the first says why."""
    with np.errstate(all="ignore"):  # what one check refuses may be no number to the next
        scenario = [*bound_problems(runs.scenario), *condition_problems(runs.scenario)]
        return [
            *dimension_problems(runs.container),
            *(replace(problem, field=f"scenario.{problem.field}") for problem in scenario),
            *filling_problems(runs.container, runs.scenario),
            *opening_problems(runs.container, runs.scenario, runs.count),
            *_multiplier_problems(runs.unknowns),
        ]


def _multiplier_problems(unknowns: Unknowns) -> Iterator[DimensionProblem]:
    for field in fields(unknowns):
        is_wrong = np.asarray(~(np.isfinite(value := getattr(unknowns, field.name)) & np.greater(value, 0.0)))
        if is_wrong.any():
            yield DimensionProblem(f"unknowns.{field.name}", "must be above zero", is_wrong)


def is_possible(runs: Lanes) -> NDArray[np.bool_]:
    """Return whether each of n runs can be."""
    possible = np.ones(runs.count, dtype=bool)
    for problem in run_problems(runs):
        possible &= ~problem.mask
    return possible
