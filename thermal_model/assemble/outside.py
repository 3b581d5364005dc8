"""Outside: from the outer shell, the lip and the base to the room; jacket, handle, wind and sunlight."""

from typing import Any

import numpy as np

from geometries.container import outer_base_radius, outer_radius, outside_diameter, outside_height
from geometries.materials import material, surface, surface_emissivity
from geometries.numeric import Array, Numeric
from thermal_model.assemble.lip import LAST, lip_node, lip_radii
from thermal_model.assemble.setup import Setup, in_series, widened
from thermal_model.assemble.table import add_table
from thermal_model.assemble.walls import is_double, outermost_base_node, outermost_node
from thermal_model.physics import fins, forced_convection, radiation
from thermal_model.properties import moist_air
from thermal_model.scenario import table_of
from thermal_model.solver.laws import HORIZONTAL_FACE, VERTICAL_FACE, Law
from thermal_model.solver.network import ROOM
from thermal_model.solver.scatter import sum_of_rows

JACKET_BASE_NODE = "jacket_base"

STILL_AIR_RADIATION = 0.9 * 6.0
"""Radiation across the narrow air spaces of case and foot, emissivity 0.9, about 300 K. [W m-2 K-1]"""

HANDLE_FILM = 10.0
"""Convection and radiation about a handle, taken constant: it is a side path of a few percent. [W m-2 K-1]"""


def air_speed(setup: Setup) -> Numeric:
    """Return the speed of the air about the container: wind, and the draught of a room. [m s-1]"""
    return np.hypot(setup.scenario.wind, setup.scenario.draught * setup.unknowns.draught)


def wind_film(setup: Setup) -> Numeric:
    """Return the forced convection coefficient about the body, zero in still air. [W m-2 K-1]"""
    room = setup.scenario.room
    diameter = 2.0 * outer_radius(setup.container)
    reynolds = air_speed(setup) * diameter / moist_air.kinematic_viscosity(room)
    nusselt = forced_convection.nusselt_cross_flow_churchill_bernstein(reynolds, moist_air.prandtl(room))
    return np.where(reynolds > 0.0, nusselt * moist_air.conductivity(room) / diameter, 0.0)


def exterior_emissivity(setup: Setup) -> Numeric:
    """Return the emissivity of the body's outside, jacket included."""
    exterior = setup.body.exterior
    emissivity, factor = surface_emissivity(exterior.surface, exterior.emissivity), setup.unknowns.exterior_emissivity
    if exterior.emissivity is None:
        factor = widened(factor, surface(exterior.surface), "exterior_emissivity")
    return np.minimum(emissivity * factor, 1.0)


def add_upright_face(setup: Setup, node: str, area: Numeric, emissivity: Numeric, path: str) -> None:
    """Add an upright face of the round outside to the room, pinned or by correlation."""
    shape = {"height": outside_height(setup.container), "diameter": outside_diameter(setup.container)}
    _add_face(setup, VERTICAL_FACE, node, path, None, area=area, emissivity=emissivity, **shape)


def add_level_face(
    setup: Setup,
    node: str,
    area: Numeric,
    length: Numeric,
    emissivity: Numeric,
    facing: float,
    path: str,
    lid_on: bool | None = None,
) -> None:
    """Add a level outer face to the room (facing +1 up), pinned or by correlation."""
    _add_face(
        setup, HORIZONTAL_FACE, node, path, lid_on, area=area, emissivity=emissivity, length=length, facing=facing
    )


def _add_face(
    setup: Setup, law: Law, node: str, path: str, lid_on: bool | None, *, area: Numeric, **shape: Any
) -> None:
    if setup.pins.exterior_film is not None:
        setup.conductance(node, ROOM, setup.pins.exterior_film * area, path=path, lid_on=lid_on)
        return
    films: dict[str, Any] = {"wind_film": wind_film(setup), "film_factor": setup.unknowns.exterior_film}
    setup.link(law, node, ROOM, path=path, lid_on=lid_on, area=area, **shape, **films)


def add_side(setup: Setup) -> None:
    """Add the side of the body to the room, through a jacket if there is one; then handle and sunlight."""
    cells, emissivity, covered = setup.cells, exterior_emissivity(setup), skirt_cover(setup)
    for i in range(cells.count):
        area = cells.outer.area[i]
        node = _cased(setup, outermost_node(setup, i), facing_node(setup, i), area)
        add_upright_face(setup, node, area * (1.0 - covered[i]), emissivity, _side_path(setup, i))
    _add_lip(setup, emissivity)
    _add_handle(setup)
    _add_sunlight(setup, emissivity)


