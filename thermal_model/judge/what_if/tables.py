"""Tables of a container's cooling: the best guess on two grids, and what sets its draws apart in a few shapes."""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.judge.what_if.grids import Grids, NodeGrid, polynomial_weights
from thermal_model.judge.what_if.lid_off import LidOff, no_lid, what_openings_take
from thermal_model.judge.what_if.runs import DrawnContainer, Misread, own_units, progress_over_time
from thermal_model.judge.what_if.side import STEPS
from thermal_model.solver.scatter import Indices
from thermal_model.solver.stepping import SCREENING

SHAPES = 14
"""Most shapes that set draws apart."""

FIRST_MODELS, MORE_MODELS = 12, 8
"""Draws from which shapes are learned at first, and how many more at a time."""

ENOUGH = 0.04
"""By how much u over the weight of its time may be missed, at worst, in a draw that the shapes are not learned
from; near the start that is 5 s or so. [-]"""

PROBES = 8
"""Nodes at which every other draw is computed, to see how much of each shape it has."""


ENGINE_ERROR = 2e-4
"""Of u over the weight of its time, about. [-]"""


@dataclass(frozen=True)
class CoolingTables:
    """What tells the cooling of one container under any condition that its side allows, for every draw.

    u = weight of the time * (best guess + sum over r of amount * shape), as tables of time, start, room and fill.

    Attributes
    ----------
    coarse : (t, a, b, c) array
        Best guess. [-]
    fine : (t, a, b, c) array
        What a finer way over the fill adds to it. [-]
    shapes : (r, t, a, b, c) array
        [-]
    amounts : (r, n) array
        Of each shape in each draw; zero in the best guess, NaN in one that could not be computed. [-]
    unit : (n,) array
        Own unit of time of each draw; NaN for one that could not be computed. [s]
    stretch : (n,) array
        How much longer everything takes. [-]
    full : (n,) array
        Full fill. [m3]
    misread : Misread
        By how much start and room of each draw are not what is asked.
    lid_off : LidOff
        What taking the lid off costs.
    runs : int
        That the engine computed.
    """

    coarse: Array
    fine: Array
    shapes: Array
    amounts: Array
    unit: Array
    stretch: Array
    full: Array
    misread: Misread
    lid_off: LidOff
    runs: int


def make_tables(drawn: DrawnContainer, grids: Grids) -> CoolingTables:
    """Ask the engine for the tables of a container."""
    unit = own_units(drawn)
    coarse = _best_guess(drawn, unit, grids.coarse)
    fine = _best_guess(drawn, unit, grids.fine) - _between(coarse, grids.coarse, grids.fine)
    shapes, amounts, runs = _shapes(drawn, unit, grids.drawn)
    lid_off = no_lid(len(unit)) if drawn.sample.container.lid is None else what_openings_take(drawn, unit)
    sizes = sum(int(np.prod(grid.shape)) for grid in (grids.coarse, grids.fine))
    runs = len(unit) + sizes + runs + lid_off.runs
    return CoolingTables(
        coarse, fine, shapes, amounts, unit, drawn.sample.stretch, drawn.full, drawn.misread, lid_off, runs
    )


def _best_guess(drawn: DrawnContainer, unit: Array, grid: NodeGrid) -> Array:
    start, room, share = grid.points()
    draw = np.zeros(len(start), dtype=np.intp)
    found = progress_over_time(drawn, unit, draw, start, room, share) / drawn.side.weights[:, None]
    return found.reshape(STEPS + 1, *grid.shape)


def _between(table: Array, grid: NodeGrid, finer: NodeGrid) -> Array:
    """Return a table at the nodes of another grid."""
    start, room = (polynomial_weights(*pair) for pair in ((grid.start, finer.start), (grid.room, finer.room)))
    share = polynomial_weights(grid.share, finer.share)
    return np.einsum("tabc,ai,bj,ck->tijk", table, start, room, share)


@dataclass(frozen=True)
class _Learned:
    """Shapes that some draws have taught, and how much of each these draws have.

    Attributes
    ----------
    shapes : (r, t, k) array
        At all nodes. [-]
    amounts : (r, d) array
        Of the draws that taught them. [-]
    usual : (r,) array
        Amount that is likely. [-]
    """

    shapes: Array
    amounts: Array
    usual: Array

    @classmethod
    def of(cls, differences: Array) -> "_Learned":
        """Learn from differences of draws from the best guess, (d, t, k)."""
        left, size, right = np.linalg.svd(differences.reshape(len(differences), -1), full_matrices=False)
        kept = min(SHAPES, int((size > 1e-4 * size[0]).sum())) if size[0] > 0.0 else 0
        shapes = right[:kept].reshape(kept, *differences.shape[1:])
        return cls(shapes, (left[:, :kept] * size[:kept]).T, size[:kept] / np.sqrt(len(differences)))

    def fitted(self, nodes: Indices, seen: Array) -> Array:
        """Return amounts, (r, d), of draws that are seen at some nodes only, (d, t, k).

        As much of each shape as its teachers have is likely; what is smaller than the engine's own error is not.
        """
        kept = len(self.shapes)
        design = self.shapes[:, :, nodes].reshape(kept, -1).T
        likely = np.vstack([design / ENGINE_ERROR, np.diag(1.0 / self.usual)])
        seen_so = np.vstack([seen.reshape(len(seen), -1).T / ENGINE_ERROR, np.zeros((kept, len(seen)))])
        return np.asarray(np.linalg.lstsq(likely, seen_so, rcond=None)[0])

    def worst(self, nodes: Indices, seen: Array) -> Indices:
        """Return which of the draws seen at some nodes, (d, t, k), the shapes tell worst: a few, and none if all do."""
        told = np.einsum("rtk,rd->dtk", self.shapes[:, :, nodes], self.fitted(nodes, seen))
        missed = np.abs(seen - told).max(axis=(1, 2))
        worst = np.argsort(-missed, kind="stable")[:MORE_MODELS]
        return np.asarray(worst[missed[worst] > ENOUGH])


