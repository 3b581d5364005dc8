"""The lid: layers as discs cut into rings, with rim, skirt, pockets and holes.

A lid is not one-dimensional: heat that enters over the mouth spreads to the rim and leaves there, and the lip feeds
the ring that rests on it.
"""

from itertools import pairwise

import numpy as np

from geometries.container import opening_length, pocket_radius
from geometries.lid import PocketLayer, SolidLayer
from geometries.materials import material, surface_emissivity
from geometries.numeric import Array, Numeric
from thermal_model.assemble.annulus import add_annulus
from thermal_model.assemble.columns import (
    COLUMNS,
    EDGE,
    OVERHANG,
    RING,
    Columns,
    columns_of,
    layer_node,
    lid_of,
    underside_node,
)
from thermal_model.assemble.leak import add_leak
from thermal_model.assemble.lip import lip_node, lip_radii
from thermal_model.assemble.outside import add_level_face, add_upright_face, skirt_cover
from thermal_model.assemble.plug import add_plug
from thermal_model.assemble.setup import HEADSPACE_NODE, Setup, in_series, widened
from thermal_model.assemble.walls import gas_parameters, is_double, outermost_node
from thermal_model.physics import radiation
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.properties import moist_air
from thermal_model.solver.laws import LAYER_HORIZONTAL, VENT_EXCHANGE
from thermal_model.solver.network import ROOM

LID_CONTACT = 400.0
"""Thread, gasket and flat contact between lid and lip; judgement, no source. [W m-2 K-1]"""

SKIRT_CLEARANCE = 1e-3
"""Air between the skirt's inside and the neck's outside: thread clearance, judgement. [m]"""

HONEYCOMB_SOLID_SHARE = 0.03
"""Share of a honeycomb's section that is solid; judgement, thin plastic webs."""


def rows_of(setup: Setup, number: int) -> int:
    """Return how many rows of nodes a solid layer has; the lowest, which may be thick, has a middle one."""
    return (2 if number == 0 else 1) * setup.refinement + 1


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
        add_plug(setup, lid.plug, columns)
        add_annulus(setup, lid.plug)
    _add_openings(setup)
    add_leak(setup)


def _add_solid_layer(setup: Setup, number: int, layer: SolidLayer, columns: Columns) -> None:
    solid, rows = setup.layer_solid(layer.material), rows_of(setup, number)
    pitch = layer.thickness / (rows - 1)
    heights = [pitch * (0.5 if row in (0, rows - 1) else 1.0) for row in range(rows)]
    for row, height in enumerate(heights):
        nodes = [layer_node(number, row, column) for column in range(COLUMNS)]
        for node, area in zip(nodes, columns.area, strict=True):
            setup.node(node, area * height * solid.volumetric_capacity)
        for column, (near, far) in enumerate(pairwise(nodes)):
            spread = np.log(columns.radius[column + 1] / columns.radius[column])
            setup.conductance(near, far, 2.0 * np.pi * solid.conductivity * height / spread)
    for row in range(rows - 1):
        for column in range(COLUMNS):
            conductance = solid.conductivity * columns.area[column] / pitch
            setup.conductance(layer_node(number, row, column), layer_node(number, row + 1, column), conductance)
    for row, height in enumerate(heights):
        _rim_to_room(setup, layer_node(number, row, EDGE), height, columns)


def _rim_to_room(setup: Setup, rim: str, height: Numeric, columns: Columns, share: Numeric = 1.0) -> None:
    area = 2.0 * np.pi * columns.edges[-1] * height * share
    add_upright_face(setup, rim, area, lid_emissivity(setup), "lid")


def _level_to_room(setup: Setup, node: str, column: int, facing: float, columns: Columns) -> None:
    half = 0.5 * columns.edges[-1]
    add_level_face(setup, node, columns.area[column], half, lid_emissivity(setup), facing, "lid")


def lid_emissivity(setup: Setup) -> Numeric:
    """Return the emissivity of the lid's outside."""
    exterior = lid_of(setup).exterior
    return surface_emissivity(exterior.surface, exterior.emissivity)


