"""Tables of a container's cooling: the best guess on two grids, and what sets its draws apart in a few shapes."""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.judge.what_if.grids import Grids, NodeGrid, polynomial_weights
from thermal_model.judge.what_if.lid_off import LidOff, no_lid, what_openings_take
from thermal_model.judge.what_if.runs import DrawnContainer, Misread, own_units, progress_over_time
from thermal_model.judge.what_if.side import STEPS
from thermal_model.solver.scatter import Indices

SHAPES = 14
"""Most shapes that set draws apart."""

MODELS = 50
"""Draws from which shapes are learned; up to twice as many all are: fewer miss what an open cup's draws do."""

PROBES = 8
"""Nodes at which every other draw is computed, to see how much of each shape it has."""


ENGINE_ERROR = 2e-4
"""Of u over the weight of its time, about. [-]"""


@dataclass(frozen=True)
class CoolingTables:
    """What tells the cooling of one container under any condition that its side allows, for every draw.

    u = best guess + weight of the time * sum over r of amount * shape, as tables of time, start, room and fill.

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
    return progress_over_time(drawn, unit, draw, start, room, share).reshape(STEPS + 1, *grid.shape)


def _between(table: Array, grid: NodeGrid, finer: NodeGrid) -> Array:
    """Return a table at the nodes of another grid."""
    start, room = (polynomial_weights(*pair) for pair in ((grid.start, finer.start), (grid.room, finer.room)))
    share = polynomial_weights(grid.share, finer.share)
    return np.einsum("tabc,ai,bj,ck->tijk", table, start, room, share)


def _shapes(drawn: DrawnContainer, unit: Array, grid: NodeGrid) -> tuple[Array, Array, int]:
    """Return shapes, amounts and the number of runs: some draws at every node, all others at a few."""
    count = len(unit)
    good = np.flatnonzero(np.isfinite(unit))
    others = good[good != 0]
    models = others[:: max(1, len(others) // MODELS)][:MODELS] if len(others) > 2 * MODELS else others
    rest = np.setdiff1d(others, models)
    nodes = int(np.prod(grid.shape))
    if not len(others):
        return np.zeros((0, STEPS + 1, *grid.shape)), np.zeros((0, count)), 0
    whole = _differences(drawn, unit, np.append(0, models), grid, np.arange(nodes))
    best, is_known = whole[0], np.isfinite(whole[1:]).all(axis=(1, 2))
    amounts = np.full((SHAPES, count), np.nan)
    amounts[:, 0] = 0.0
    models, learned = models[is_known], whole[1:][is_known] - best
    if not len(models):
        return np.zeros((0, STEPS + 1, *grid.shape)), amounts[:0], len(whole) * nodes
    left, size, right = np.linalg.svd(learned.reshape(len(models), -1), full_matrices=False)
    kept = min(SHAPES, int((size > 1e-4 * size[0]).sum())) if size[0] > 0.0 else 0
    shapes = right[:kept].reshape(kept, STEPS + 1, nodes)
    amounts = amounts[:kept]
    amounts[:, models] = (left[:, :kept] * size[:kept]).T
    if len(rest):
        at = _probes(shapes, PROBES)
        seen = _differences(drawn, unit, rest, grid, at) - best[:, at]
        design = shapes[:, :, at].reshape(kept, -1).T
        is_known = np.isfinite(seen).all(axis=(1, 2))
        wanted = seen[is_known].reshape(is_known.sum(), -1).T
        # As much of each shape as the models have is likely; what is smaller than the engine's own error is not.
        usual = size[:kept] / np.sqrt(len(models))
        likely = np.vstack([design / ENGINE_ERROR, np.diag(1.0 / usual)])
        seen_so = np.vstack([wanted / ENGINE_ERROR, np.zeros((kept, wanted.shape[1]))])
        amounts[:, rest[is_known]] = np.linalg.lstsq(likely, seen_so, rcond=None)[0]
    runs = len(whole) * nodes + len(rest) * PROBES
    return shapes.reshape(kept, STEPS + 1, *grid.shape), amounts, runs


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


def _differences(drawn: DrawnContainer, unit: Array, draws: Indices, grid: NodeGrid, nodes: Indices) -> Array:
    """Return u over the weight of its time, (d, t, k), of some draws at some nodes; NaN where one fails."""
    start, room, share = (np.tile(axis[nodes], len(draws)) for axis in grid.points())
    draw = np.repeat(draws, len(nodes))
    found = progress_over_time(drawn, unit, draw, start, room, share) / drawn.side.weights[:, None]
    return np.moveaxis(found.reshape(STEPS + 1, len(draws), len(nodes)), 1, 0)