def _add_lip(setup: Setup, emissivity: Numeric) -> None:
    """Add the lip's outer edge, and its top where no lid rests on it."""
    radii = lip_radii(setup)
    edge = 2.0 * np.pi * radii[-1] * setup.body.lip_thickness
    add_upright_face(setup, lip_node(LAST), edge, emissivity, "steel_bridge")
    lid_on = None if setup.container.lid is None else False
    for k, area in enumerate(np.pi * np.diff(radii**2, axis=0)):
        width = 0.5 * (radii[-1] - radii[0])
        add_level_face(setup, lip_node(k), area, width, emissivity, setup.up, "steel_bridge", lid_on)


def skirt_cover(setup: Setup) -> Array:
    """Return the share of each cell of the outer side that the lid's skirt covers, (k, n)."""
    lid, cells = setup.container.lid, setup.cells
    low, high = cells.outer.height_low, cells.outer.height_high
    if lid is None:
        return np.zeros_like(high)
    edge = high[-1] - lid.skirt_length
    return np.clip((high - np.maximum(low, edge)) / np.maximum(high - low, 1e-9), 0.0, 1.0)


def facing_node(setup: Setup, i: int) -> str:
    """Return the node that faces the room at a cell: the jacket's, or the outermost wall's."""
    return outermost_node(setup, i) if setup.body.jacket is None else f"jacket_{i}"


def _cased(setup: Setup, node: str, case: str, area: Numeric) -> str:
    """Return what faces the room: the node itself, or a jacket's over it, which is then added. [area in m2]"""
    jacket = setup.body.jacket
    if jacket is None:
        return node
    solid = setup.layer_solid(jacket.material)
    setup.node(case, area * jacket.thickness * solid.volumetric_capacity)
    air = moist_air.conductivity(310.0) / jacket.air_space + STILL_AIR_RADIATION
    setup.conductance(node, case, in_series([1.0 / (area * air), jacket.thickness / (area * solid.conductivity)]))
    return case


def _add_handle(setup: Setup) -> None:
    handle, cells = setup.body.handle, setup.cells
    if handle is None:
        return
    half = 0.5 * handle.length if handle.attachments == 2 else handle.length
    conductance = handle.attachments * fins.conductance_fin_adiabatic_tip(
        HANDLE_FILM,
        2.0 * (handle.width + handle.thickness),
        material(handle.material).conductivity_300K,
        handle.width * handle.thickness,
        half,
    )
    total = sum_of_rows(cells.outer.area)
    for i in range(cells.count):
        path = _side_path(setup, i)
        setup.conductance(outermost_node(setup, i), ROOM, conductance * cells.outer.area[i] / total, path=path)


def _side_path(setup: Setup, i: int) -> str:
    if is_double(setup):
        return ""
    return "gap_side" if setup.cells.zone[i] in setup.levels[0].wet_zones else "steel_bridge"


def _add_sunlight(setup: Setup, emissivity: Numeric) -> None:
    """Add sunlight on the upright silhouette, absorbed by as much as the surface emits (grey).

    It falls on what faces the room: on a jacket if there is one, and not below a lid's skirt.
    """
    cells, sunlight, covered = setup.cells, setup.scenario.sunlight, skirt_cover(setup)
    for i in range(cells.count):
        # A silhouette is 1/pi of a cylinder's side.
        lit = cells.outer.area[i] * (1.0 - covered[i]) / np.pi
        setup.sources[facing_node(setup, i)] = emissivity * sunlight * lit


def add_base(setup: Setup) -> None:
    """Add the base: on a table through the air under its foot, or free to the room."""
    path = "" if is_double(setup) else "base"
    radius = outer_base_radius(setup.container)
    area = np.pi * radius**2
    node = _cased(setup, outermost_base_node(setup), JACKET_BASE_NODE, area)
    table = table_of(setup.scenario.stands_on)
    if setup.pins.base_film is not None:
        setup.conductance(node, ROOM, setup.pins.base_film * area, path=path)
    elif table is None or setup.is_inverted:
        add_level_face(setup, node, area, 0.5 * radius, exterior_emissivity(setup), -setup.up, path)
    else:
        recess = np.maximum(setup.body.base.recess, 1e-4)
        emissivity = radiation.exchange_factor_parallel_plates(exterior_emissivity(setup), 0.9)
        air = moist_air.conductivity(300.0) / recess + STILL_AIR_RADIATION / 0.9 * emissivity
        add_table(setup, node, radius, 1.0 / (air * area), table, path)