def _join_layers(setup: Setup, columns: Columns) -> None:
    """Join each solid layer with the next, directly or across the pocket that lies between them."""
    layers = lid_of(setup).layers
    for number, layer in enumerate(layers):
        if isinstance(layer, PocketLayer):
            _add_pocket(setup, number, layer, columns)
        elif number and isinstance(layers[number - 1], SolidLayer):
            for column in range(COLUMNS):
                setup.conductance(*_ends(setup, number - 1, number, column), 1e4 * columns.area[column])


def _ends(setup: Setup, below: int, above: int, column: int) -> tuple[str, str]:
    """Return the top of a solid layer, and the foot of another, in a column."""
    return layer_node(below, rows_of(setup, below) - 1, column), layer_node(above, 0, column)


def _add_pocket(setup: Setup, number: int, layer: PocketLayer, columns: Columns) -> None:
    """Add a pocket between two solid layers, and the wall around it."""
    conductivity = _filling_conductivity(setup, layer)
    if conductivity is not None:
        _add_conducting_pocket(setup, number, layer, columns, conductivity)
        return
    filled = columns.area_between(0.0, pocket_radius(setup.container))
    _add_pocket_side(setup, number, layer, columns, columns.area - filled)
    for column in range(COLUMNS):
        _add_air_pocket(setup, layer, *_ends(setup, number - 1, number + 1, column), filled[column])


def _filling_conductivity(setup: Setup, layer: PocketLayer) -> Numeric | None:
    """Return the conductivity of a pocket that is filled solid (or pinned), None for air. [W m-1 K-1]"""
    if setup.pins.pocket_conductivity is not None:
        return setup.pins.pocket_conductivity
    if layer.filling != "foam":
        return None
    foam = material(layer.foam_material)
    return foam.conductivity_300K * widened(setup.unknowns.layer_conductivity, foam, "layer_conductivity")


def _add_conducting_pocket(
    setup: Setup, number: int, layer: PocketLayer, columns: Columns, conductivity: Numeric
) -> None:
    """Add a filling that conducts sideways too, and the wall around it, as rows of nodes."""
    solid, inside = setup.layer_solid(_solid(setup, number - 1).material), pocket_radius(setup.container)
    filled = columns.area_between(0.0, inside)
    walled = columns.area - filled
    rows = POCKET_ROWS * setup.refinement
    height = layer.depth / rows
    for column in range(COLUMNS):
        upright = conductivity * filled[column] + solid.conductivity * walled[column]
        ends = _ends(setup, number - 1, number + 1, column)
        capacity = FILLING_CAPACITY * filled[column] + solid.volumetric_capacity * walled[column]
        nodes = [setup.node(filling_node(number, row, column), height * capacity) for row in range(rows)]
        steps = [2.0, *[1.0] * (rows - 1), 2.0]
        for (low, high), step in zip(pairwise([ends[0], *nodes, ends[1]]), steps, strict=True):
            setup.conductance(low, high, step * upright / height)
        if column:
            near, far = columns.radius[column - 1], columns.radius[column]
            rim = np.clip(inside, near, far)
            sideways = in_series([np.log(rim / near) / conductivity, np.log(far / rim) / solid.conductivity])
            for row in range(rows):
                start = filling_node(number, row, column - 1)
                setup.conductance(start, nodes[row], 2.0 * np.pi * height * sideways)
    for row in range(rows):
        _rim_to_room(setup, filling_node(number, row, EDGE), height, columns)


def filling_node(layer: int, row: int, column: int) -> str:
    """Name of a part of a pocket's filling, or of the wall around it."""
    return f"lid_{layer}_filling_{row}_{column}"


POCKET_ROWS = 3

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
        convects=_honeycomb_convection(layer) if is_honeycomb else 1.0,
        slices=1.0,
        **gas_parameters("air", STANDARD_PRESSURE, 1.0),
    )


def _honeycomb_convection(layer: PocketLayer) -> Numeric:
    """Return what a honeycomb leaves of the Rayleigh number: its cells' walls raise the onset of convection.

    With the fourth power of depth over cell width, as for slender cells in general (from memory). [-]
    """
    assert layer.cell_size is not None
    slenderness = layer.depth / layer.cell_size
    return 1.0 / (1.0 + slenderness**4)


