"""Inside: from the contents to what they wet, through the headspace to what is dry, and out when the lid is off."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.materials import surface_emissivity
from geometries.numeric import Array, Numeric
from thermal_model.assemble.annulus import annulus_surfaces
from thermal_model.assemble.columns import COLUMNS_OVER_MOUTH, columns_of, lid_of, underside_node
from thermal_model.assemble.lip import lip_node
from thermal_model.assemble.outside import air_speed
from thermal_model.assemble.plug import PLUG_ZONES, facing_the_plug, plug_surfaces
from thermal_model.assemble.setup import CONTENTS_NODE, FLOOR_NODE, HEADSPACE_NODE, Level, Setup, in_series
from thermal_model.assemble.walls import wall_node
from thermal_model.physics import radiation
from thermal_model.solver.laws import (
    GREY_EXCHANGE,
    HEADSPACE_FILM,
    OPEN_SURFACE_CONVECTION,
    OPEN_SURFACE_EVAPORATION,
    WETTED_FILM,
)
from thermal_model.solver.network import ROOM

WATER_EMISSIVITY = 0.96
"""Incropera/DeWitt, table A.11, from memory."""

STEEL_INSIDE_EMISSIVITY = 0.2
"""Of the dry inside of a wall: bare steel, dulled by use and by drops; judgement."""

UNLIMITED_FILM = 1e7
"""Stands for no resistance between contents and headspace, where the films are pinned. [W m-2 K-1]"""

OPEN_SURFACE_NODE = "open_surface"

SURFACE_CAPACITY = 1e-3
"""Of the liquid's surface: it follows at once. [J K-1]"""

SMALLEST_RIM = 5e-4
"""Least depth of the surface below the rim: the meniscus's. [m]"""

FILM_AS_AIR = 1.3e-4
"""Layer of air that conducts like the liquid's own film under a shoulder, about 200 W/m2K in cold water. [m]"""

OPEN_WALL_FILM = 5.0
"""Free convection on the dry inside of an open container; judgement. [W m-2 K-1]"""

OPEN_LID_FILM = 10.0
"""Both faces of a lid that lies open beside the container. [W m-2 K-1]"""


def add_inside(setup: Setup) -> None:
    """All exchange of the contents and the headspace, for every level that occurs."""
    top = setup.levels[0]
    setup.node(HEADSPACE_NODE, headspace_capacity(top))
    if is_ever_open(setup):
        setup.as_contents.append(setup.node(OPEN_SURFACE_NODE, SURFACE_CAPACITY))
    for level in setup.levels:
        _add_wetted_walls(setup, level)
        if setup.pins.headspace_film is None:
            _add_headspace(setup, level)
            _add_headspace_radiation(setup, level)
        else:
            _add_pinned_headspace(setup, level, setup.pins.headspace_film)
        if is_ever_open(setup):
            _add_open_top(setup, level)


def headspace_capacity(level: Level) -> Numeric:
    """Return a heat capacity for the headspace's moist air; it settles in seconds. [J K-1]"""
    # Air 1200 J/m3K, times about five for the vapour it holds at 60 C.
    return 6000.0 * level.surface_area * np.maximum(level.headspace_depth, 5e-3)


def dry_surfaces(setup: Setup, level: Level) -> list[tuple[str, Numeric, bool]]:
    """Return what bounds the headspace: node, area and whether it is level (a lid, a floor) or upright."""
    surfaces: list[tuple[str, Numeric, bool]] = [
        (wall_node(i), setup.cells.inner.area[i], False) for i in bare_cells(setup, level)
    ]
    surfaces.append((lip_node(0), bare_lip_area(setup) - wet_lip_area(setup, level), False))
    if setup.is_inverted:
        surfaces.append((FLOOR_NODE, np.pi * setup.body.floor_radius**2, True))
    elif setup.container.lid is not None:
        surfaces += lid_surfaces(setup)
    return surfaces


def bare_lip_area(setup: Setup) -> Numeric:
    """Return how much of the lip's inner face sees the headspace: what no plug faces. [m2]"""
    faced = 0.0 if setup.container.plug is None else facing_the_plug(setup).lip
    return 2.0 * np.pi * setup.body.mouth_radius * np.maximum(setup.body.lip_thickness - faced, 0.0)


def wet_lip_area(setup: Setup, level: Level) -> Numeric:
    """Return how much of the lip's inner face the liquid wets, of a container filled to within its thickness. [m2]"""
    if setup.is_inverted:
        return 0.0
    height = setup.body.lip_thickness
    share = np.clip(1.0 - (setup.body.depth - level.surface_height) / height, 0.0, 1.0)
    return share * bare_lip_area(setup)


def dry_cells(setup: Setup, level: Level) -> list[int]:
    """Return the cells of the inner wall that the contents do not wet, those beside a plug included."""
    return [i for i, zone in enumerate(setup.cells.zone) if zone not in level.wet_zones]


