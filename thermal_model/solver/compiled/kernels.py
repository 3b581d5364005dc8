"""The step of `thermal_model.solver.rosenbrock` on blocks of lanes, in the part of Python that numba takes.

Arrays of a block are flat: WIDTH lanes of row 0, then of row 1, and so on; a row is a node, a link or a matrix
entry. What is done to rows stands in `row_operations`; the laws come in traced.
"""

from collections.abc import Sequence
from typing import Any

from numba import njit, types

from thermal_model.solver.compiled import row_operations as ops
from thermal_model.solver.compiled.arguments import WIDTH, KernelLanes, KernelMethod, KernelStep, KernelTables
from thermal_model.solver.laws import LAWS

OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy", "_nrt": False}
compiled = njit(**OPTIONS)
"""Without numba's memory management: nothing is allocated, so that the code runs where numba is not loaded."""


def _dispatch(operations: Sequence[Any], targets: str) -> Any:
    """Return compiled code that fills in the flows of a block, each group by its law."""
    scope: dict[str, Any] = {f"law_{k}": operation for k, operation in enumerate(operations)}
    cases = "\n".join(
        f"        {'el' if k else ''}if law == {k}:\n"
        f"            for k in range(first, first + count):\n"
        f"                law_{k}(temperatures, start[k], end[k], parameters, place, {targets}, k)\n"
        f"                place += {WIDTH * len(law.parameters)}"
        for k, law in enumerate(LAWS)
    )
    text = f"""def fill(groups, start, end, parameters, temperatures, {targets}):
    for g in range(len(groups)):
        law, first, count, place = groups[g, 0], groups[g, 1], groups[g, 2], groups[g, 3]
{cases}
"""
    exec(text, scope)
    return compiled(scope["fill"])


law_flows = _dispatch(ops.LAW_OPERATIONS, "flows")
law_flows_and_slopes = _dispatch(ops.LAWS_WITH_SLOPES, "flows, by_start, by_end")


@compiled
def copy(source, target):  # type: ignore[no-untyped-def]
    """Copy an array to the first places of another; numba's own assignment would allocate."""
    for k in range(len(source)):
        target[k] = source[k]


@compiled
def fill(target, value):  # type: ignore[no-untyped-def]
    """Set every place of an array."""
    for k in range(len(target)):
        target[k] = value


@compiled
def fill_temperatures(lanes, state, room, block, temperatures):  # type: ignore[no-untyped-def]
    """Fill in the temperatures of a block's nodes and, last, the room, from its state."""
    rows = len(state) // WIDTH
    copy(state, temperatures)
    ops.copy_row(temperatures, rows - 1, room, 0)
    if lanes.is_water:
        ops.water_temperature(temperatures, 0, state, 0)
    else:
        ops.plain_temperature(temperatures, 0, state, 0, lanes.heat_capacity[block], 0)


@compiled
def fill_heating(tables, lanes, flows, block, heating):  # type: ignore[no-untyped-def]
    """Fill in the heat that links and sources bring to nodes; last, to the room."""
    copy(lanes.sources[block], heating)
    for k in range(len(tables.start)):
        ops.subtract_row(heating, tables.start[k], flows, k)
        ops.add_row(heating, tables.end[k], flows, k)


@compiled
def factorise(tables, by_start, by_end, entries):  # type: ignore[no-untyped-def]
    """Add the links' derivatives to the entries, which hold the diagonal, and factorise; pivots become reciprocals."""
    for k in range(len(tables.start)):
        if tables.slots[k, 0] >= 0:
            ops.add_row(entries, tables.slots[k, 0], by_start, k)
        if tables.slots[k, 1] >= 0:
            ops.subtract_row(entries, tables.slots[k, 1], by_end, k)
        if tables.slots[k, 2] >= 0:
            ops.add_row(entries, tables.slots[k, 2], by_end, k)
            ops.subtract_row(entries, tables.slots[k, 3], by_start, k)
    for k in range(len(tables.pivots)):
        pivot = tables.pivots[k]
        ops.reciprocal(entries, pivot)
        for c in range(tables.couples[k], tables.couples[k + 1]):
            ops.multiply_row(entries, tables.column[c], entries, pivot)
        for u in range(tables.updates[k], tables.updates[k + 1]):
            ops.subtract_product(entries, tables.update[u], entries, tables.left[u], entries, tables.right[u])


