"""The plug: its wall, floor and core, cut like the wall of the neck that it faces."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.container import annulus_depth, plug_radius
from geometries.lid import Plug
from geometries.numeric import Array, Numeric
from thermal_model.assemble.columns import (
    COLUMNS_OVER_MOUTH,
    Columns,
    columns_of,
    lid_of,
    plug_core_radius,
    underside_node,
)
from thermal_model.assemble.setup import Setup, Solid
from thermal_model.assemble.walls import gas_parameters, wall_node
from thermal_model.physics import radiation
from thermal_model.physics.conduction import DISC_MEAN_TO_EDGE
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.solver.laws import LAYER_HORIZONTAL
from thermal_model.solver.scatter import sum_of_rows

PLUG_CAVITY_FILM = 7.0
"""Weak convection and radiation from the inside of a hollow plug's wall, judgement. [W m-2 K-1]"""

SOLID_FLOOR = 0.1
"""Share of a solid plug's depth that is cut off below as a floor [-]: where its nodes lie, no part of it."""

LEAST_ALONG_WALL = 0.1
"""Least share of the annulus that is taken to lie below the lip [-]: a plug hardly longer than the lip still has
cells of some length there."""

OPEN_ANNULUS, AT_SEAL, DRY_ANNULUS = "open_annulus", "at_seal", "dry_annulus"
PLUG_ZONES = (OPEN_ANNULUS, AT_SEAL, DRY_ANNULUS)
"""Zones of the wall that face a plug: below the lowest seal, beside it, and above it."""

PLUG_FLOOR_NODE, PLUG_FLOOR_INSIDE_NODE, PLUG_AIR_NODE = "plug_floor", "plug_floor_inside", "plug_air"


def plug_wall_node(cell: int) -> str:
    """Name of a part of the plug's wall, facing the neck's cell of the same order."""
    return f"plug_wall_{cell}"


@dataclass(frozen=True)
class Facing:
    """What of the neck faces the plug, from the bottom up.

    Attributes
    ----------
    cells : list of int
        k numbers of the wall's cells.
    length : (k, n) array
        Of the annulus beside each of them. [m]
    bare : (n,) array
        Area of these cells that is not beside the annulus, where it is shorter than cells can be. [m2]
    lip : (n,) array
        Of the annulus beside the lip's inner face, above them. [m]
    hanging : (n,) array
        Of the plug below the annulus, in the headspace. [m]
    """

    cells: list[int]
    length: Array
    bare: Array
    lip: Array
    hanging: Array

    @property
    def plug_length(self) -> Array:
        """Length of plug that belongs to each cell: what hangs below goes to the lowest, the lip's to the last. [m]"""
        length = self.length.copy()
        length[0] += self.hanging
        length[-1] += self.lip
        return length

    @property
    def depths(self) -> Array:
        """Depths below the mouth plane of the cells' edges, (k + 1, n), the lowest first. [m]"""
        above = np.cumsum(self.length[::-1], axis=0)[::-1]
        return np.concatenate([above, np.zeros((1, len(self.lip)))]) + self.lip


def facing_the_plug(setup: Setup) -> Facing:
    """Return the cells that face the plug; together with the lip they are as long as the annulus, however short."""
    sheet, plug = setup.cells.inner, lid_of(setup).plug
    assert plug is not None
    cells = [i for i, zone in enumerate(setup.cells.zone) if zone in PLUG_ZONES]
    reach = np.broadcast_to(annulus_depth(setup.container), (setup.lanes,))
    along = np.maximum(reach - setup.body.lip_thickness, LEAST_ALONG_WALL * reach)
    raw = sheet.height_high[cells] - sheet.height_low[cells]
    whole = sum_of_rows(raw)
    share = np.minimum(along / whole, 1.0)
    return Facing(
        cells=cells,
        length=raw * (along / whole),
        bare=sum_of_rows(sheet.area[cells]) * (1.0 - share),
        lip=reach - along,
        hanging=np.maximum(plug.depth - reach, 0.0),
    )


def add_plug(setup: Setup, plug: Plug, columns: Columns) -> None:
    """Add the plug with all its parts; what lies between it and the neck is added by `add_annulus`."""
    radius = np.broadcast_to(plug_radius(setup.container), (setup.lanes,))
    core = plug_core_radius(setup, plug)
    length = facing_the_plug(setup).plug_length
    _add_plug_wall(setup, plug, radius, core, length)
    if plug.kind != "open":
        _add_plug_floor(setup, plug, core)
        inside = length * (1.0 - _floor_thickness(plug) / plug.depth)
        if plug.kind == "hollow" and setup.pins.plug_core_conductivity is None:
            _add_hollow_core(setup, plug, core, inside, columns)
        else:
            _add_conducting_core(setup, plug, radius, core, inside, columns)


