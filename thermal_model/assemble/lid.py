"""The lid: layers as discs cut into rings, with rim and skirt; plug, seals and annulus.

A lid is not one-dimensional: heat that enters over the mouth spreads to the rim and leaves there, and the lip feeds
the ring that rests on it. So each solid layer is cut into three columns over the mouth and a ring over the lip.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.container import (
    annulus_depth,
    lid_outer_radius,
    lip_inner_radius,
    lip_width,
    outside_height,
    plug_radius,
)
from geometries.lid import Lid, Plug, PocketLayer, SolidLayer
from geometries.materials import material, surface_emissivity
from geometries.numeric import Array, Numeric
from thermal_model.assemble.outside import add_level_face, add_upright_face, outer_wall_node, skirt_cover
from thermal_model.assemble.setup import HEADSPACE_NODE, Setup, in_series
from thermal_model.assemble.walls import LIP_CELLS, gas_parameters, lip_node, lip_radii, wall_node
from thermal_model.laws import ANNULUS_VAPOUR, LAYER_HORIZONTAL, VENT_EXCHANGE
from thermal_model.network import ROOM
from thermal_model.physics import enclosed_layers, radiation
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.properties import moist_air

COLUMNS_OVER_MOUTH = 3
RING = COLUMNS_OVER_MOUTH
"""Number of the first of the columns that rest on the lip, one for each part of the lip."""

COLUMNS = COLUMNS_OVER_MOUTH + LIP_CELLS
EDGE = COLUMNS - 1
"""Number of the outermost column."""

LID_CONTACT = 400.0
"""Thread, gasket and flat contact between lid and lip; judgement, no source. [W m-2 K-1]"""

SKIRT_CLEARANCE = 1e-3
"""Air between the skirt's inside and the neck's outside: thread clearance, judgement. [m]"""

ANNULUS_RADIATION = 1.2
"""Between bare steel (emissivity 0.15) and plastic across the annulus, at 320 K. [W m-2 K-1]"""

PLUG_CAVITY_FILM = 7.0
"""Weak convection and radiation from the inside of a hollow plug's wall, judgement. [W m-2 K-1]"""

HONEYCOMB_SOLID_SHARE = 0.03
"""Share of a honeycomb's section that is solid; judgement, thin plastic webs."""


@dataclass(frozen=True)
class Columns:
    """Rings that a lid layer is cut into, from the axis outwards.

    Attributes
    ----------
    edges : (COLUMNS + 1, n) array
        Radii that divide the columns; the last is the lid's own. [m]
    """

    edges: Array

    @property
    def area(self) -> Array:
        """Level area of each column, (COLUMNS, n). [m2]"""
        return np.pi * np.diff(self.edges**2, axis=0)

    @property
    def radius(self) -> Array:
        """Radius that halves each column's area, (COLUMNS, n). [m]"""
        return np.sqrt(0.5 * (self.edges[1:] ** 2 + self.edges[:-1] ** 2))


def lid_of(setup: Setup) -> Lid:
    """Return the lid, which must be there."""
    assert setup.container.lid is not None
    return setup.container.lid


def columns_of(setup: Setup) -> Columns:
    """Return the lid's columns: over a plug they follow its core and wall, else they crowd near the mouth's edge."""
    container, plug = setup.container, lid_of(setup).plug
    mouth = np.broadcast_to(lip_inner_radius(container), (setup.lanes,))
    if plug is None:
        inner = [0.6 * mouth, 0.87 * mouth]
    else:
        core = plug_core_radius(setup, plug)
        inner = [0.6 * core, core]
    outer = np.broadcast_to(lid_outer_radius(container), mouth.shape)
    return Columns(np.stack([np.zeros_like(mouth), *inner, mouth, *lip_radii(setup)[1:-1], outer]))


def plug_core_radius(setup: Setup, plug: Plug) -> Array:
    """Return the inside radius of a plug's wall; a solid plug is divided where its wall would be. [m]"""
    radius = np.broadcast_to(plug_radius(setup.container), (setup.lanes,))
    return np.maximum(radius - plug.wall_thickness, 0.2 * radius)