def bare_cells(setup: Setup, level: Level) -> list[int]:
    """Return the cells of the inner wall that face the headspace: neither wet nor beside a plug."""
    return [i for i in dry_cells(setup, level) if setup.cells.zone[i] not in PLUG_ZONES]


def lid_surfaces(setup: Setup) -> list[tuple[str, Numeric, bool]]:
    """Return the inside faces of lid and plug: node, area and whether level."""
    columns, plug = columns_of(setup), lid_of(setup).plug
    if plug is None:
        return [(underside_node(column), columns.area[column], True) for column in range(COLUMNS_OVER_MOUTH)]
    return [*plug_surfaces(setup, plug), *annulus_surfaces(setup, plug)]


def _add_wetted_walls(setup: Setup, level: Level) -> None:
    for i, zone in enumerate(setup.cells.zone):
        if zone in level.wet_zones:
            _add_wetted(setup, level, wall_node(i), setup.cells.inner.area[i], level.wetted_height, 0.0)
    if not setup.is_inverted:
        _add_wetted(setup, level, lip_node(0), wet_lip_area(setup, level), level.wetted_height, 0.0)
        radius = setup.body.floor_radius
        _add_wetted(setup, level, FLOOR_NODE, np.pi * radius**2, 0.5 * radius, 1.0)
    elif setup.container.lid is not None:
        half = 0.5 * setup.body.mouth_radius
        for node, area, is_level in lid_surfaces(setup):
            _add_wetted(setup, level, node, area, half if is_level else level.wetted_height, 1.0 * is_level)


def _add_wetted(
    setup: Setup,
    level: Level,
    node: str,
    area: Numeric,
    length: Numeric,
    facing: float,
    film_factor: Numeric | None = None,
) -> None:
    """Add the film in the liquid at a wall, or below its own surface; without a factor the unknown one's."""
    if setup.pins.wetted_film is not None:
        setup.conductance(CONTENTS_NODE, node, setup.pins.wetted_film * area, level=level.index)
        return
    setup.link(
        WETTED_FILM,
        CONTENTS_NODE,
        node,
        level=level.index,
        area=area,
        length=length,
        facing=facing,
        film_factor=setup.unknowns.wetted_film if film_factor is None else film_factor,
    )


def _add_pinned_headspace(setup: Setup, level: Level, film: Numeric) -> None:
    unlimited = UNLIMITED_FILM * level.surface_area
    setup.conductance(CONTENTS_NODE, HEADSPACE_NODE, unlimited, lid_on=True, level=level.index)
    for node, area, _ in dry_surfaces(setup, level):
        setup.conductance(HEADSPACE_NODE, node, film * area, lid_on=True, level=level.index)


def _add_headspace(setup: Setup, level: Level) -> None:
    """Film and vapour of a closed headspace; where it is open, the room's air lies over the contents instead."""
    depth = level.headspace_depth
    layers = layers_under_shoulder(setup, level)
    own = {wall_node(layer.cell): layer.area for layer in layers}
    _add_headspace_film(setup, level, CONTENTS_NODE, HEADSPACE_NODE, open_surface_area(setup, level), depth, True)
    for node, area, is_level in dry_surfaces(setup, level):
        _add_headspace_film(setup, level, HEADSPACE_NODE, node, area - own.get(node, 0.0), depth, is_level)
    for layer in layers:
        # The law's film is half of a layer of its size.
        _add_headspace_film(setup, level, CONTENTS_NODE, wall_node(layer.cell), layer.area, 2.0 * layer.depth, True)


def _add_headspace_film(
    setup: Setup, level: Level, start: str, end: str, area: Numeric, size: Numeric, is_level: bool
) -> None:
    setup.link(
        HEADSPACE_FILM,
        start,
        end,
        lid_on=True,
        level=level.index,
        area=area,
        size=size,
        is_level=1.0 if is_level else 0.0,
        water_activity=setup.water_activity,
        film_factor=setup.unknowns.headspace_film,
    )


@dataclass(frozen=True)
class LayerUnderShoulder:
    """The air between the liquid and a cell of the wall that hangs over it: level area [m2] and depth [m]."""

    cell: int
    area: Array
    depth: Array


def layers_under_shoulder(setup: Setup, level: Level) -> list[LayerUnderShoulder]:
    """Return the layers of air under a shoulder that have no part in the headspace's turning over.

    A shoulder close above the liquid has what lies between as a layer of its own, which is shut off from the rest as
    it grows thin, so that a flat shoulder becomes wet without a jump. The share of a cell that counts so falls with
    the layer's depth against half the width of the shoulder over the liquid; how fast is judgement.
    """
    neck, cells = setup.body.neck, setup.cells.inner
    if neck is None or setup.is_inverted:
        return []
    top = setup.body.depth - neck.length
    half_width = 0.5 * np.maximum(level.surface_radius - setup.body.mouth_radius, 1e-9)
    layers = []
    for i in bare_cells(setup, level):
        low, high = (np.clip(z, top - neck.shoulder_height, top) for z in (cells.height_low[i], cells.height_high[i]))
        depth = np.maximum(0.5 * (low + high) - level.surface_height, 0.0)
        share = 1.0 / (1.0 + (depth / half_width) ** 2)
        layers.append(LayerUnderShoulder(i, share * cells.overhang[i], depth + FILM_AS_AIR))
    return layers


