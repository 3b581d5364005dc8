"""Hold times from tables: what the page computes, in the very same steps."""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.judge.what_if.grids import Grids, local_weights, polynomial_weights
from thermal_model.judge.what_if.runs import time_unit
from thermal_model.judge.what_if.side import FINEST, STEPS, Side
from thermal_model.judge.what_if.tables import CoolingTables


@dataclass(frozen=True)
class AskedState:
    """What is asked.

    Attributes
    ----------
    start, room, limit : float
        [K]
    fill : float or None
        The same for every container; None: `share` of each one's full fill. [m3]
    share : float
        [-]
    every : float or None
        Period at which the lid comes off for `SECONDS_OFF`; None: never. [s]
    """

    start: float
    room: float
    limit: float
    fill: float | None = None
    share: float = 1.0
    every: float | None = None


def hold_times(side: Side, grids: Grids, tables: CoolingTables, state: AskedState) -> Array:
    """Return the hold time of every draw, (n,); infinite where it is longer than the table goes. [s]"""
    share = np.full(len(tables.full), state.share) if state.fill is None else state.fill / tables.full
    rows = progress_rows(side, grids, tables, state.start, state.room, share)
    start, room = tables.misread.own(np.asarray(state.start), np.asarray(state.room))
    wanted = side.progress(start, room, np.asarray(state.limit))
    unit = time_unit(side, tables.unit, np.asarray(state.start), np.asarray(state.room), share)
    if state.every is None:
        return time_at(side, crossing(rows, wanted)) * unit * tables.stretch
    return _with_openings(side, tables, state, share, rows, wanted, unit) * tables.stretch


MOST_OPENINGS = 400
"""The engine lists no more in a run."""


def _with_openings(
    side: Side, tables: CoolingTables, state: AskedState, share: Array, rows: Array, wanted: Array, unit: Array
) -> Array:
    """Return hold times where each opening takes a step of u, after which the closed container goes on. [s]"""
    assert state.every is not None
    end = time_at(side, crossing(rows, wanted)) * unit
    start, room = tables.misread.own(np.asarray(state.start), np.asarray(state.room))
    since = np.zeros(len(unit))  # time of the closed container that is as far
    held = np.where(np.isnan(end), np.nan, np.inf)
    going = np.isfinite(end)
    for opening in range(MOST_OPENINGS + 1):
        left = end - since
        done = going & (left <= state.every)
        held[done] = opening * state.every + left[done]
        going &= ~done
        if not going.any():
            break
        reached = np.where(going, value_at(rows, place_of(side, (since + state.every) / unit)), 0.0)
        temperature = room + (start - room) * np.exp(-reached)
        reached = reached + tables.lid_off.steps(temperature, room, share)
        over = going & (reached >= wanted)
        held[over] = (opening + 1) * state.every
        going &= ~over
        since = time_at(side, crossing(rows, reached)) * unit
    return held


def progress_rows(side: Side, grids: Grids, tables: CoolingTables, start: float, room: float, share: Array) -> Array:
    """Return u at the times of the table, (t, n), for every draw at its own fill."""
    at = np.array([start]), np.array([room])
    coarse, fine, drawn = (
        [polynomial_weights(nodes, point)[:, 0] for nodes, point in zip((grid.start, grid.room), at, strict=True)]
        for grid in (grids.coarse, grids.fine, grids.drawn)
    )
    rows = np.einsum("tabc,a,b->tc", tables.coarse, *coarse) @ polynomial_weights(grids.coarse.share, share)
    rows += np.einsum("tabc,a,b->tc", tables.fine, *fine) @ local_weights(grids.fine.share, share)
    shapes = np.einsum("rtabc,a,b->rtc", tables.shapes, *drawn)
    apart = np.einsum("rtc,cn,rn->tn", shapes, local_weights(grids.drawn.share, share), tables.amounts)
    return side.weights[:, None] * (rows + apart)


def crossing(rows: Array, wanted: Array) -> Array:
    """Return where in the table each draw first reaches its u, an index with its fraction; infinite if nowhere."""
    place = np.full(rows.shape[1], np.inf)
    for draw, (row, own) in enumerate(zip(rows.T, wanted.tolist(), strict=True)):
        above = np.flatnonzero(row >= own)
        if np.isnan(row).any():
            place[draw] = np.nan
        elif len(above):
            place[draw] = _inverse(row, int(above[0]), own)
    return place


def value_at(rows: Array, place: Array) -> Array:
    """Return u of each draw at an index of the table with its fraction."""
    found = np.full(len(place), np.inf)
    for draw, at in enumerate(place.tolist()):
        if at <= STEPS:
            first = min(max(int(np.ceil(at)) - 2, 0), STEPS - 3)
            found[draw] = _cubic(rows[first : first + 4, draw], at - first)
    return found


def _inverse(row: Array, above: int, wanted: float) -> float:
    """Return where a cubic through four values passes one, between two of its nodes, by halving."""
    if above == 0:
        return 0.0
    first = min(max(above - 2, 0), STEPS - 3)
    four = row[first : first + 4]
    low, high = above - 1.0, float(above)
    for _ in range(40):
        middle = 0.5 * (low + high)
        if _cubic(four, middle - first) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _cubic(four: Array, x: float) -> float:
    a, b, c = x - 1.0, x - 2.0, x - 3.0
    return float(
        -four[0] * a * b * c / 6.0 + four[1] * x * b * c / 2.0 - four[2] * x * a * c / 2.0 + four[3] * x * a * b / 6.0
    )


def time_at(side: Side, place: Array) -> Array:
    """Return the time at an index of the table, in a container's own units. [-]"""
    return FINEST * ((1.0 + side.reach / FINEST) ** (place / STEPS) - 1.0)


def place_of(side: Side, time: Array) -> Array:
    """Return the index of the table at a time in a container's own units. [-]"""
    return STEPS * np.log1p(time / FINEST) / np.log1p(side.reach / FINEST)