def layer_node(layer: int, row: int, column: int) -> str:
    """Name of a part of a solid layer; rows count from its lower face to its upper one."""
    return f"lid_{layer}_{row}_{column}"


def underside_node(column: int) -> str:
    """Name of a part of the lid's lowest face."""
    return layer_node(0, 0, column)


def rows_of(setup: Setup) -> int:
    """Return how many rows of nodes a solid layer has; a lid of one thick layer needs a middle one."""
    solid_layers = [layer for layer in lid_of(setup).layers if isinstance(layer, SolidLayer)]
    return (2 if len(solid_layers) == 1 else 1) * setup.refinement + 1


def add_lid(setup: Setup) -> None:
    """Add all of the lid: layers, contact with the lip, outer faces, plug, openings."""
    lid, columns = lid_of(setup), columns_of(setup)
    for number, layer in enumerate(lid.layers):
        if isinstance(layer, SolidLayer):
            _add_solid_layer(setup, number, layer, columns)
    _join_layers(setup, columns)
    _add_contact(setup)
    _add_top(setup, columns)
    _add_skirt_or_overhang(setup, columns)
    if lid.plug is not None:
        _add_plug(setup, lid.plug, columns)
    _add_openings(setup)


def _add_solid_layer(setup: Setup, number: int, layer: SolidLayer, columns: Columns) -> None:
    solid, rows = setup.layer_solid(layer.material), rows_of(setup)
    pitch = layer.thickness / (rows - 1)
    for row in range(rows):
        height = pitch * (0.5 if row in (0, rows - 1) else 1.0)
        for column in range(COLUMNS):
            capacity = columns.area[column] * height * solid.volumetric_capacity
            setup.node(layer_node(number, row, column), capacity)
        for column in range(EDGE):
            spread = np.log(columns.radius[column + 1] / columns.radius[column])
            conductance = 2.0 * np.pi * solid.conductivity * height / spread
            setup.conductance(layer_node(number, row, column), layer_node(number, row, column + 1), conductance)
    for row in range(rows - 1):
        for column in range(COLUMNS):
            conductance = solid.conductivity * columns.area[column] / pitch
            setup.conductance(layer_node(number, row, column), layer_node(number, row + 1, column), conductance)
    _add_rim(setup, number, layer.thickness, solid.conductivity, columns, rows)


def _add_rim(setup: Setup, number: int, thickness: Numeric, conductivity: Numeric, columns: Columns, rows: int) -> None:
    """Add the rim of a solid layer: from each row of its edge to the surface, and to the room."""
    to_edge = np.log(columns.edges[-1] / columns.radius[EDGE])
    for row in range(rows):
        height = thickness * (0.5 if row in (0, rows - 1) else 1.0) / (rows - 1)
        rim = setup.node(f"lid_{number}_{row}_rim", SURFACE_CAPACITY)
        setup.conductance(layer_node(number, row, EDGE), rim, 2.0 * np.pi * conductivity * height / to_edge)
        _rim_to_room(setup, rim, height, columns)


SURFACE_CAPACITY = 1e-3
"""Of a node that stands for a bare surface: it follows at once. [J K-1]"""


def _rim_to_room(setup: Setup, rim: str, height: Numeric, columns: Columns) -> None:
    area = 2.0 * np.pi * columns.edges[-1] * height
    add_upright_face(setup, rim, area, outside_height(setup.container), lid_emissivity(setup), "lid")


def lid_emissivity(setup: Setup) -> Numeric:
    """Return the emissivity of the lid's outside."""
    exterior = lid_of(setup).exterior
    return surface_emissivity(exterior.surface, exterior.emissivity)


