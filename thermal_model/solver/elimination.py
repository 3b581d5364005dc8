"""Gaussian elimination for a matrix whose pattern is that of a network, many matrices at a time.

A thermal network's matrix is diagonally dominant, so it needs no pivoting; its pattern never changes, so the
order of elimination and the fill are found once. Unknowns that are not coupled are eliminated together, a level
at a time, so that a level costs a few array operations; the well-knit rest is inverted as a dense matrix.
"""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from itertools import product

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.scatter import Indices, Scatter

Couplings = dict[int, list[int]]
"""Unknowns that are eliminated together, each with what it is still coupled to then."""


@dataclass(frozen=True)
class _Level:
    """Pivots eliminated together, and for each what it is still coupled to (its later unknowns)."""

    pivots: Indices
    column: Indices
    row: Indices
    owner: Indices
    later: Indices
    update: Scatter
    update_left: Indices
    update_right: Indices
    onto_later: Scatter
    onto_pivots: Scatter


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
        levels, core = independent_levels(size, first, second, SMALLEST_LEVEL)
        self._slots = numbered_entries(size, levels)
        for pair in product(core, core):
            self._slots.setdefault(pair, len(self._slots))
        self.entry_count = len(self._slots)
        self._core = np.array(core, dtype=np.intp)
        self._core_slots = self._slots_of(product(core, core))
        self._levels = [self._level(level) for level in levels]

    def slots(self, rows: Indices, columns: Indices) -> Indices:
        """Return where the entries of these rows and columns are kept, (l,)."""
        return self._slots_of(zip(rows.tolist(), columns.tolist(), strict=True))

    def _slots_of(self, pairs: Iterable[tuple[int, int]]) -> Indices:
        return np.array([self._slots[pair] for pair in pairs], dtype=np.intp)

    def _level(self, level: Couplings) -> _Level:
        pivots = list(level)
        couples = [(i, k) for k in pivots for i in level[k]]
        updates = [(i, k, j) for k in pivots for i in level[k] for j in level[k]]
        later = np.array([i for i, _ in couples], dtype=np.intp)
        owner = np.array([pivots.index(k) for _, k in couples], dtype=np.intp)
        return _Level(
            pivots=np.array(pivots, dtype=np.intp),
            column=self._slots_of(couples),
            row=self._slots_of((k, i) for i, k in couples),
            owner=owner,
            later=later,
            update=Scatter.onto(self._slots_of((i, j) for i, _, j in updates)),
            update_left=self._slots_of((i, k) for i, k, _ in updates),
            update_right=self._slots_of((k, j) for _, k, j in updates),
            onto_later=Scatter.onto(later),
            onto_pivots=Scatter.onto(owner),
        )

    def factorise(self, entries: Array) -> "Factors":
        """Factorise matrices given by their entries (entry_count, n); the entries are used up."""
        for level in self._levels:
            reciprocal = 1.0 / entries[level.pivots]
            entries[level.pivots] = reciprocal
            entries[level.column] *= reciprocal[level.owner]
            level.update.subtract(entries, entries[level.update_left] * entries[level.update_right])
        size = len(self._core)
        dense: Array = entries[self._core_slots].reshape(size, size, -1).transpose(2, 0, 1)
        return Factors(entries, _inverses(dense))

    def solve(self, factors: "Factors", right: Array) -> Array:
        """Return the solutions (N, n) for right-hand sides (N, n)."""
        entries, solution = factors.entries, right.copy()
        for level in self._levels:
            known = solution[level.pivots][level.owner]
            level.onto_later.subtract(solution, entries[level.column] * known)
        solution[self._core] = np.matmul(factors.core_inverse, solution[self._core].T[:, :, None])[:, :, 0].T
        for level in reversed(self._levels):
            pivots = solution[level.pivots]
            level.onto_pivots.subtract(pivots, entries[level.row] * solution[level.later])
            solution[level.pivots] = pivots * entries[level.pivots]
        return solution


@dataclass(frozen=True)
class Factors:
    """Factorised matrices: entries (entry_count, n) with reciprocal pivots, and the inverse of the core (n, k, k)."""

    entries: Array
    core_inverse: Array


def numbered_entries(size: int, levels: list[Couplings]) -> dict[tuple[int, int], int]:
    """Return numbers of a matrix's entries by row and column: the diagonal, then those of couplings and of the fill."""
    entries = {(k, k): k for k in range(size)}
    for level in levels:
        for k, later in level.items():
            for i in later:
                entries.setdefault((i, k), len(entries))
                entries.setdefault((k, i), len(entries))
    return entries


SMALLEST_LEVEL = 4
"""A level of fewer unknowns costs more than its share of a dense core."""


def independent_levels(size: int, first: Indices, second: Indices, smallest: int) -> tuple[list[Couplings], list[int]]:
    """Return levels of unknowns in order of elimination, and the rest.

    A level takes unknowns of few couplings, none coupled to another of the level, none without any; levels of fewer
    than `smallest` are left to the rest.
    """
    graph: dict[int, set[int]] = {k: set() for k in range(size)}
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        if a != b:
            graph[a].add(b)
            graph[b].add(a)
    levels = []
    while any(graph.values()):
        fewest = min(len(others) for others in graph.values() if others)
        level: Couplings = {}
        barred: set[int] = set()
        for k in sorted(graph, key=lambda node: (len(graph[node]), node)):
            if k not in barred and 0 < len(graph[k]) <= fewest + 1:
                level[k] = sorted(graph[k])
                barred.update(graph[k])
        if len(level) < smallest:
            break
        for k, later in level.items():
            del graph[k]
            for i in later:
                graph[i].discard(k)
                graph[i].update(j for j in later if j != i)
        levels.append(level)
    return levels, sorted(graph)


def _inverses(dense: Array) -> Array:
    """Return the inverse of each lane's matrix; NaN where there is none, so that the lane fails alone."""
    try:
        return np.asarray(np.linalg.inv(dense), dtype=np.float64)
    except np.linalg.LinAlgError:
        found = np.full_like(dense, np.nan)
        for lane, matrix in enumerate(dense):
            with suppress(np.linalg.LinAlgError):
                found[lane] = np.linalg.inv(matrix)
        return found
