"""The plug: its wall, floor and core, its seals, and the annulus between it and the neck."""

from typing import Any

import numpy as np

from geometries.container import annulus_depth, plug_radius
from geometries.lid import Plug
from geometries.materials import material
from geometries.numeric import Array, Numeric
from thermal_model.assemble.columns import (
    COLUMNS_OVER_MOUTH,
    Columns,
    lid_of,
    plug_core_radius,
    underside_node,
)
from thermal_model.assemble.setup import HEADSPACE_NODE, Setup, in_series
from thermal_model.assemble.walls import gas_parameters, wall_node
from thermal_model.physics import enclosed_layers, radiation
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.properties import moist_air
from thermal_model.solver.laws import ANNULUS_VAPOUR, LAYER_HORIZONTAL
from thermal_model.solver.scatter import sum_of_rows

ANNULUS_RADIATION = 1.2
"""Between bare steel (emissivity 0.15) and plastic across the annulus, at 320 K. [W m-2 K-1]"""

PLUG_CAVITY_FILM = 7.0
"""Weak convection and radiation from the inside of a hollow plug's wall, judgement. [W m-2 K-1]"""


def plug_wall_node(cell: int) -> str:
    """Name of a part of the plug's wall, facing the neck's cell of the same order."""
    return f"plug_wall_{cell}"


PLUG_ZONES = ("plug", "below_seal", "above_seal")
"""Zones of the wall that face a plug: undivided, or on either side of a lower seal."""

PLUG_FLOOR_NODE, PLUG_FLOOR_INSIDE_NODE, PLUG_AIR_NODE = "plug_floor", "plug_floor_inside", "plug_air"


def plugged_cells(setup: Setup) -> list[int]:
    """Return the numbers of the wall's cells that face the plug, from the bottom up."""
    return [i for i, zone in enumerate(setup.cells.zone) if zone in PLUG_ZONES]


def add_plug(setup: Setup, plug: Plug, columns: Columns) -> None:
    """Add the plug with all its parts and what surrounds it."""
    facing = plugged_cells(setup)
    radius = np.broadcast_to(plug_radius(setup.container), (setup.lanes,))
    core = plug_core_radius(setup, plug)
    length = _plug_lengths(setup, plug, facing)
    _add_plug_wall(setup, plug, radius, core, length)
    if plug.kind != "open":
        _add_plug_floor(setup, plug, core)
        if plug.kind == "hollow" and setup.pins.plug_core_conductivity is None:
            _add_hollow_core(setup, plug, core, length, columns)
        else:
            _add_conducting_core(setup, plug, core, length, columns)
    _add_annulus(setup, plug, facing, radius, length)


def _plug_lengths(setup: Setup, plug: Plug, facing: list[int]) -> Array:
    """Return the length of plug that faces each cell; what hangs below the neck adds to the lowest. [m]"""
    cells = setup.cells.inner
    length = cells.height_high[facing] - cells.height_low[facing]
    length = np.maximum(length, 1e-5)
    length[0] += np.maximum(plug.depth - sum_of_rows(length), 0.0)
    return length


def _plug_solid(setup: Setup, plug: Plug) -> tuple[Numeric, Numeric]:
    solid = setup.layer_solid(plug.material)
    return solid.conductivity, solid.volumetric_capacity


def _add_plug_wall(setup: Setup, plug: Plug, radius: Array, core: Array, length: Array) -> None:
    conductivity, capacity = _plug_solid(setup, plug)
    section = np.pi * (radius**2 - core**2)
    for k in range(len(length)):
        setup.node(plug_wall_node(k), section * length[k] * capacity)
    for k in range(len(length) - 1):
        conductance = conductivity * section / (0.5 * (length[k] + length[k + 1]))
        setup.conductance(plug_wall_node(k), plug_wall_node(k + 1), conductance)
    top = conductivity * section / (0.5 * length[-1])
    setup.conductance(plug_wall_node(len(length) - 1), underside_node(COLUMNS_OVER_MOUTH - 1), top)


def _add_plug_floor(setup: Setup, plug: Plug, core: Array) -> None:
    """Add the plug's floor: two faces, joined to each other and to the foot of the plug's wall."""
    conductivity, capacity = _plug_solid(setup, plug)
    area = np.pi * core**2
    half = 0.5 * area * plug.wall_thickness * capacity
    setup.node(PLUG_FLOOR_NODE, half)
    setup.node(PLUG_FLOOR_INSIDE_NODE, half)
    across = conductivity * area / plug.wall_thickness
    setup.conductance(PLUG_FLOOR_NODE, PLUG_FLOOR_INSIDE_NODE, across)
    sideways = 2.0 * np.pi * conductivity * 0.5 * plug.wall_thickness / np.log(np.sqrt(2.0))
    setup.conductance(PLUG_FLOOR_NODE, plug_wall_node(0), sideways)
    setup.conductance(PLUG_FLOOR_INSIDE_NODE, plug_wall_node(0), sideways)