def _join_layers(setup: Setup, columns: Columns) -> None:
    """Join each solid layer with the next, directly or across a pocket; a pocket on top is open to nothing."""
    layers, rows = lid_of(setup).layers, rows_of(setup)
    below: int | None = None
    pocket: tuple[int, PocketLayer] | None = None
    for number, layer in enumerate(layers):
        if isinstance(layer, PocketLayer):
            pocket = (number, layer)
            continue
        if below is not None and pocket is None:
            for column in range(COLUMNS):
                contact = 1e4 * columns.area[column]
                setup.conductance(layer_node(below, rows - 1, column), layer_node(number, 0, column), contact)
        elif below is not None and pocket is not None:
            _add_pocket(setup, pocket, below, number, columns)
        below, pocket = number, None


def _add_pocket(setup: Setup, pocket: tuple[int, PocketLayer], below: int, above: int, columns: Columns) -> None:
    """Add a pocket between two solid layers, and the plastic side wall around it."""
    number, layer = pocket
    pocket_radius = np.maximum(columns.edges[-1] - lid_of(setup).side_thickness, columns.edges[1])
    filled = Columns(np.minimum(columns.edges, pocket_radius))
    _add_pocket_side(setup, number, layer, below, above, columns, pocket_radius)
    conductivity = _filling_conductivity(setup, layer)
    if conductivity is not None:
        _add_conducting_pocket(setup, number, layer, below, above, filled, conductivity)
        return
    for column in range(COLUMNS):
        lower, upper = layer_node(below, rows_of(setup) - 1, column), layer_node(above, 0, column)
        _add_air_pocket(setup, layer, lower, upper, filled.area[column])


def _filling_conductivity(setup: Setup, layer: PocketLayer) -> Numeric | None:
    """Return the conductivity of a pocket that is filled solid (or pinned), None for air. [W m-1 K-1]"""
    if setup.pins.pocket_conductivity is not None:
        return setup.pins.pocket_conductivity
    if layer.filling != "foam":
        return None
    return material(layer.foam_material).conductivity_300K * setup.unknowns.layer_conductivity


def _add_conducting_pocket(
    setup: Setup,
    number: int,
    layer: PocketLayer,
    below: int,
    above: int,
    filled: Columns,
    conductivity: Numeric,
) -> None:
    """Add a filling that conducts sideways too: one node a column, the outermost joined to the side wall."""
    for column in range(EDGE):
        node = setup.node(f"lid_{number}_filling_{column}", filled.area[column] * layer.depth * FILLING_CAPACITY)
        half = conductivity * filled.area[column] / (0.5 * layer.depth)
        setup.conductance(layer_node(below, rows_of(setup) - 1, column), node, half)
        setup.conductance(node, layer_node(above, 0, column), half)
        if column:
            spread = np.log(filled.radius[column] / filled.radius[column - 1])
            sideways = 2.0 * np.pi * conductivity * layer.depth / spread
            setup.conductance(f"lid_{number}_filling_{column - 1}", node, sideways)
    to_side = np.log(filled.edges[-1] / filled.radius[EDGE - 1])
    for k in range(SIDE_CELLS):
        sideways = 2.0 * np.pi * conductivity * layer.depth / (SIDE_CELLS * to_side)
        setup.conductance(f"lid_{number}_filling_{EDGE - 1}", f"lid_{number}_side_{k}", sideways)


FILLING_CAPACITY = 4e4
"""Of foam in a pocket: 28 kg/m3 of 1450 J/kgK. [J m-3 K-1]"""


def _add_air_pocket(setup: Setup, layer: PocketLayer, lower: str, upper: str, area: Numeric) -> None:
    exchange = radiation.exchange_factor_parallel_plates(
        surface_emissivity(layer.lower_surface, layer.lower_emissivity),
        surface_emissivity(layer.upper_surface, layer.upper_emissivity),
    )
    is_honeycomb = layer.filling == "honeycomb"
    if is_honeycomb:
        webs = HONEYCOMB_SOLID_SHARE * material("polypropylene").conductivity_300K
        setup.conductance(lower, upper, webs * area / layer.depth)
    setup.link(
        LAYER_HORIZONTAL,
        lower,
        upper,
        area=area,
        exchange_factor=exchange,
        depth=layer.depth,
        upward=setup.up,
        convects=0.0 if is_honeycomb else 1.0,
        slices=1.0,
        **gas_parameters("air", STANDARD_PRESSURE, 1.0),
    )