def _add_pocket_side(setup: Setup, number: int, layer: PocketLayer, columns: Columns, walled: Array) -> None:
    """Add the wall around a pocket, a fin between the layers below and above, whose columns it covers in part."""
    solid = setup.layer_solid(_solid(setup, number - 1).material)
    height = layer.depth / SIDE_CELLS
    nodes = [f"lid_{number}_side_{k}" for k in range(SIDE_CELLS)]
    section = walled.sum(axis=0)
    # The film takes heat from the face, which a third of the wall's thickness keeps from its mean temperature.
    share = 1.0 / (1.0 + SIDE_FILM * lid_of(setup).side_thickness / (3.0 * solid.conductivity))
    for node in nodes:
        setup.node(node, section * height * solid.volumetric_capacity)
        _rim_to_room(setup, node, height, columns, share)
    for low, high in pairwise(nodes):
        setup.conductance(low, high, solid.conductivity * section / height)
    for column in range(COLUMNS):
        half = solid.conductivity * walled[column] / (0.5 * height)
        top, foot = _ends(setup, number - 1, number + 1, column)
        setup.conductance(top, nodes[0], half)
        setup.conductance(nodes[-1], foot, half)


SIDE_FILM = 10.0
"""Convection and radiation on the wall around a pocket, taken constant for its own resistance. [W m-2 K-1]"""

SIDE_CELLS = 3


def _solid(setup: Setup, number: int) -> SolidLayer:
    layer = lid_of(setup).layers[number]
    assert isinstance(layer, SolidLayer)
    return layer


def _add_contact(setup: Setup) -> None:
    """Join the rings that rest on the lip to its parts."""
    contact = LID_CONTACT * setup.unknowns.lid_contact if setup.pins.lid_contact is None else setup.pins.lid_contact
    up = 0.5 * setup.body.lip_thickness / setup.wall_solid(setup.body.wall.material).conductivity
    for k, area in enumerate(np.pi * np.diff(lip_radii(setup) ** 2, axis=0)):
        joined = area / (1.0 / contact + up)
        setup.conductance(lip_node(k), underside_node(RING + k), joined, lid_on=True)


def _add_top(setup: Setup, columns: Columns) -> None:
    top = len(lid_of(setup).layers) - 1
    row = rows_of(setup, top) - 1
    for column in range(COLUMNS):
        _level_to_room(setup, layer_node(top, row, column), column, setup.up, columns)


def _add_skirt_or_overhang(setup: Setup, columns: Columns) -> None:
    """Add what hangs over the lip: a skirt around the neck, or a bare overhang that faces down."""
    lid = lid_of(setup)
    for column in range(OVERHANG, COLUMNS):
        _level_to_room(setup, underside_node(column), column, -setup.up, columns)
    if np.all(np.asarray(lid.skirt_length) == 0.0):
        return
    solid = setup.layer_solid(_solid(setup, 0).material)
    section = np.pi * (columns.edges[-1] ** 2 - (columns.edges[-1] - lid.skirt_thickness) ** 2)
    length = np.maximum(lid.skirt_length, 1e-4)
    skirt = setup.node("lid_skirt", section * length * solid.volumetric_capacity)
    setup.conductance(underside_node(EDGE), skirt, solid.conductivity * section / (0.5 * length))
    outside = 2.0 * np.pi * columns.edges[-1] * length
    add_upright_face(setup, skirt, outside, lid_emissivity(setup), "lid")
    covered = skirt_cover(setup)
    air = moist_air.conductivity(310.0) / SKIRT_CLEARANCE
    # What a shell gives the skirt has been counted at the gap; a single wall's own heat is counted as it leaves.
    path = "lid" if is_double(setup) else ""
    for i in range(setup.cells.count):
        conductance = air * setup.cells.outer.area[i] * covered[i]
        setup.conductance(skirt, outermost_node(setup, i), conductance, path=path, lid_on=True)


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
            length=opening_length(setup.container, opening),
            relative_humidity=setup.scenario.relative_humidity,
            water_activity=setup.water_activity,
            film_factor=setup.unknowns.lid_leak,
        )