def _add_conducting_core(setup: Setup, plug: Plug, core: Array, length: Array, columns: Columns) -> None:
    """Add a solid or foamed core, cut like the wall around it."""
    conductivity, capacity = _core_solid(setup, plug)
    area = np.pi * core**2
    wall_conductivity, _ = _plug_solid(setup, plug)
    for k in range(len(length)):
        setup.node(f"plug_core_{k}", area * length[k] * capacity)
        half_wall = np.log(1.0 + 0.5 * plug.wall_thickness / core) / wall_conductivity
        radial = 2.0 * np.pi * length[k] / (np.log(np.sqrt(2.0)) / conductivity + half_wall)
        setup.conductance(f"plug_core_{k}", plug_wall_node(k), radial)
    setup.conductance(PLUG_FLOOR_INSIDE_NODE, "plug_core_0", conductivity * area / (0.5 * length[0]))
    for k in range(len(length) - 1):
        conductance = conductivity * area / (0.5 * (length[k] + length[k + 1]))
        setup.conductance(f"plug_core_{k}", f"plug_core_{k + 1}", conductance)
    for column in range(COLUMNS_OVER_MOUTH - 1):
        conductance = conductivity * columns.area[column] / (0.5 * length[-1])
        setup.conductance(f"plug_core_{len(length) - 1}", underside_node(column), conductance)


def _core_solid(setup: Setup, plug: Plug) -> tuple[Numeric, Numeric]:
    if setup.pins.plug_core_conductivity is not None:
        return setup.pins.plug_core_conductivity, 1.0 * 1007.0
    if plug.kind == "solid":
        return _plug_solid(setup, plug)
    solid = setup.layer_solid(plug.core_material)
    return solid.conductivity, solid.volumetric_capacity


def _add_hollow_core(setup: Setup, plug: Plug, core: Array, length: Array, columns: Columns) -> None:
    """Air in a closed plug: a level layer in two halves, and a weak exchange with the wall around it."""
    area = np.pi * core**2
    depth = np.maximum(plug.depth - plug.wall_thickness, 1e-3)
    setup.node(PLUG_AIR_NODE, area * depth * 1.1 * 1007.0)
    exchange = radiation.exchange_factor_parallel_plates(0.9, 0.9)
    common: dict[str, Any] = {
        "exchange_factor": exchange,
        "depth": depth,
        "upward": setup.up,
        "convects": 1.0,
        "slices": 2.0,
        **gas_parameters("air", STANDARD_PRESSURE, 1.0),
    }
    setup.link(LAYER_HORIZONTAL, PLUG_FLOOR_INSIDE_NODE, PLUG_AIR_NODE, area=area, **common)
    for column in range(COLUMNS_OVER_MOUTH - 1):
        setup.link(LAYER_HORIZONTAL, PLUG_AIR_NODE, underside_node(column), area=columns.area[column], **common)
    for k in range(len(length)):
        inside = 2.0 * np.pi * core * length[k]
        setup.conductance(PLUG_AIR_NODE, plug_wall_node(k), PLUG_CAVITY_FILM * inside)


def _add_annulus(setup: Setup, plug: Plug, facing: list[int], radius: Array, length: Array) -> None:
    """Across the annulus air conducts everywhere; below the lowest seal vapour fills it."""
    conductivity, _ = _plug_solid(setup, plug)
    half_wall = 0.5 * plug.wall_thickness / conductivity
    side = 2.0 * np.pi * (radius + 0.5 * plug.clearance)
    covered = np.broadcast_to(annulus_depth(setup.container), (setup.lanes,)) / plug.depth
    for k, cell in enumerate(facing):
        area = side * length[k] * (covered if k == 0 else 1.0)
        is_open = setup.cells.zone[cell] == "below_seal" or not _has_lower_seal(setup)
        if is_open and setup.pins.annulus_film is not None:
            _add_pinned_annulus(setup, k, cell, setup.pins.annulus_film, area, half_wall)
        elif is_open and setup.pins.annulus_conductivity is None:
            _add_wet_annulus(setup, plug, k, cell, area)
        else:
            _add_dry_annulus(setup, plug, k, cell, area, half_wall)
    if setup.pins.annulus_film is None:
        _add_vapour_column(setup, plug, facing, side, length)
    _add_seals(setup, plug, facing, radius, half_wall)


def _add_dry_annulus(setup: Setup, plug: Plug, k: int, cell: int, area: Numeric, half_wall: Numeric) -> None:
    air = setup.pins.annulus_conductivity
    still = moist_air.conductivity(320.0) / plug.clearance + ANNULUS_RADIATION
    film = still if air is None else air / plug.clearance
    conductance = in_series([1.0 / (film * area), half_wall / area])
    setup.conductance(wall_node(cell), plug_wall_node(k), conductance, lid_on=True)


