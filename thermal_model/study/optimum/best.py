"""The best point: a search over all of a space, refinement from several starts, then neighbours in what is counted."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.study.optimum.global_search import search
from thermal_model.study.optimum.problem import Candidates, Kinds, Record, Values
from thermal_model.study.optimum.refine import Refined, Task, refined

STARTS = 6
"""Refinements from different places; how far apart they end says how sure the best one is."""

APART = 0.15
"""Of the diagonal of the space, between two starts of the same kinds. [-]"""

MOST_ROUNDS = 6
"""Of neighbours in what is counted."""


@dataclass(frozen=True)
class Best:
    """The best point that was found.

    Attributes
    ----------
    end : Refined
    ends : tuple of Refined
        Of all starts that met every constraint, the best first.
    evaluations : int
        Points that were computed, slopes included.
    """

    end: Refined
    ends: tuple[Refined, ...]
    evaluations: int


def best(record: Record, objective: int, *, budget: int, seed: int) -> Best | None:
    """Find the smallest value of an objective under all constraints.

    Parameters
    ----------
    record : Record
    objective : int
    budget : int
        Points that the search over all of the space computes, about; refinement comes on top.
    seed : int

    Returns
    -------
    Best or None
        None where no point meets every constraint.
    """
    search(record, objective, budget, seed)
    tasks = [Task(objective, shares, kinds) for shares, kinds in starts(record, objective, STARTS)]
    ends = refined(record, tasks)
    ends += list(_neighbours(record, objective, ends))
    good = sorted((end for end in ends if end.meets), key=lambda end: end.objective)
    return Best(good[0], tuple(good), record.evaluations) if good else None


def starts(record: Record, objective: int, count: int, caps: Values | None = None) -> list[tuple[Array, Kinds]]:
    """Return the best places found so far that lie apart; where none meets all, those that miss least.

    Parameters
    ----------
    record : Record
    objective : int
    count : int
    caps : Values, optional
        Rewritten values of the record's points, where more is asked of them than by the problem.
    """
    points, found = record.all()
    values = found if caps is None else caps
    exists = np.isfinite(values.objectives[:, objective])
    over = np.maximum(np.nan_to_num(values.misses, nan=1e3), 0.0).sum(axis=1)
    over[values.meets] = 0.0
    order = np.lexsort((np.where(exists, values.objectives[:, objective], np.inf), over))
    chosen: list[int] = []
    for row in order.tolist():
        if exists[row] and all(_are_apart(points, row, other) for other in chosen):
            chosen.append(row)
        if len(chosen) == count:
            break
    return [(points.shares[row].copy(), points.kinds[row].copy()) for row in chosen]


def _are_apart(points: Candidates, one: int, other: int) -> bool:
    if (points.kinds[one] != points.kinds[other]).any():
        return True
    distance = np.linalg.norm(points.shares[one] - points.shares[other])
    return bool(distance > APART * np.sqrt(max(points.shares.shape[1], 1)))


def _neighbours(record: Record, objective: int, ends: list[Refined]) -> Iterator[Refined]:
    """Yield refinements from the best end with one counted thing changed, until none of them is better."""
    tried = {end.points.kinds[0].tobytes() for end in ends if end.meets}
    for _ in range(MOST_ROUNDS):
        good = [end for end in ends if end.meets]
        if not good or not record.problem.choices:
            return
        top = min(good, key=lambda end: end.objective)
        kinds = [
            other for other in _one_changed(top.points.kinds[0], record.problem.choices) if other.tobytes() not in tried
        ]
        if not kinds:
            return
        tried |= {other.tobytes() for other in kinds}
        new = refined(record, [Task(objective, top.points.shares[0], other) for other in kinds])
        ends = [*ends, *new]
        yield from new
        if not any(end.meets and end.objective < top.objective for end in new):
            return


def _one_changed(kinds: Kinds, choices: tuple[int, ...]) -> Iterator[Kinds]:
    for place, size in enumerate(choices):
        for choice in range(size):
            if choice != kinds[place]:
                other = kinds.copy()
                other[place] = choice
                yield other