@compiled
def solve(tables, entries, solution):  # type: ignore[no-untyped-def]
    """Solve in place; the row after the last unknown stays.

    What an unknown adds to the others is added as soon as it is known, so that no two sums in a row go to one place.
    """
    for k in range(len(tables.pivots)):
        for c in range(tables.couples[k], tables.couples[k + 1]):
            ops.subtract_product(solution, tables.later[c], entries, tables.column[c], solution, tables.pivots[k])
    for k in range(len(tables.pivots) - 1, -1, -1):
        pivot = tables.pivots[k]
        ops.multiply_row(solution, pivot, entries, pivot)
        for c in range(tables.knowns[k], tables.knowns[k + 1]):
            ops.subtract_product(solution, tables.earlier[c], entries, tables.row[c], solution, pivot)


@compiled
def add_room_change(tables, by_start, by_end, increment):  # type: ignore[no-untyped-def]
    """Add what changes of the nodes' states change in the heat to the room, to the increment's last row."""
    room = len(increment) // WIDTH - 1
    for k in tables.to_room:
        if tables.start[k] == room:
            ops.subtract_product(increment, room, by_end, k, increment, tables.end[k])
        else:
            ops.add_product(increment, room, by_start, k, increment, tables.start[k])


@compiled
def add_drift(tables, by_start, by_end, weight, right):  # type: ignore[no-untyped-def]
    """Add the partial derivative of the heating by time, through the room temperature, times a weight a lane."""
    room = len(right) // WIDTH - 1
    for k in tables.to_room:
        start, end = tables.start[k], tables.end[k]
        by_room = by_start if start == room else by_end
        ops.subtract_product(right, start, by_room, k, weight, 0)
        ops.add_product(right, end, by_room, k, weight, 0)


@compiled
def linearise_block(tables, lanes, state, room, block, temperatures, here, heating):  # type: ignore[no-untyped-def]
    """Fill in a block's flows, their derivatives by state, (3, l WIDTH), and the heat of its contents.

    That is what they take up and lose by vapour. Their state is their enthalpy: derivatives by their temperature are
    turned into those by it.
    """
    slope = heating[WIDTH:]  # until the heat is known
    fill_temperatures(lanes, state, room, block, temperatures)
    parameters = lanes.parameters[block]
    flows, by_start, by_end = here[0], here[1], here[2]
    law_flows_and_slopes(tables.groups, tables.start, tables.end, parameters, temperatures, flows, by_start, by_end)
    if lanes.is_water:
        ops.water_slope(slope, 0, state, 0, temperatures, 0)
    else:
        ops.plain_slope(slope, 0, state, 0, temperatures, 0, lanes.heat_capacity[block], 0)
    for k in range(len(tables.start)):
        if tables.start[k] == 0:
            ops.multiply_row(by_start, k, slope, 0)
        if tables.end[k] == 0:
            ops.multiply_row(by_end, k, slope, 0)
    fill(heating, 0.0)
    ops.copy_row(heating, 0, lanes.sources[block], 0)
    for k in range(len(tables.start)):
        if tables.start[k] == 0:
            ops.subtract_row(heating, 0, flows, k)
        if tables.end[k] == 0:
            ops.add_row(heating, 0, flows, k)
        if tables.evaporates[k]:
            ops.add_row(heating, 1, flows, k)