def _add_wet_annulus(setup: Setup, plug: Plug, k: int, cell: int, area: Numeric) -> None:
    setup.link(
        ANNULUS_VAPOUR,
        wall_node(cell),
        plug_wall_node(k),
        lid_on=True,
        area_per_length=area / plug.clearance,
        exchange_factor=setup.unknowns.annulus_exchange,
        is_across=1.0,
        water_activity=setup.water_activity,
    )


def _has_lower_seal(setup: Setup) -> bool:
    return "above_seal" in setup.cells.zone


def _add_pinned_annulus(setup: Setup, k: int, cell: int, film: Numeric, area: Numeric, half_wall: Numeric) -> None:
    setup.conductance(HEADSPACE_NODE, wall_node(cell), film * area, lid_on=True)
    conductance = in_series([1.0 / (film * area), half_wall / area])
    setup.conductance(HEADSPACE_NODE, plug_wall_node(k), conductance, lid_on=True)


def _add_vapour_column(setup: Setup, plug: Plug, facing: list[int], side: Numeric, length: Array) -> None:
    """Vapour creeps up the open annulus from the headspace, condensing on the neck as it goes."""
    lower_seal = _has_lower_seal(setup)
    open_cells = [
        (k, cell) for k, cell in enumerate(facing) if not lower_seal or setup.cells.zone[cell] == "below_seal"
    ]
    turnover = annulus_turnover(plug.clearance, sum(length[k] for k, _ in open_cells))
    previous, reach = HEADSPACE_NODE, np.zeros(setup.lanes)
    for k, cell in open_cells:
        setup.link(
            ANNULUS_VAPOUR,
            previous,
            wall_node(cell),
            lid_on=True,
            area_per_length=side * plug.clearance / (reach + 0.5 * length[k]),
            exchange_factor=turnover * setup.unknowns.annulus_exchange,
            is_across=0.0,
            water_activity=setup.water_activity,
        )
        previous, reach = wall_node(cell), 0.5 * length[k]


def annulus_turnover(clearance: Numeric, length: Numeric) -> Numeric:
    """Return how much faster than by diffusion vapour climbs an open annulus of a clearance and length [m]. [-]

    The slot as a Hele-Shaw cell, with saturated air of 70 C below and 50 C above: a tight clearance lets vapour
    only diffuse, a wide one turns over; times `ANNULUS_STIRRING`.
    """
    warm, cold = moist_air.saturated_air_density(343.15), moist_air.saturated_air_density(323.15)
    relative = 2.0 * (cold - warm) / (cold + warm)
    group = moist_air.saturated_air_buoyancy_group(333.15)
    smooth = enclosed_layers.nusselt_slot_open_below(group * relative * clearance * clearance / 12.0 * length)
    return ANNULUS_STIRRING * smooth


ANNULUS_STIRRING = 3.5
"""How much more than a smooth slot at rest a real annulus exchanges: screw threads, a plug off its centre, drops.

Judgement between two bounds: 1, and about 5, where the annulus is as hot as the headspace all the way up. Testers
find that a seal low in the neck matters more than any other change of a lid (common practice, no source). [-]
"""


def _add_seals(setup: Setup, plug: Plug, facing: list[int], radius: Array, half_wall: Numeric) -> None:
    """Each seal bridges the clearance in the cell it lies in, which may be another one in every lane."""
    for seal in lid_of(setup).seals:
        conductivity = setup.pins.seal_conductivity
        if conductivity is None:
            conductivity = material(seal.material).conductivity_300K
        area = 2.0 * np.pi * (radius + 0.5 * plug.clearance) * seal.height
        conductance = in_series([plug.clearance / (conductivity * area), half_wall / area])
        for k, is_there in _seal_cells(setup, facing, seal.depth):
            setup.conductance(wall_node(facing[k]), plug_wall_node(k), conductance * is_there, lid_on=True)


def _seal_cells(setup: Setup, facing: list[int], depth: Numeric) -> list[tuple[int, Array]]:
    """Return the plugged cells that may carry a seal, each with 1 where it does and 0 elsewhere, (n,).

    The lowest seal sits in the first cell above the open annulus, one at the rim in the last.
    """
    dry = [k for k, cell in enumerate(facing) if setup.cells.zone[cell] != "below_seal"]
    tops = setup.cells.inner.height_high[-1] - setup.cells.inner.height_high[[facing[k] for k in dry]]
    reaches = np.broadcast_to(depth, tops.shape) >= tops
    reaches[-1] = True
    first = np.argmax(reaches, axis=0)
    return [(k, (first == place).astype(float)) for place, k in enumerate(dry)]