def _add_pocket_side(
    setup: Setup,
    number: int,
    layer: PocketLayer,
    below: int,
    above: int,
    columns: Columns,
    pocket_radius: Array,
) -> None:
    """Add the side wall around a pocket, a fin between the layers below and above."""
    solid = setup.layer_solid(_solid(setup, below).material)
    section = np.pi * (columns.edges[-1] ** 2 - pocket_radius**2)
    height = layer.depth / SIDE_CELLS
    half = solid.conductivity * section / (0.5 * height)
    previous, conductance = layer_node(below, rows_of(setup) - 1, EDGE), half
    for k in range(SIDE_CELLS):
        side = setup.node(f"lid_{number}_side_{k}", section * height * solid.volumetric_capacity)
        setup.conductance(previous, side, conductance)
        _rim_to_room(setup, side, height, columns)
        previous, conductance = side, 0.5 * half
    setup.conductance(previous, layer_node(above, 0, EDGE), half)


SIDE_CELLS = 3


def _solid(setup: Setup, number: int) -> SolidLayer:
    layer = lid_of(setup).layers[number]
    assert isinstance(layer, SolidLayer)
    return layer


def _add_contact(setup: Setup) -> None:
    """Join the rings that rest on the lip to its parts."""
    contact = LID_CONTACT * setup.unknowns.lid_contact if setup.pins.lid_contact is None else setup.pins.lid_contact
    radii = lip_radii(setup)
    for k in range(LIP_CELLS):
        area = np.pi * (radii[k + 1] ** 2 - radii[k] ** 2)
        setup.conductance(lip_node(k), underside_node(RING + k), contact * area, lid_on=True)


def _top_layer(setup: Setup) -> int:
    return max(k for k, layer in enumerate(lid_of(setup).layers) if isinstance(layer, SolidLayer))


def _add_top(setup: Setup, columns: Columns) -> None:
    top, row = _top_layer(setup), rows_of(setup) - 1
    for column in range(COLUMNS):
        add_level_face(
            setup,
            layer_node(top, row, column),
            columns.area[column],
            0.5 * columns.edges[-1],
            lid_emissivity(setup),
            setup.up,
            "lid",
        )


def _add_skirt_or_overhang(setup: Setup, columns: Columns) -> None:
    """Add what hangs over the lip: a skirt around the neck, or a bare overhang that faces down."""
    lid = lid_of(setup)
    edge = lip_inner_radius(setup.container) + lip_width(setup.container)
    overhang = np.maximum(np.pi * (columns.edges[-1] ** 2 - edge**2), 0.0)
    add_level_face(
        setup, underside_node(EDGE), overhang, 0.5 * columns.edges[-1], lid_emissivity(setup), -setup.up, "lid"
    )
    if np.all(np.asarray(lid.skirt_length) == 0.0):
        return
    solid = setup.layer_solid(_solid(setup, 0).material)
    section = np.pi * (columns.edges[-1] ** 2 - (columns.edges[-1] - lid.skirt_thickness) ** 2)
    length = np.maximum(lid.skirt_length, 1e-4)
    skirt = setup.node("lid_skirt", section * length * solid.volumetric_capacity)
    setup.conductance(underside_node(EDGE), skirt, solid.conductivity * section / (0.5 * length))
    outside = 2.0 * np.pi * columns.edges[-1] * length
    add_upright_face(setup, skirt, outside, outside_height(setup.container), lid_emissivity(setup), "lid")
    covered = skirt_cover(setup)
    air = moist_air.conductivity(310.0) / SKIRT_CLEARANCE
    for i in range(setup.cells.count):
        conductance = air * setup.cells.outer.area[i] * covered[i]
        setup.conductance(skirt, outer_wall_node(setup, i), conductance, path="lid", lid_on=True)