def open_surface_area(setup: Setup, level: Level) -> Array:
    """Return the area of the liquid that gives to the headspace: what no shoulder covers closely. [m2]"""
    covered = sum((layer.area for layer in layers_under_shoulder(setup, level)), start=np.zeros(setup.lanes))
    return level.surface_area - covered


def _add_headspace_radiation(setup: Setup, level: Level) -> None:
    """From the liquid's surface to the lid (or the floor above it) and to the dry wall."""
    level_faces = [(node, area) for node, area, is_level in dry_surfaces(setup, level) if is_level]
    open_area = open_surface_area(setup, level)
    radius = np.sqrt(open_area / np.pi)
    total = sum((area for _, area in level_faces), start=np.zeros(setup.lanes))
    if level_faces:
        cover = np.sqrt(total / np.pi)
        seen = radiation.view_factor_coaxial_discs(radius, cover, level.headspace_depth)
        factor = radiation.exchange_factor_reradiating(
            seen, open_area, total, WATER_EMISSIVITY, surface_emissivity("plastic", None)
        )
        for node, area in level_faces:
            exchange = factor * open_area * area / total
            setup.link(GREY_EXCHANGE, CONTENTS_NODE, node, lid_on=True, level=level.index, exchange_area=exchange)
    _add_wall_radiation(setup, level, radius)


def _add_wall_radiation(setup: Setup, level: Level, radius: Array) -> None:
    cells = setup.cells.inner
    for i in bare_cells(setup, level):
        edges = np.stack([cells.height_low[i], cells.height_high[i]]) - level.surface_height
        near, far = np.sort(np.maximum(np.abs(edges), 1e-6), axis=0)
        seen = radiation.view_factor_disc_to_cylinder_ring(radius, near, np.maximum(far, near + 1e-9))
        seen_area = np.maximum(seen, 1e-6) * np.pi * radius**2
        wall = (1.0 / STEEL_INSIDE_EMISSIVITY - 1.0) / cells.area[i]
        exchange = in_series([1.0 / seen_area, wall])
        setup.link(GREY_EXCHANGE, CONTENTS_NODE, wall_node(i), level=level.index, exchange_area=exchange)


def is_ever_open(setup: Setup) -> bool:
    """Return whether the contents lie open at any time."""
    return setup.container.lid is None or bool(setup.scenario.openings)


def _add_open_top(setup: Setup, level: Level) -> None:
    """With the lid off: from the contents to their surface, and from it through the mouth to the room."""
    lid_on = None if setup.container.lid is None else False
    radius = np.minimum(level.surface_radius, setup.body.mouth_radius)
    area = np.pi * radius**2
    depth = np.maximum(setup.body.depth - level.surface_height, SMALLEST_RIM)
    # The surface is there with the lid on too, where it follows the contents.
    _add_wetted(setup, level, OPEN_SURFACE_NODE, area, 0.5 * radius, -1.0, film_factor=1.0)
    common: dict[str, Any] = {"path": "lid", "lid_on": lid_on, "level": level.index}
    air: dict[str, Any] = {
        "area": area,
        "diameter": 2.0 * radius,
        "depth": depth,
        "relative_humidity": setup.scenario.relative_humidity,
        "water_activity": setup.water_activity,
        "air_speed": air_speed(setup),
        "film_factor": setup.unknowns.open_surface,
    }
    setup.link(OPEN_SURFACE_EVAPORATION, OPEN_SURFACE_NODE, ROOM, **common, **air)
    setup.link(OPEN_SURFACE_CONVECTION, OPEN_SURFACE_NODE, ROOM, **common, **air)
    seen = radiation.view_factor_coaxial_discs(radius, setup.body.mouth_radius, depth)
    setup.link(GREY_EXCHANGE, OPEN_SURFACE_NODE, ROOM, **common, exchange_area=WATER_EMISSIVITY * seen * area)
    _add_open_walls(setup, level, common)


def _add_open_walls(setup: Setup, level: Level, common: dict[str, Any]) -> None:
    """Leave what is dry inside to the room's air, which the rising plume draws down along the wall; so with the lid."""
    setup.conductance(HEADSPACE_NODE, ROOM, OPEN_LID_FILM * level.surface_area, **common)
    for i in dry_cells(setup, level):
        setup.conductance(wall_node(i), ROOM, OPEN_WALL_FILM * setup.cells.inner.area[i], **common)
    bare = bare_lip_area(setup) - wet_lip_area(setup, level)
    setup.conductance(lip_node(0), ROOM, OPEN_WALL_FILM * bare, **common)
    if setup.container.lid is not None:
        for node, face, _ in lid_surfaces(setup):
            setup.conductance(node, ROOM, OPEN_LID_FILM * face, lid_on=False, level=level.index)
