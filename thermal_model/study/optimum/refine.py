"""From a good point to the best one near it: sequential quadratic programming (SciPy's SLSQP) on a problem's slopes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.numeric import Array
from thermal_model.study.optimum.in_step import in_step
from thermal_model.study.optimum.problem import FEASIBLE, Candidates, Kinds, Record, Slopes, Values

MOST_STEPS = 40
"""Of one refinement."""

TARGET_MARGIN = 0.2 * FEASIBLE
"""By how much a constraint is meant to be over-fulfilled, so that rounding does not break it. [-]"""


@dataclass(frozen=True)
class Cap:
    """The most that an objective may be, and the size that a miss of it is measured by."""

    objective: int
    most: float
    size: float

    def miss(self, objectives: Array) -> Array:
        """Return by how much objectives, (..., m), are over it, in its size."""
        return (objectives[..., self.objective] - self.most) / self.size


@dataclass(frozen=True)
class Task:
    """One refinement: which objective is made small, from where, and how large the others may be.

    Attributes
    ----------
    objective : int
    shares : (p,) array
    kinds : (q,) int array
    caps : tuple of Cap
        On other objectives.
    """

    objective: int
    shares: Array
    kinds: Kinds
    caps: tuple[Cap, ...] = ()


@dataclass(frozen=True)
class Refined:
    """Where a refinement ended: the best point that it met which meets all, else the last.

    Attributes
    ----------
    task : Task
    points : Candidates
        One.
    slopes : Slopes
        Of that one.
    meets : bool
        Every constraint, and every cap.
    steps : int
        Points it asked for.
    """

    task: Task
    points: Candidates
    slopes: Slopes
    meets: bool
    steps: int

    @property
    def objective(self) -> float:
        """What was made small."""
        return float(self.slopes.values.objectives[0, self.task.objective])

    @property
    def values(self) -> Values:
        """What the point is worth."""
        return self.slopes.values


def refined(record: Record, tasks: Sequence[Task]) -> list[Refined]:
    """Refine from several starts, side by side.

    Parameters
    ----------
    record : Record
    tasks : sequence of Task

    Returns
    -------
    list of Refined
    """

    def answer(asked: list[Any]) -> list[Slopes]:
        found = record.slopes(Candidates(np.array([x for x, _ in asked]), np.array([k for _, k in asked])))
        return [found.some([row]) for row in range(len(asked))]

    if not record.problem.dimensions:
        return [_as_it_is(record, task) for task in tasks]
    return in_step([_Descent(task, record.problem.accuracy).run for task in tasks], answer)


def _as_it_is(record: Record, task: Task) -> Refined:
    points = Candidates(task.shares[None, :], task.kinds[None, :])
    values = record.values(points)
    n, (m, k) = 1, record.problem.size
    slopes = Slopes(values, np.zeros((n, m, 0)), np.zeros((n, k, 0)))
    return Refined(task, points, slopes, bool(values.meets[0]) and _keeps(task, slopes), 1)


def _keeps(task: Task, slopes: Slopes) -> bool:
    return all(cap.miss(slopes.values.objectives[0]) <= FEASIBLE for cap in task.caps)


class _Descent:
    """One run of SLSQP; functions and slopes of a point come together, and points that do not exist are a wall."""

    ask: Callable[[Any], Any]

    def __init__(self, task: Task, accuracy: float) -> None:
        self.task, self.accuracy = task, accuracy
        self.asked: dict[bytes, Slopes] = {}
        self.best: tuple[float, bytes] | None = None
        self.last: bytes = b""
        self.scale, self.worst = 1.0, 0.0

    def run(self, ask: Callable[[Any], Any]) -> Refined:
        from scipy.optimize import minimize

        self.ask = ask
        start = np.clip(self.task.shares, 0.0, 1.0)
        first = self._at(start)
        size = abs(float(first.values.objectives[0, self.task.objective]))
        self.scale = size if np.isfinite(size) and size > 1e-12 else 1.0
        minimize(
            self._value,
            start,
            jac=self._slope,
            bounds=[(0.0, 1.0)] * len(start),
            constraints=self._constraints(first),
            method="SLSQP",
            options={"maxiter": MOST_STEPS, "ftol": self.accuracy},
        )
        key = self.best[1] if self.best is not None else self.last
        point = np.frombuffer(key, dtype=float)
        points = Candidates(point[None, :].copy(), self.task.kinds[None, :])
        return Refined(self.task, points, self.asked[key], self.best is not None, len(self.asked))

    def _at(self, x: Array) -> Slopes:
        x = np.clip(x, 0.0, 1.0)
        key = x.tobytes()
        if key not in self.asked:
            found = self.asked[key] = self.ask((x, self.task.kinds))
            value = float(found.values.objectives[0, self.task.objective])
            if np.isfinite(value):
                self.worst = max(self.worst, abs(value))
                self.last = key
            if found.values.meets[0] and _keeps(self.task, found) and (self.best is None or value < self.best[0]):
                self.best = (value, key)
            self.last = self.last or key
        return self.asked[key]

    def _value(self, x: Array) -> float:
        value = float(self._at(x).values.objectives[0, self.task.objective])
        return value / self.scale if np.isfinite(value) else 10.0 * (1.0 + self.worst / self.scale)

    def _slope(self, x: Array) -> Array:
        return np.nan_to_num(self._at(x).objectives[0, self.task.objective] / self.scale)

    def _constraints(self, first: Slopes) -> list[dict[str, Any]]:
        if not first.misses.shape[1] and not self.task.caps:
            return []
        return [{"type": "ineq", "fun": self._spare, "jac": self._spare_slopes}]

    def _spare(self, x: Array) -> Array:
        found = self._at(x).values
        misses = np.nan_to_num(found.misses[0], nan=1.0, posinf=1.0)
        over = [cap.miss(found.objectives[0]) for cap in self.task.caps]
        return -np.append(misses, np.nan_to_num(over, nan=1.0)) - TARGET_MARGIN

    def _spare_slopes(self, x: Array) -> Array:
        found = self._at(x)
        over = [found.objectives[0, cap.objective] / cap.size for cap in self.task.caps]
        return -np.nan_to_num(np.vstack([found.misses[0], *over]))