def _shapes(drawn: DrawnContainer, unit: Array, grid: NodeGrid) -> tuple[Array, Array, int]:
    """Return shapes, amounts and the number of runs.

    A few draws are computed at every node and teach the shapes; all others at a few nodes. Those that the shapes tell
    worst become teachers too, until the shapes tell all of them.
    """
    count = len(unit)
    others = np.flatnonzero(np.isfinite(unit))
    others = others[others != 0]
    amounts = np.zeros((0, count))
    shapes = np.zeros((0, STEPS + 1, *grid.shape))
    if not len(others):
        return shapes, amounts, 0
    asked = _AskedDraws(drawn, unit, grid)
    models, learned = asked.everywhere(others[:: max(1, len(others) // FIRST_MODELS)][:FIRST_MODELS])
    if not len(models):
        return shapes, amounts, asked.runs
    found, at = _Learned.of(learned), np.zeros(0, dtype=np.intp)
    rest, seen = np.zeros(0, dtype=np.intp), np.zeros((0, STEPS + 1, 0))
    if len(found.shapes):
        at = _probes(found.shapes, PROBES)
        rest, seen = asked.at(at, np.setdiff1d(others, models))
    while len(rest) and len(worst := found.worst(at, seen)):
        more, differences = asked.everywhere(rest[worst])
        rest, seen = np.delete(rest, worst), np.delete(seen, worst, axis=0)
        models, learned = np.append(models, more), np.concatenate([learned, differences])
        found = _Learned.of(learned)
    amounts = np.full((len(found.shapes), count), np.nan)
    amounts[:, 0] = 0.0
    amounts[:, models] = found.amounts
    if len(rest):
        amounts[:, rest] = found.fitted(at, seen)
    return found.shapes.reshape(-1, *shapes.shape[1:]), amounts, asked.runs


class _AskedDraws:
    """The engine asked how draws differ from the best guess; `runs` counts."""

    def __init__(self, drawn: DrawnContainer, unit: Array, grid: NodeGrid) -> None:
        self._drawn, self._unit, self._grid = drawn, unit, grid
        self._nodes, self.runs = np.arange(int(np.prod(grid.shape))), 0
        self._best = self._progress(np.zeros(1, dtype=np.intp), self._nodes)[0]

    def everywhere(self, draws: Indices) -> tuple[Indices, Array]:
        """Return the draws that could be computed, and their differences at all nodes, (d, t, k). [-]"""
        return self.at(self._nodes, draws)

    def at(self, nodes: Indices, draws: Indices) -> tuple[Indices, Array]:
        """Return the same at some nodes."""
        if not len(draws):
            return draws, np.zeros((0, STEPS + 1, len(nodes)))
        differences = self._progress(draws, nodes) - self._best[:, nodes]
        is_known = np.isfinite(differences).all(axis=(1, 2))
        return draws[is_known], differences[is_known]

    def _progress(self, draws: Indices, nodes: Indices) -> Array:
        """Return u over the weight of its time, (d, t, k); NaN where a run fails."""
        start, room, share = (np.tile(axis[nodes], len(draws)) for axis in self._grid.points())
        draw = np.repeat(draws, len(nodes))
        self.runs += len(draw)
        found = progress_over_time(self._drawn, self._unit, draw, start, room, share, SCREENING)
        found /= self._drawn.side.weights[:, None]
        return np.moveaxis(found.reshape(STEPS + 1, len(draws), len(nodes)), 1, 0)


def _probes(shapes: Array, count: int) -> Indices:
    """Return nodes at which amounts can be told best: each the one where what is left of the shapes is largest."""
    left = np.moveaxis(shapes, 2, 0).reshape(shapes.shape[2], shapes.shape[0], -1)
    chosen: list[int] = []
    basis = np.zeros((shapes.shape[0], 0))
    for _ in range(count):
        rest = left - np.einsum("ij,kj,nkt->nit", basis, basis, left)
        strength = np.linalg.norm(rest, axis=(1, 2))
        strength[chosen] = -1.0
        chosen.append(int(np.argmax(strength)))
        basis = np.linalg.svd(left[chosen].transpose(1, 0, 2).reshape(shapes.shape[0], -1), full_matrices=False)[0]
        basis = basis[:, : min(2 * len(chosen), shapes.shape[0] - 1)]
    return np.array(sorted(chosen))