@compiled
def step_of_block(tables, lanes, method, given, block, entries, work, factors):  # type: ignore[no-untyped-def]
    """Take one step in the lanes of a block; `entries`, `work` and `factors` are room to work in."""
    state, mass, step, more = given.state[block], given.mass[block], given.step[block], given.more[block]
    rooms, room_slope, here = given.rooms[block], given.room_slope[block], given.here[block]
    new_state, size = given.new_state[block], given.size[block]
    rows = len(state) // WIDTH
    nodes, links = rows - 1, len(tables.start)
    capacities, temperatures, reached, at_start = work[0], work[1], work[2], work[3]
    flows, by_start, by_end = work[4, : links * WIDTH], here[1], here[2]
    copy(lanes.capacities[block], capacities)
    ops.copy_row(capacities, 0, mass, 0)
    weight, shifted, per_step = factors[:WIDTH], factors[WIDTH : 2 * WIDTH], factors[2 * WIDTH : 3 * WIDTH]
    couplings = factors[3 * WIDTH :]
    drifts = False
    for i in range(WIDTH):
        shifted[i], per_step[i] = step[i] * method.gamma[0], 1.0 / step[i]
        drifts = drifts or room_slope[i] != 0.0
    fill(entries, 0.0)
    for r in range(nodes):
        ops.quotient(entries, r, capacities, r, shifted, 0)
    factorise(tables, by_start, by_end, entries)
    fill_heating(tables, lanes, here[0], block, at_start[: rows * WIDTH])

    increments, stage_count = work[5:, : rows * WIDTH], len(method.starts)
    for k in range(stage_count * stage_count):
        for i in range(WIDTH):
            couplings[k * WIDTH + i] = method.couplings[k * WIDTH + i] * per_step[i]
    for stage in range(stage_count):
        increment, first = increments[stage], stage * stage_count * WIDTH
        if method.starts[stage]:
            copy(at_start[: rows * WIDTH], increment)
        else:
            copy(state, reached)
            add_stages(method.stages[first : first + stage * WIDTH], increments, reached[: rows * WIDTH])
            fill_temperatures(lanes, reached[: rows * WIDTH], rooms[stage], block, temperatures[: rows * WIDTH])
            law_flows(tables.groups, tables.start, tables.end, lanes.parameters[block], temperatures, flows)
            fill_heating(tables, lanes, flows, block, increment)
        for earlier in range(stage):
            place = stage * stage_count + earlier
            for r in range(rows):
                ops.add_triple_product(increment, r, capacities, r, couplings, place, increments[earlier], r)
        if drifts and method.drifts[stage] != 0.0:
            for i in range(WIDTH):
                weight[i] = method.drifts[stage] * step[i] * room_slope[i]
            add_drift(tables, by_start, by_end, weight, increment)
        solve(tables, entries, increment)
        add_room_change(tables, by_start, by_end, increment)
        ops.multiply_row(increment, nodes, shifted, 0)
    error = increments[stage_count - 1]
    for r in range(rows):
        ops.copy_row(new_state, r, reached, r)
        ops.add_row(new_state, r, error, r)
    ops.contents_share(size, 0, error, 0, method.allowed, 0, more, 0)
    for r in range(1, nodes):
        ops.greater_share(size, 0, error, r, mass, 0, capacities, r, method.allowed, 1, method.allowed, 2, more, 0)
    ops.room_share(size, 0, error, nodes, mass, 0, method.allowed, 3)
    mark_unsound(new_state, error, size)


@compiled
def add_stages(weights, increments, target):  # type: ignore[no-untyped-def]
    """Add the stages' increments by their weights."""
    for stage in range(len(weights) // WIDTH):
        if weights[stage * WIDTH] != 0.0:
            for r in range(len(target) // WIDTH):
                ops.add_product(target, r, increments[stage], r, weights, stage)


@compiled
def mark_unsound(new_state, error, size):  # type: ignore[no-untyped-def]
    """Set the size of an error that went astray."""
    rows = len(new_state) // WIDTH
    for r in range(rows):
        if 0 < r < rows - 1:
            ops.mark_unsound_node(size, 0, new_state, r, error, r)
        else:
            ops.mark_unsound_row(size, 0, new_state, r, error, r)


def linearise(  # type: ignore[no-untyped-def]
    tables, lanes, state, room, temperatures, here, heating, first, last
):
    """Linearise blocks first to last; see `linearise_block`."""
    for block in range(first, last):
        linearise_block(tables, lanes, state[block], room[block], block, temperatures, here[block], heating[block])


def steps(  # type: ignore[no-untyped-def]
    tables, lanes, method, given, entries, work, factors, first, last
):
    """Take a step in blocks first to last; see `step_of_block`."""
    for block in range(first, last):
        step_of_block(tables, lanes, method, given, block, entries, work, factors)


INTEGER_ROW, INTEGER_TABLE = types.Array(types.intp, 1, "C"), types.Array(types.intp, 2, "C")
_TABLES = types.NamedTuple(
    [INTEGER_TABLE if name in ("groups", "slots") else INTEGER_ROW for name in KernelTables._fields], KernelTables
)


def entry_points(dtype: str) -> dict[Any, Any]:
    """Return what is called from outside with numbers of a format, with the kinds of its arguments."""
    row, table, box = (types.Array(getattr(types, dtype), dimensions, "C") for dimensions in (1, 2, 3))
    lanes = types.NamedTuple([types.intp if name == "is_water" else table for name in KernelLanes._fields], KernelLanes)
    method = types.NamedTuple([INTEGER_ROW if name == "starts" else row for name in KernelMethod._fields], KernelMethod)
    given = types.NamedTuple([box if name in ("rooms", "here") else table for name in KernelStep._fields], KernelStep)
    return {
        linearise: types.void(_TABLES, lanes, table, table, row, box, table, types.intp, types.intp),
        steps: types.void(_TABLES, lanes, method, given, row, table, row, types.intp, types.intp),
    }
