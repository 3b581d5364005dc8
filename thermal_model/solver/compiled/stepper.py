"""Steps by the compiled kernel: many lanes, block by block, the interpreter's lock let go."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np

from geometries.numeric import Array
from thermal_model.properties import water
from thermal_model.solver.compiled.arguments import (
    WIDTH,
    KernelLanes,
    KernelMethod,
    KernelStep,
    KernelTables,
    flat,
    kernel_method,
)
from thermal_model.solver.compiled.machine_code import kernel
from thermal_model.solver.compiled.tables import Blocks, tables_of
from thermal_model.solver.cores import are_free, cores
from thermal_model.solver.network import CONTENTS, Contents, LinkTable, Network, RoomTemperature
from thermal_model.solver.rates import contents_temperature
from thermal_model.solver.scatter import Indices, sum_of_rows
from thermal_model.solver.stepping import Tolerance, lenience

BLOCKS_PER_THREAD = 8
"""Fewer blocks than this are done sooner than another thread is called."""


@lru_cache(maxsize=1)
def _helpers() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(max(cores() - 1, 1), thread_name_prefix="lanes")


def _on_all_cores(work: Callable[[int, int], None], blocks: int) -> None:
    """Do work on ranges of blocks, on all cores if they are free."""
    parts = min(cores(), blocks // BLOCKS_PER_THREAD)
    if parts < 2 or not are_free():
        work(0, blocks)
        return
    bounds = [blocks * part // parts for part in range(parts + 1)]
    others = [_helpers().submit(work, *pair) for pair in pairwise(bounds[1:])]
    work(*bounds[:2])
    for other in others:
        other.result()


@dataclass(frozen=True)
class _Plan:
    """What all lanes share, whichever of them are left."""

    tables: KernelTables
    entry_count: int
    method: KernelMethod
    tolerance: Tolerance


class CompiledStepper:
    """Does what `thermal_model.solver.stepping.PlainStepper` does, to rounding."""

    def __init__(self, network: Network, links: LinkTable, tolerance: Tolerance) -> None:
        count, blocks = network.lane_count, Blocks(network.lane_count, tolerance.dtype)
        room = np.zeros((1, count))
        contents = network.contents.of_each(count)
        lanes = KernelLanes(
            parameters=blocks.pack_parameters(links),
            capacities=blocks.pack(np.vstack([network.capacities, room + 1.0])),
            sources=blocks.pack(np.vstack([network.sources, -sum_of_rows(network.sources)])),
            is_water=int(contents.is_water),
            heat_capacity=blocks.pack(np.asarray(contents.heat_capacity)),
        )
        plan = _Plan(*tables_of(links, network.node_count), kernel_method(tolerance), tolerance)
        self._use(plan, blocks, lanes, contents, network.room)

    def _use(self, plan: _Plan, blocks: Blocks, lanes: KernelLanes, contents: Contents, room: RoomTemperature) -> None:
        self._plan, self._blocks, self._lanes, self._contents, self._room = plan, blocks, lanes, contents, room
        self._here = blocks.empty(blocks.count, 3, len(plan.tables.start) * WIDTH)
        self._shared = tuple(flat(plan.tables, lanes, dtype=blocks.dtype))
        self._kernel = kernel(blocks.dtype)

    def evaluate(self, state: Array, room: Array) -> tuple[Array, Array]:
        """As in Stepper."""
        blocks = self._blocks
        heating = blocks.empty(blocks.count, 2 * WIDTH)
        packed, rooms = blocks.pack(state), blocks.pack(room)

        def work(first: int, last: int) -> None:
            temperatures = blocks.empty(packed.shape[1])
            self._kernel.linearise(self._shared, packed, rooms, temperatures, self._here, heating, first, last)

        _on_all_cores(work, blocks.count)
        taken, vapour = blocks.unpack(heating)
        if not self._plan.tables.evaporates.any():
            return taken, vapour
        return taken, vapour / water.latent_heat(contents_temperature(self._contents, state[CONTENTS]))

    def step(self, state: Array, time: Array, step: Array, mass: Array) -> tuple[Array, Array]:
        """As in Stepper."""
        blocks, room = self._blocks, self._room
        stage_times = self._plan.tolerance.method.stage_times
        rooms = np.stack([room.at(time + share * step) for share in stage_times])
        packed = blocks.pack(state)
        given = KernelStep(
            state=packed,
            mass=blocks.pack(mass),
            step=blocks.pack(step),
            more=blocks.pack(lenience(time, self._plan.tolerance.at_fill)),
            rooms=blocks.pack(rooms).reshape(blocks.count, len(stage_times), WIDTH),
            room_slope=blocks.pack(room.slope(time)),
            here=self._here,
            new_state=blocks.empty(*packed.shape),
            size=blocks.empty(blocks.count, WIDTH),
        )

        def work(first: int, last: int) -> None:
            room_to_work = self._room_to_work(packed.shape[1])
            self._kernel.steps(self._shared, self._plan.method, given, *room_to_work, first, last)

        _on_all_cores(work, blocks.count)
        return blocks.unpack(given.new_state), blocks.unpack(given.size)[0]

    def _room_to_work(self, size: int) -> tuple[Array, Array, Array]:
        """Return arrays for what a block's step needs on its way: matrix entries, rows, and factors of a step."""
        stage_count = len(self._plan.method.starts)
        rows = 5 + stage_count, max(size, len(self._plan.tables.start) * WIDTH)
        factors = (3 + stage_count**2) * WIDTH
        empty = self._blocks.empty
        return empty(self._plan.entry_count * WIDTH), empty(*rows), empty(factors)

    def take_lanes(self, lanes: Indices) -> "CompiledStepper":
        """As in Stepper."""
        taken = Blocks(len(lanes), self._blocks.dtype)
        packed = {name: values for name, values in self._lanes._asdict().items() if isinstance(values, np.ndarray)}
        of_lanes: dict[str, Any] = {name: self._blocks.take(values, lanes, taken) for name, values in packed.items()}
        stepper = object.__new__(CompiledStepper)
        contents, room = self._contents.take_lanes(lanes), self._room.take_lanes(lanes)
        stepper._use(self._plan, taken, self._lanes._replace(**of_lanes), contents, room)
        return stepper
