"""Where tables have their nodes, and the weights of the nodes at a point between them."""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.judge.what_if.side import Side, Span

SHARES = (0.3, 0.39, 0.48, 0.57, 0.66, 0.74, 0.8, 0.85, 0.89, 0.92, 0.94, 0.955, 0.97, 0.98, 0.99, 1.0)
"""Fills of the fine table, close together where the liquid reaches into shoulder and neck."""

DRAWN_SHARES = (0.3, 0.6, 0.8, 0.9, 0.96, 1.0)
"""The same for what sets draws apart."""


def lobatto(span: Span, count: int) -> Array:
    """Return (count,) nodes of a polynomial between two ends, both of them nodes.

    Examples
    --------
    >>> lobatto((0.0, 1.0), 3).round(9).tolist()
    [0.0, 0.5, 1.0]
    """
    low, high = span
    return 0.5 * (low + high) - 0.5 * (high - low) * np.cos(np.pi * np.arange(count) / (count - 1))


def polynomial_weights(nodes: Array, at: Array) -> Array:
    """Return (k, n) weights of k values at n points: the polynomial through all of them.

    Examples
    --------
    >>> abs(polynomial_weights(np.array([0.0, 1.0, 2.0]), np.array([1.0]))).ravel().tolist()
    [0.0, 1.0, 0.0]
    """
    points = np.asarray(at, dtype=float)
    weights = np.ones((len(nodes), *points.shape))
    for i, own in enumerate(nodes):
        for other in np.delete(nodes, i):
            weights[i] *= (points - other) / (own - other)
    return weights


def local_weights(nodes: Array, at: Array) -> Array:
    """Return (k, n) weights of k values at n points: cubics through the four nearest nodes.

    Examples
    --------
    >>> abs(local_weights(np.arange(6.0), np.array([2.0]))).ravel().tolist()
    [0.0, 0.0, 1.0, 0.0, 0.0, 0.0]
    """
    points = np.atleast_1d(np.asarray(at, dtype=float))
    first = np.clip(np.searchsorted(nodes, points) - 2, 0, len(nodes) - 4)
    weights = np.zeros((len(nodes), len(points)))
    for start in np.unique(first).tolist():
        here = np.flatnonzero(first == start)
        weights[start : start + 4, here] = polynomial_weights(nodes[start : start + 4], points[here])
    return weights


@dataclass(frozen=True)
class NodeGrid:
    """Nodes over start, room and fill.

    Attributes
    ----------
    start, room : (a,), (b,) arrays
        [K]
    share : (c,) array
        Of a full fill. [-]
    """

    start: Array
    room: Array
    share: Array

    @classmethod
    def over(cls, side: Side, starts: int, rooms: int, shares: int) -> "NodeGrid":
        """Return a grid of polynomials over all that a side allows."""
        return cls(lobatto(side.start, starts), lobatto(side.room, rooms), lobatto(side.share, shares))

    @property
    def shape(self) -> tuple[int, int, int]:
        """Numbers of nodes a, b, c."""
        return len(self.start), len(self.room), len(self.share)

    def points(self) -> tuple[Array, Array, Array]:
        """Return start, room and fill of every node, (abc,) each, the fill changing fastest."""
        mesh = np.meshgrid(self.start, self.room, self.share, indexing="ij")
        start, room, share = (axis.ravel() for axis in mesh)
        return start, room, share


@dataclass(frozen=True)
class Grids:
    """The three grids of a side: of the best guess, of its finer way over the fill, and of the draws."""

    coarse: NodeGrid
    fine: NodeGrid
    drawn: NodeGrid

    @classmethod
    def of(cls, side: Side) -> "Grids":
        """Return the grids that meet the accuracy that is wanted at the least cost."""
        ends = NodeGrid.over(side, 3, 3, 2)
        fine = NodeGrid(ends.start, ends.room, np.array(SHARES))
        return cls(NodeGrid.over(side, 5, 5, 5), fine, NodeGrid(ends.start, ends.room, np.array(DRAWN_SHARES)))
