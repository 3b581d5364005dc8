"""Sums of rows onto shared targets, always in the same order, whatever the number of lanes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array

Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Scatter:
    """Where rows go: `targets` in rising order, and how rows are gathered for each."""

    order: Indices
    starts: Indices
    targets: Indices

    @classmethod
    def onto(cls, targets: Indices) -> "Scatter":
        """Prepare sums of rows that share a target, (l,)."""
        order = np.argsort(targets, kind="stable")
        unique, starts = np.unique(targets[order], return_index=True)
        return cls(order, starts, unique)

    def sum(self, rows: Array, size: int) -> Array:
        """Return (size, n) sums of rows (l, n) onto their targets."""
        total = np.zeros((size, rows.shape[1]))
        if len(self.targets):
            total[self.targets] = self._sums(rows)
        return total

    def subtract(self, total: Array, rows: Array) -> None:
        """Subtract rows (l, n) from their targets in an array, in place."""
        total[self.targets] -= self._sums(rows)

    def _sums(self, rows: Array) -> Array:
        return np.add.reduceat(rows[self.order], self.starts, axis=0)


def sum_of_rows(rows: Array) -> Array:
    """Return the sum of rows (l, n), (n,); NumPy's own sum takes another order where there is a single lane."""
    return np.add.reduceat(rows, [0], axis=0)[0] if len(rows) else np.zeros(rows.shape[1])
