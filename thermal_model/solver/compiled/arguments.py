"""What the kernel is called with: the arrays it walks along, and how they are handed to machine code."""

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.scatter import Indices
from thermal_model.solver.stepping import Tolerance

WIDTH = 16
"""Lanes of a block: a row of them is one line of the processor's cache in single precision, and two in double."""


class KernelTables(NamedTuple):
    """What lanes share: links, and the order of elimination.

    Attributes
    ----------
    groups : (g, 4) int array
        Of links with one law: its number, first link, count, and where its parameters begin.
    start, end, evaporates : (l,) int array
        Node numbers, N for the room; 1 where vapour leaves.
    to_room : (r,) int array
        Links with the room at either end.
    slots : (l, 4) int array
        Matrix entries of (start, start), (end, end), (start, end), (end, start); -1 for none.
    pivots : (N,) int array
        In order of elimination.
    couples : (N + 1,) int array
        Where each pivot's couples begin among `later`, `column`.
    later, column : (c,) int array
        What a pivot is still coupled to, and the entries (later, pivot).
    knowns : (N + 1,) int array
        Where each pivot's earlier ones begin among `earlier`, `row`.
    earlier, row : (c,) int array
        Pivots that were coupled to one, and the entries (earlier, pivot).
    updates : (N + 1,) int array
        Where each pivot's updates begin.
    update, left, right : (u,) int array
        Entries: update -= left * right.
    """

    groups: Indices
    start: Indices
    end: Indices
    evaporates: Indices
    to_room: Indices
    slots: Indices
    pivots: Indices
    couples: Indices
    later: Indices
    column: Indices
    knowns: Indices
    earlier: Indices
    row: Indices
    updates: Indices
    update: Indices
    left: Indices
    right: Indices


class KernelMethod(NamedTuple):
    """Coefficients of a method of s stages, and what its step may err, as arrays.

    Attributes
    ----------
    gamma : (1,) array
    starts : (s,) int array
        1 for a stage that is evaluated at the start of the step.
    drifts : (s,) array
        Shares of the derivative by time.
    stages, couplings : (s s WIDTH,) array
        Weights of earlier stages: WIDTH equal numbers for each pair of a stage and an earlier one.
    allowed : (4 WIDTH,) array
        Errors of contents and of other nodes, the greatest of a node, and that in the heat to the room, as in
        Tolerance; WIDTH equal numbers of each. [K]
    """

    gamma: Array
    starts: Indices
    drifts: Array
    stages: Array
    couplings: Array
    allowed: Array


def kernel_method(tolerance: Tolerance) -> KernelMethod:
    """Return a method's coefficients, and what a step may err, as the kernel takes them."""
    method, dtype = tolerance.method, tolerance.dtype
    starts, drifts = np.array(method.starts, dtype=np.intp), np.array(method.time_derivative, dtype)
    stages, couplings = (_table(weights).astype(dtype) for weights in (method.stages, method.couplings))
    room = tolerance.contents * tolerance.room_share
    allowed = np.repeat([tolerance.contents, tolerance.others, tolerance.greatest, room], WIDTH).astype(dtype)
    return KernelMethod(np.array([method.gamma], dtype), starts, drifts, stages, couplings, allowed)


def _table(weights: tuple[tuple[float, ...], ...]) -> Array:
    square = np.array([[*row, *[0.0] * (len(weights) - len(row))] for row in weights])
    return np.repeat(square.ravel(), WIDTH)


class KernelLanes(NamedTuple):
    """What lanes have of their own, a first axis of blocks and a second of rows by WIDTH.

    Attributes
    ----------
    parameters : (blocks, p) array
        Of a block's links one after the other, WIDTH lanes of each.
    capacities, sources : (blocks, (N + 1) WIDTH) array
        The room's capacity is 1, its source what the others get, taken away. [J K-1], [W]
    is_water : int
    heat_capacity : (blocks, WIDTH) array
        Of contents that are not water. [J kg-1 K-1]
    """

    parameters: Array
    capacities: Array
    sources: Array
    is_water: int
    heat_capacity: Array


class KernelStep(NamedTuple):
    """A step to be taken, and what becomes of it, block by block.

    Attributes
    ----------
    state, new_state : (blocks, (N + 1) WIDTH) array
        Before and after.
    mass, step, more : (blocks, WIDTH) array
        Of the contents; length; how many times more than usual may be erred. [kg, s, -]
    rooms : (blocks, s, WIDTH) array
        Temperature of the room at each stage. [K]
    room_slope : (blocks, WIDTH) array
        [K s-1]
    here : (blocks, 3, l WIDTH) array
        Flows at the state and their derivatives.
    size : (blocks, WIDTH) array
        Of the error, over what is allowed.
    """

    state: Array
    mass: Array
    step: Array
    more: Array
    rooms: Array
    room_slope: Array
    here: Array
    new_state: Array
    size: Array


def flat(*arguments: Any, dtype: str) -> Iterator[int]:
    """Yield arguments as numba's compiled code takes them: of a record its fields, of an array seven or more numbers.

    An array is given as (owner, parent, elements, bytes an element, address, shape, strides); without an owner nobody
    counts references, so the caller keeps it alive.

    Raises
    ------
    ValueError
        If an array has gaps, or its numbers are neither whole nor in the kernel's format.
    """
    for argument in arguments:
        if isinstance(argument, tuple):
            yield from flat(*argument, dtype=dtype)
        elif isinstance(argument, np.ndarray):
            if not argument.flags.c_contiguous or argument.dtype not in (np.intp, dtype):
                raise ValueError(f"the kernel takes whole arrays of {dtype}")
            yield from (0, 0, argument.size, argument.itemsize, argument.ctypes.data)
            yield from (*argument.shape, *argument.strides)
        else:
            yield argument
