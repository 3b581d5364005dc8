"""What is optimised: points of a space, what they are worth, and what they miss; and a record of all that was asked.

Every objective is made smaller. A constraint is a miss: 0 or less where it is met, relative to its bound.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array

Asked = TypeVar("Asked", bound="Optimisable")

Kinds = NDArray[np.int64]

FEASIBLE = 1e-5
"""Largest relative miss that counts as met: what is left of it is rounding and the solver's own error. [-]"""


@dataclass(frozen=True)
class Candidates:
    """n points of a space.

    Attributes
    ----------
    shares : (n, p) array
        What varies continuously, from 0 at the low end of its range to 1 at the high end.
    kinds : (n, q) int array
        What is counted or chosen, as the number of the choice.
    """

    shares: Array
    kinds: Kinds

    @property
    def count(self) -> int:
        """Number of points n."""
        return len(self.shares)

    def some(self, rows: Sequence[int] | NDArray[np.intp]) -> "Candidates":
        """Return a part of them."""
        chosen = np.asarray(rows, dtype=np.intp)
        return Candidates(self.shares[chosen], self.kinds[chosen])

    def keys(self) -> list[bytes]:
        """Return what tells one point from another."""
        return [x.tobytes() + k.tobytes() for x, k in zip(self.shares, self.kinds, strict=True)]


def joined(parts: list[Candidates]) -> Candidates:
    """Return points of several sets, one after the other."""
    return Candidates(np.vstack([part.shares for part in parts]), np.vstack([part.kinds for part in parts]))


@dataclass(frozen=True)
class Values:
    """What n points are worth.

    Attributes
    ----------
    objectives : (n, m) array
        NaN for a point that there is no such design for.
    misses : (n, k) array
    """

    objectives: Array
    misses: Array

    def some(self, rows: Sequence[int] | NDArray[np.intp]) -> "Values":
        """Return a part of them."""
        chosen = np.asarray(rows, dtype=np.intp)
        return Values(self.objectives[chosen], self.misses[chosen])

    @property
    def meets(self) -> NDArray[np.bool_]:
        """Whether each point exists and misses nothing, (n,)."""
        exists = np.isfinite(self.objectives).all(axis=1)
        return np.asarray(exists & (np.nan_to_num(self.misses, nan=np.inf) <= FEASIBLE).all(axis=1))


@dataclass(frozen=True)
class Slopes:
    """What n points are worth, and how that changes with what varies continuously.

    Attributes
    ----------
    values : Values
    objectives : (n, m, p) array
        Per share of a range.
    misses : (n, k, p) array
    """

    values: Values
    objectives: Array
    misses: Array

    def some(self, rows: Sequence[int]) -> "Slopes":
        """Return a part of them."""
        return Slopes(self.values.some(rows), self.objectives[rows], self.misses[rows])


class Optimisable(Protocol):
    """What can be optimised."""

    @property
    def dimensions(self) -> int:
        """Number p of what varies continuously."""

    @property
    def choices(self) -> tuple[int, ...]:
        """How many choices each of q counted things has."""

    @property
    def is_cheap(self) -> NDArray[np.bool_]:
        """Which of k constraints `cheap_misses` tells, (k,)."""

    @property
    def size(self) -> tuple[int, int]:
        """Numbers m of objectives and k of constraints."""

    @property
    def accuracy(self) -> float:
        """Change of an objective, relative to its size, that says nothing any more. [-]"""

    def cheap_misses(self, points: Candidates) -> Array:
        """Return what points miss, (n, k), as far as that is known without work; NaN where there is no such design."""

    def values(self, points: Candidates) -> Values:
        """Return what points are worth."""

    def slopes(self, points: Candidates) -> Slopes:
        """Return the same with slopes."""


@dataclass
class Record:
    """A problem and every point that it was asked about, so that a search can be stopped and tell the best so far.

    Attributes
    ----------
    problem : Optimisable
    told : callable, optional
        Called after each answer.
    """

    problem: Optimisable
    told: Callable[[], None] | None = None
    points: list[Candidates] = field(default_factory=list)
    found: list[Values] = field(default_factory=list)
    _rows: dict[bytes, tuple[Array, Array]] = field(default_factory=dict)
    evaluations: int = 0

    def values(self, points: Candidates) -> Values:
        """Return what points are worth; those that were asked before are not asked again."""
        keys = points.keys()
        new = [k for k, key in enumerate(keys) if key not in self._rows]
        new = list({keys[k]: k for k in new}.values())
        if new:
            self._keep(points.some(new), self.problem.values(points.some(new)))
            self.evaluations += len(new)
        m, k = self.problem.size
        rows = [self._rows[key] for key in keys]
        if not rows:
            return Values(np.empty((0, m)), np.empty((0, k)))
        return Values(np.array([row[0] for row in rows]), np.array([row[1] for row in rows]))

    def slopes(self, points: Candidates) -> Slopes:
        """Return what points are worth, with slopes."""
        found = self.problem.slopes(points)
        self.evaluations += points.count * (1 + self.problem.dimensions)
        self._keep(points, found.values)
        return found

    def turned_to(self, problem: Asked) -> Asked:
        """Ask another problem of the same space from now on; answers of the last one only say where to start."""
        self.problem = problem
        self._rows.clear()
        return problem

    def _keep(self, points: Candidates, values: Values) -> None:
        self.points.append(points)
        self.found.append(values)
        for key, objectives, misses in zip(points.keys(), values.objectives, values.misses, strict=True):
            self._rows.setdefault(key, (objectives, misses))
        if self.told is not None:
            self.told()

    def all(self) -> tuple[Candidates, Values]:
        """Return everything that was asked, and the answers."""
        values = Values(
            np.vstack([part.objectives for part in self.found]), np.vstack([part.misses for part in self.found])
        )
        return joined(self.points), values