def plug_surfaces(setup: Setup, plug: Plug) -> list[tuple[str, Numeric, bool]]:
    """Return the plug's faces to the headspace: node, area and whether level."""
    radius = np.broadcast_to(plug_radius(setup.container), (setup.lanes,))
    core, facing = plug_core_radius(setup, plug), facing_the_plug(setup)
    surfaces: list[tuple[str, Numeric, bool]] = [
        (plug_wall_node(0), np.pi * (radius**2 - core**2), True),
        (plug_wall_node(0), 2.0 * np.pi * radius * facing.hanging, False),
        (wall_node(facing.cells[0]), facing.bare, False),
    ]
    if plug.kind != "open":
        return [*surfaces, (PLUG_FLOOR_NODE, np.pi * core**2, True)]
    for k, length in enumerate(facing.plug_length):
        surfaces.append((plug_wall_node(k), 2.0 * np.pi * core * length, False))
    over_core = columns_of(setup).area[: COLUMNS_OVER_MOUTH - 1]
    return [*surfaces, *((underside_node(column), area, True) for column, area in enumerate(over_core))]


def _floor_thickness(plug: Plug) -> Numeric:
    return SOLID_FLOOR * plug.depth if plug.kind == "solid" else plug.wall_thickness


def _add_plug_wall(setup: Setup, plug: Plug, radius: Array, core: Array, length: Array) -> None:
    solid = setup.layer_solid(plug.material)
    section = np.pi * (radius**2 - core**2)
    for k in range(len(length)):
        setup.node(plug_wall_node(k), section * length[k] * solid.volumetric_capacity)
    for k in range(len(length) - 1):
        conductance = solid.conductivity * section / (0.5 * (length[k] + length[k + 1]))
        setup.conductance(plug_wall_node(k), plug_wall_node(k + 1), conductance)
    top = solid.conductivity * section / (0.5 * length[-1])
    setup.conductance(plug_wall_node(len(length) - 1), underside_node(COLUMNS_OVER_MOUTH - 1), top)


def _add_plug_floor(setup: Setup, plug: Plug, core: Array) -> None:
    """Add the plug's floor: two faces, joined to each other and to the foot of the plug's wall."""
    solid = setup.layer_solid(plug.material)
    area, thickness = np.pi * core**2, _floor_thickness(plug)
    half = 0.5 * area * thickness * solid.volumetric_capacity
    setup.node(PLUG_FLOOR_NODE, half)
    setup.node(PLUG_FLOOR_INSIDE_NODE, half)
    across = solid.conductivity * area / thickness
    setup.conductance(PLUG_FLOOR_NODE, PLUG_FLOOR_INSIDE_NODE, across)
    sideways = solid.conductivity * 0.5 * thickness / DISC_MEAN_TO_EDGE
    setup.conductance(PLUG_FLOOR_NODE, plug_wall_node(0), sideways)
    setup.conductance(PLUG_FLOOR_INSIDE_NODE, plug_wall_node(0), sideways)


def _add_conducting_core(setup: Setup, plug: Plug, radius: Array, core: Array, length: Array, columns: Columns) -> None:
    """Add a solid or foamed core, cut like the wall around it."""
    solid, area = _core_solid(setup, plug), np.pi * core**2
    half_wall = np.log(0.5 * (radius + core) / core) / (2.0 * np.pi * setup.layer_solid(plug.material).conductivity)
    for k in range(len(length)):
        setup.node(f"plug_core_{k}", area * length[k] * solid.volumetric_capacity)
        radial = length[k] / (DISC_MEAN_TO_EDGE / solid.conductivity + half_wall)
        setup.conductance(f"plug_core_{k}", plug_wall_node(k), radial)
    setup.conductance(PLUG_FLOOR_INSIDE_NODE, "plug_core_0", solid.conductivity * area / (0.5 * length[0]))
    for k in range(len(length) - 1):
        conductance = solid.conductivity * area / (0.5 * (length[k] + length[k + 1]))
        setup.conductance(f"plug_core_{k}", f"plug_core_{k + 1}", conductance)
    for column in range(COLUMNS_OVER_MOUTH - 1):
        conductance = solid.conductivity * columns.area[column] / (0.5 * length[-1])
        setup.conductance(f"plug_core_{len(length) - 1}", underside_node(column), conductance)


def _core_solid(setup: Setup, plug: Plug) -> Solid:
    if setup.pins.plug_core_conductivity is not None:
        return Solid(setup.pins.plug_core_conductivity, 0.0, 1.0 * 1007.0)
    return setup.layer_solid(plug.material if plug.kind == "solid" else plug.core_material)


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
