"""Gaussian elimination for a matrix whose pattern is that of a network, many matrices at a time.

A thermal network's matrix is diagonally dominant, so it needs no pivoting; its pattern never changes, so the
order of elimination and the fill are found once.
"""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.network import Indices


@dataclass(frozen=True)
class _Pivot:
    node: int
    rows: Indices
    diagonal: int
    column: Indices
    row: Indices
    update_target: Indices
    update_left: Indices
    update_right: Indices


class Elimination:
    """Order of elimination of a symmetric pattern, and the factorisation and solution in that order.

    Parameters
    ----------
    size : int
        Number of unknowns N.
    first, second : (l,) int array
        The pairs of unknowns that are coupled.
    """

    def __init__(self, size: int, first: Indices, second: Indices) -> None:
        neighbours = [set[int]() for _ in range(size)]
        for a, b in zip(first.tolist(), second.tolist(), strict=True):
            if a != b:
                neighbours[a].add(b)
                neighbours[b].add(a)
        eliminated = _minimum_degree(neighbours)
        self._slots = {(k, k): k for k in range(size)}
        for k, later in eliminated:
            for i in later:
                self._slots.setdefault((i, k), len(self._slots))
                self._slots.setdefault((k, i), len(self._slots))
        self.entry_count = len(self._slots)
        self._pivots = [self._pivot(k, later) for k, later in eliminated]

    def slots(self, rows: Indices, columns: Indices) -> Indices:
        """Return where the entries of these rows and columns are kept, (l,)."""
        return np.array([self._slots[pair] for pair in zip(rows.tolist(), columns.tolist(), strict=True)])

    def _pivot(self, k: int, later: list[int]) -> _Pivot:
        pairs = [(i, j) for i in later for j in later]
        return _Pivot(
            node=k,
            rows=np.array(later, dtype=np.intp),
            diagonal=self._slots[k, k],
            column=np.array([self._slots[i, k] for i in later], dtype=np.intp),
            row=np.array([self._slots[k, i] for i in later], dtype=np.intp),
            update_target=np.array([self._slots[i, j] for i, j in pairs], dtype=np.intp),
            update_left=np.array([self._slots[i, k] for i, _ in pairs], dtype=np.intp),
            update_right=np.array([self._slots[k, j] for _, j in pairs], dtype=np.intp),
        )

    def factorise(self, entries: Array) -> Array:
        """Factorise matrices given by their entries (entry_count, n), in place; return the same array.

        The diagonal then holds the reciprocal pivots.
        """
        for pivot in self._pivots:
            reciprocal = 1.0 / entries[pivot.diagonal]
            entries[pivot.diagonal] = reciprocal
            if len(pivot.rows):
                entries[pivot.column] *= reciprocal
                entries[pivot.update_target] -= entries[pivot.update_left] * entries[pivot.update_right]
        return entries

    def solve(self, factors: Array, right: Array) -> Array:
        """Return the solutions (N, n) for right-hand sides (N, n)."""
        solution = right.copy()
        for pivot in self._pivots:
            if len(pivot.rows):
                solution[pivot.rows] -= factors[pivot.column] * solution[pivot.node]
        for pivot in reversed(self._pivots):
            known = solution[pivot.node]
            if len(pivot.rows):
                known = known - (factors[pivot.row] * solution[pivot.rows]).sum(axis=0)
            solution[pivot.node] = known * factors[pivot.diagonal]
        return solution


def _minimum_degree(neighbours: list[set[int]]) -> list[tuple[int, list[int]]]:
    """Return the unknowns in order of elimination, each with those it is still coupled to then."""
    graph = {k: set(others) for k, others in enumerate(neighbours)}
    order = []
    while graph:
        k = min(graph, key=lambda node: (len(graph[node]), node))
        later = sorted(graph.pop(k))
        for i in later:
            graph[i].discard(k)
            graph[i].update(j for j in later if j != i)
        order.append((k, later))
    return order
