"""The Pareto front of two objectives or more: one refined under caps on the others, from the best places known."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.study.optimum.best import Best, best, starts
from thermal_model.study.optimum.problem import Record, Values
from thermal_model.study.optimum.refine import Cap, Refined, Task, refined

STARTS_EACH = 2
"""Places from which each point of the front is looked for, besides its neighbours on the front."""

NEIGHBOURS = 2
"""Points of the front from which the next one between them is looked for."""

ROUNDS = 3
"""Times that caps are put into the widest gaps of what is there."""

SAME = 1e-3
"""Of the span of every objective, within which two points of a front are one. [-]"""


@dataclass(frozen=True)
class Front:
    """Points none of which is beaten in all objectives by another.

    Attributes
    ----------
    ends : tuple of Refined
        By the first objective, the smallest first.
    alone : tuple of Best
        The best in each objective by itself.
    evaluations : int
    """

    ends: tuple[Refined, ...]
    alone: tuple[Best, ...]
    evaluations: int


def front(record: Record, *, size: int, budget: int, seed: int) -> Front | None:
    """Find a front.

    Parameters
    ----------
    record : Record
    size : int
        Points of the front, about.
    budget : int
        Points that each search over all of the space computes, about.
    seed : int

    Returns
    -------
    Front or None
        None where no point meets every constraint.
    """
    alone = []
    for number in range(record.problem.size[0]):
        found = best(record, number, budget=budget, seed=seed + number)
        if found is None:
            return None
        alone.append(found)
    ends = [end for found in alone for end in found.ends]
    ends += _refined(record, _corners(alone, ends))
    for _ in range(ROUNDS):
        good = not_beaten(ends)
        sizes = _spans(good)
        caps = _caps(good, sizes, -(-size // ROUNDS))
        ends = good + _refined(record, [task for cap in caps for task in _tasks(record, cap, good)])
    return Front(tuple(not_beaten(ends)), tuple(alone), record.evaluations)


def _refined(record: Record, tasks: list[Task]) -> list[Refined]:
    return [end for end in refined(record, tasks) if end.meets] if tasks else []


def _spans(ends: list[Refined]) -> Array:
    values = np.array([end.values.objectives[0] for end in ends])
    return np.maximum(values.max(axis=0) - values.min(axis=0), 1e-12)


def _corners(alone: list[Best], ends: list[Refined]) -> list[Task]:
    """Return refinements of the first objective where another is at its best: else a corner may be beaten nearly."""
    sizes = _spans(ends)
    return [
        Task(0, one.end.points.shares[0], one.end.points.kinds[0], (Cap(number, one.end.objective, sizes[number]),))
        for number, one in enumerate(alone)
        if number > 0
    ]


def not_beaten(ends: list[Refined]) -> list[Refined]:
    """Return the ends that no other one beats, by the first objective; of those that are nearly the same one."""
    values = np.array([end.values.objectives[0] for end in ends])
    rows = np.flatnonzero(is_not_beaten(values))
    rows = rows[np.lexsort(values[rows].T[::-1])]
    spans = np.maximum(values[rows].max(axis=0) - values[rows].min(axis=0), 1e-12)
    kept: list[int] = []
    for row in rows.tolist():
        if not any((np.abs(values[row] - values[other]) <= SAME * spans).all() for other in kept):
            kept.append(row)
    return [ends[row] for row in kept]


def is_not_beaten(values: Array) -> NDArray[np.bool_]:
    """Return which of n rows of objectives, (n, m), no other beats.

    Examples
    --------
    >>> is_not_beaten(np.array([[1.0, 3.0], [2.0, 2.0], [2.0, 4.0], [2.0, 2.0]])).tolist()
    [True, True, False, False]
    """
    kept = np.ones(len(values), dtype=bool)
    for row, own in enumerate(values):
        no_worse = (values <= own).all(axis=1)
        is_better = no_worse & (values < own).any(axis=1)
        is_same_before = no_worse & (values == own).all(axis=1) & (np.arange(len(values)) < row)
        kept[row] = not (is_better | is_same_before).any()
    return kept


def _caps(good: list[Refined], sizes: Array, count: int) -> list[tuple[Cap, ...]]:
    """Return caps on all objectives but the first, in the widest gaps between points that are there."""
    if len(good) < 2:
        return []
    scaled = [end.values.objectives[0] / sizes for end in good]
    caps = []
    for _ in range(count):
        middle = _middle_of_widest_gap(scaled)
        scaled.append(middle)
        caps.append(tuple(Cap(k, float(middle[k] * sizes[k]), float(sizes[k])) for k in range(1, len(sizes))))
    return caps


def _middle_of_widest_gap(scaled: list[Array]) -> Array:
    """Return the middle of the two neighbours that lie farthest apart.

    Of two objectives neighbours follow each other; of more, each point is counted with its nearest.
    """
    places = np.array(sorted(scaled, key=lambda place: float(place[1])))
    if places.shape[1] == 2:
        one = int(np.argmax(np.linalg.norm(np.diff(places, axis=0), axis=1)))
        return np.asarray(0.5 * (places[one] + places[one + 1]))
    distance = np.linalg.norm(places[:, None] - places[None], axis=2)
    np.fill_diagonal(distance, np.inf)
    one = int(np.argmax(distance.min(axis=1)))
    return np.asarray(0.5 * (places[one] + places[int(np.argmin(distance[one]))]))


def _tasks(record: Record, caps: tuple[Cap, ...], good: list[Refined]) -> list[Task]:
    """Return refinements under caps: from the nearest points of the front, and from the best places known."""
    _, values = record.all()
    over = np.column_stack([cap.miss(values.objectives) for cap in caps])
    places = starts(record, 0, STARTS_EACH, Values(values.objectives, np.hstack([values.misses, over])))
    away = [max(abs(float(cap.miss(end.values.objectives[0]))) for cap in caps) for end in good]
    near = [good[row] for row in np.argsort(away, kind="stable")[:NEIGHBOURS]]
    places += [(end.points.shares[0], end.points.kinds[0]) for end in near]
    return [Task(0, shares, kinds, caps) for shares, kinds in places]
