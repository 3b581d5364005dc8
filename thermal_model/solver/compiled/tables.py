"""A network's links, and the order of elimination of its matrix, as the plain arrays a kernel walks along."""

import math

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.compiled.arguments import WIDTH, KernelTables
from thermal_model.solver.elimination import independent_levels, numbered_entries
from thermal_model.solver.laws import LAWS
from thermal_model.solver.network import LinkTable
from thermal_model.solver.scatter import Indices


def tables_of(links: LinkTable, nodes: int) -> tuple[KernelTables, int]:
    """Return the tables of links between N nodes and the room, and the number of matrix entries."""
    inside = np.flatnonzero((links.start < nodes) & (links.end < nodes))
    levels, rest = independent_levels(nodes, links.start[inside], links.end[inside], smallest=1)
    order = [(k, later) for level in levels for k, later in level.items()] + [(k, []) for k in rest]
    entries = numbered_entries(nodes, levels)
    couples = [(i, entries[i, k], entries[k, i]) for k, later in order for i in later]
    updates = [(entries[i, j], entries[i, k], entries[k, j]) for k, later in order for i in later for j in later]
    later_of, column, _ = _columns(couples)
    place = {k: number for number, (k, _) in enumerate(order)}
    known = sorted((place[i], k, entries[k, i]) for k, later in order for i in later)
    at, earlier_of, row = _columns(known)
    update, left, right = _columns(updates)
    tables = KernelTables(
        groups=_groups(links),
        start=links.start.astype(np.intp),
        end=links.end.astype(np.intp),
        evaporates=np.concatenate([np.full(len(g.start), g.law.evaporates, dtype=np.intp) for g in links.groups]),
        to_room=np.flatnonzero((links.start == nodes) | (links.end == nodes)),
        slots=_slots(links, nodes, entries),
        pivots=np.array([k for k, _ in order], dtype=np.intp),
        couples=_offsets([len(later) for _, later in order]),
        later=later_of,
        column=column,
        knowns=_offsets(np.bincount(at, minlength=nodes).tolist()),
        earlier=earlier_of,
        row=row,
        updates=_offsets([len(later) ** 2 for _, later in order]),
        update=update,
        left=left,
        right=right,
    )
    return tables, len(entries)


def _columns(rows: list[tuple[int, int, int]]) -> tuple[Indices, Indices, Indices]:
    table = np.array(rows, dtype=np.intp).reshape(-1, 3)
    return table[:, 0].copy(), table[:, 1].copy(), table[:, 2].copy()


def _offsets(counts: list[int]) -> Indices:
    return np.concatenate([[0], np.cumsum(counts, dtype=np.intp)]).astype(np.intp)


def _groups(links: LinkTable) -> Indices:
    counts = [len(group.start) for group in links.groups]
    sizes = [group.parameters.shape[0] * len(group.start) * WIDTH for group in links.groups]
    numbers = [LAWS.index(group.law) for group in links.groups]
    return np.stack([numbers, _offsets(counts)[:-1], counts, _offsets(sizes)[:-1]], axis=1).astype(np.intp)


def _slots(links: LinkTable, nodes: int, entries: dict[tuple[int, int], int]) -> Indices:
    def slot(row: int, column: int) -> int:
        return entries[row, column] if row < nodes and column < nodes else -1

    pairs = zip(links.start.tolist(), links.end.tolist(), strict=True)
    return np.array([(slot(a, a), slot(b, b), slot(a, b), slot(b, a)) for a, b in pairs], dtype=np.intp)


def on_lines(shape: tuple[int, ...], dtype: str) -> Array:
    """Return an empty array that begins where a line of the processor's cache does, as then each row of WIDTH does."""
    size = math.prod(shape)
    line = LINE // np.dtype(dtype).itemsize
    room = np.empty(size + line, dtype)
    first = -(room.ctypes.data // room.itemsize) % line
    return room[first : first + size].reshape(shape)


LINE = 64
"""Bytes in a line of a processor's cache."""


class Blocks:
    """How n lanes lie in blocks of WIDTH, in one format of numbers: the last lane repeated to fill the last block."""

    def __init__(self, lanes: int, dtype: str) -> None:
        self.lanes, self.count, self.dtype = lanes, -(-lanes // WIDTH), dtype

    def empty(self, *shape: int) -> Array:
        """Return an empty array of that format."""
        return on_lines(shape, self.dtype)

    def pack(self, values: Array) -> Array:
        """Return (..., n) values as (blocks, ... WIDTH), a block's rows one after the other."""
        rows = values.reshape(-1, self.lanes)
        missing = self.count * WIDTH - self.lanes
        whole = np.hstack([rows, np.repeat(rows[:, -1:], missing, axis=1)]) if missing else rows
        packed = self.empty(self.count, len(rows) * WIDTH)
        packed.reshape(self.count, -1, WIDTH)[:] = whole.reshape(-1, self.count, WIDTH).transpose(1, 0, 2)
        return packed

    def unpack(self, packed: Array) -> Array:
        """Return (blocks, rows WIDTH) values as (rows, n), in double precision."""
        rows = packed.reshape(self.count, -1, WIDTH).transpose(1, 0, 2)
        return rows.reshape(rows.shape[0], -1)[:, : self.lanes].astype(float, copy=False)

    def take(self, packed: Array, lanes: Indices, taken: "Blocks") -> Array:
        """Return the packed values of some lanes only, as `taken` has them."""
        filled = np.resize(lanes, taken.count * WIDTH)
        filled[len(lanes) :] = lanes[-1]
        of_lanes = packed.reshape(self.count, -1, WIDTH)[filled // WIDTH, :, filled % WIDTH]
        rows = taken.empty(taken.count, packed.shape[1])
        rows.reshape(taken.count, -1, WIDTH)[:] = of_lanes.reshape(taken.count, WIDTH, -1).transpose(0, 2, 1)
        return rows

    def pack_parameters(self, links: LinkTable) -> Array:
        """Return the parameters of all links, (blocks, p): a block's links one after the other."""
        each = [self.pack(group.parameters.transpose(1, 0, 2)) for group in links.groups]
        return np.concatenate(each, axis=1, out=self.empty(self.count, sum(part.shape[1] for part in each)))