# --- plug, seals and annulus -------------------------------------------------------------------------------------


def plug_wall_node(cell: int) -> str:
    """Name of a part of the plug's wall, facing the neck's cell of the same order."""
    return f"plug_wall_{cell}"


PLUG_ZONES = ("plug", "below_seal", "above_seal")
"""Zones of the wall that face a plug: undivided, or on either side of a lower seal."""

PLUG_FLOOR_NODE, PLUG_FLOOR_INSIDE_NODE, PLUG_AIR_NODE = "plug_floor", "plug_floor_inside", "plug_air"


def plugged_cells(setup: Setup) -> list[int]:
    """Return the numbers of the wall's cells that face the plug, from the bottom up."""
    return [i for i, zone in enumerate(setup.cells.zone) if zone in PLUG_ZONES]


def _add_plug(setup: Setup, plug: Plug, columns: Columns) -> None:
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
    length[0] += np.maximum(plug.depth - length.sum(axis=0), 0.0)
    return length


def _plug_solid_conductivity(setup: Setup, plug: Plug) -> tuple[Numeric, Numeric]:
    solid = setup.layer_solid(plug.material)
    return solid.conductivity, solid.volumetric_capacity


def _add_plug_wall(setup: Setup, plug: Plug, radius: Array, core: Array, length: Array) -> None:
    conductivity, capacity = _plug_solid_conductivity(setup, plug)
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
    conductivity, capacity = _plug_solid_conductivity(setup, plug)
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
    wall_conductivity, _ = _plug_solid_conductivity(setup, plug)
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
        return _plug_solid_conductivity(setup, plug)
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
    conductivity, _ = _plug_solid_conductivity(setup, plug)
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


ANNULUS_STIRRING = 3.0
"""How much more than a smooth slot at rest a real annulus exchanges: screw threads, a plug off its centre, drops.

Judgement between two bounds: 1, and about 5, where the annulus is as hot as the headspace all the way up. Testers
find that a seal low in the neck matters more than any other change of a lid (common practice, no source). [-]
"""


def _add_seals(setup: Setup, plug: Plug, facing: list[int], radius: Array, half_wall: Numeric) -> None:
    """Each seal bridges the clearance at its place."""
    for seal in lid_of(setup).seals:
        conductivity = setup.pins.seal_conductivity
        if conductivity is None:
            conductivity = material(seal.material).conductivity_300K
        area = 2.0 * np.pi * (radius + 0.5 * plug.clearance) * seal.height
        conductance = in_series([plug.clearance / (conductivity * area), half_wall / area])
        k = _seal_cell(setup, facing, seal.depth)
        setup.conductance(wall_node(facing[k]), plug_wall_node(k), conductance, lid_on=True)


def _seal_cell(setup: Setup, facing: list[int], depth: Numeric) -> int:
    """Return which plugged cell carries a seal at a depth; the lowest seal sits just above the open annulus."""
    mouth = setup.cells.inner.height_high[-1].mean()
    tops = np.array([mouth - setup.cells.inner.height_high[cell].mean() for cell in facing])
    dry = [k for k, cell in enumerate(facing) if setup.cells.zone[cell] != "below_seal"]
    return next((k for k in dry if np.mean(depth) >= tops[k]), dry[-1])


def _add_openings(setup: Setup) -> None:
    for opening in lid_of(setup).openings:
        if opening.closed:
            continue
        setup.link(
            VENT_EXCHANGE,
            HEADSPACE_NODE,
            ROOM,
            path="vent",
            lid_on=True,
            diameter=opening.diameter,
            length=lid_of(setup).height if opening.length is None else opening.length,
            relative_humidity=setup.scenario.relative_humidity,
            film_factor=setup.unknowns.lid_leak,
        )
