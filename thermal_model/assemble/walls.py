"""Walls: the inner wall and the outer shell as fins, and the gap between them; `lip` joins them at the mouth."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from geometries.body import Gap
from geometries.container import gap_side_base_radius, outer_base_radius
from geometries.materials import Surface, material, surface, surface_emissivity, width_ratio
from geometries.numeric import Array, Numeric
from geometries.shapes import circle_area
from thermal_model.assemble.setup import FLOOR_NODE, Setup, Solid, in_series, widened
from thermal_model.assemble.stations import Crossing, Sheet
from thermal_model.physics import radiation, rarefied_gas
from thermal_model.physics.conduction import DISC_MEAN_TO_EDGE
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.solver.laws import GAP_VERTICAL, LAYER_HORIZONTAL, Law
from thermal_model.unknowns import USUAL_WIDTHS

BASE_NODE = "shell_base"

POOR_CONDUCTOR = 5.0
"""A wall of a material below this has nodes on both faces [W m-1 K-1]; through a metal next to nothing is lost."""


def wall_node(cell: int) -> str:
    """Name of a cell of the inner wall, on its inside, counted from the floor."""
    return f"wall_{cell}"


def shell_node(cell: int) -> str:
    """Name of a cell of the outer shell, on its side to the gap, counted from the floor."""
    return f"shell_{cell}"


def wall_back(setup: Setup, node: str) -> str:
    """Return the node on the outer face of the inner wall, or of its floor, from that on the inside."""
    return f"{node}_back" if inner_has_two_faces(setup) else node


def shell_back(setup: Setup, node: str) -> str:
    """Return the node on the outer face of the outer shell, or of its base, from that on the side to the gap."""
    return f"{node}_back" if outer_has_two_faces(setup) else node


def outermost_node(setup: Setup, cell: int) -> str:
    """Return the node of a cell that faces the room or a jacket: the outer shell's, or a single wall's own."""
    return shell_back(setup, shell_node(cell)) if is_double(setup) else wall_back(setup, wall_node(cell))


def outermost_base_node(setup: Setup) -> str:
    """Return the node of the base that faces the table or the room."""
    return shell_back(setup, BASE_NODE) if is_double(setup) else wall_back(setup, FLOOR_NODE)


def is_double(setup: Setup) -> bool:
    """Return whether the body has two walls."""
    return setup.body.gap is not None


def inner_has_two_faces(setup: Setup) -> bool:
    """Return whether the inner wall has a node on either face: a single wall, or a poor conductor."""
    return not is_double(setup) or _is_poor_conductor(setup.body.wall.material)


def outer_has_two_faces(setup: Setup) -> bool:
    """Return whether the outer shell has a node on either face: a poor conductor."""
    wall = setup.body.wall
    return _is_poor_conductor(wall.outer_material or wall.material)


def _is_poor_conductor(name: str) -> bool:
    return material(name).conductivity_300K < POOR_CONDUCTOR


@dataclass(frozen=True)
class _Wall:
    """One wall with its floor: names of its nodes, its two faces, and what it is made of."""

    node: Callable[[int], str]
    floor: str
    back: Callable[[Setup, str], str]
    faces: tuple[Sheet, Sheet]
    floor_areas: tuple[Numeric, Numeric]
    across: Crossing
    thickness: Numeric
    solid: Solid


def add_inner_wall(setup: Setup) -> None:
    """Add floor and side of the inner wall, conducting along the sheet up to the lip, and through it."""
    wall, cells = setup.body.wall, setup.cells
    _add_wall(
        setup,
        _Wall(
            node=wall_node,
            floor=FLOOR_NODE,
            back=wall_back,
            faces=(cells.inner, cells.gap_side),
            floor_areas=(circle_area(setup.body.floor_radius), circle_area(gap_side_base_radius(setup.container))),
            across=cells.across_inner,
            thickness=wall.inner_thickness * setup.unknowns.wall_thickness,
            solid=setup.wall_solid(wall.material),
        ),
    )


def add_outer_shell(setup: Setup) -> None:
    """Add the outer shell and its base, conducting down from the lip, and through it."""
    wall, cells, radius = setup.body.wall, setup.cells, outer_base_radius(setup.container)
    _add_wall(
        setup,
        _Wall(
            node=shell_node,
            floor=BASE_NODE,
            back=shell_back,
            faces=(cells.shell_inside, cells.outer),
            floor_areas=(circle_area(radius - wall.outer_thickness), circle_area(radius)),
            across=cells.across_outer,
            thickness=wall.outer_thickness * setup.unknowns.wall_thickness,
            solid=setup.wall_solid(wall.outer_material or wall.material),
        ),
    )


def _add_wall(setup: Setup, wall: _Wall) -> None:
    """Add one sheet of nodes in the middle of a wall, or one on either face with half the wall each."""
    (near, far), (floor, floor_outside) = wall.faces, wall.floor_areas
    if wall.back(setup, wall.floor) == wall.floor:
        _add_sheet(setup, wall, str, near.midway(far), 0.5 * (floor + floor_outside), wall.thickness)
        return
    half = 0.5 * wall.thickness
    _add_sheet(setup, wall, str, near, floor, half)
    _add_sheet(setup, wall, lambda node: wall.back(setup, node), far, floor_outside, half)
    nodes = [wall.floor, *map(wall.node, range(setup.cells.count))]
    shapes = np.concatenate([wall.across.floor[None], wall.across.side])
    for node, shape in zip(nodes, shapes, strict=True):
        through = wall.solid.conductivity * shape / setup.unknowns.wall_thickness
        setup.conductance(node, wall.back(setup, node), through)


def _add_sheet(
    setup: Setup, wall: _Wall, face: Callable[[str], str], sheet: Sheet, floor_area: Numeric, thickness: Numeric
) -> None:
    nodes, capacity = [face(wall.node(i)) for i in range(setup.cells.count)], thickness * wall.solid.volumetric_capacity
    setup.node(face(wall.floor), floor_area * capacity)
    for node, area in zip(nodes, sheet.area, strict=True):
        setup.node(node, area * capacity)
    setup.sheet(face(wall.floor), nodes[0], DISC_MEAN_TO_EDGE + sheet.to_bottom, thickness, wall.solid)
    for (low, high), between in zip(pairwise(nodes), sheet.between, strict=True):
        setup.sheet(low, high, between, thickness, wall.solid)


def gap_of(setup: Setup) -> Gap:
    """Return the gap, which must be there."""
    assert setup.body.gap is not None
    return setup.body.gap


@dataclass(frozen=True)
class _GapPart:
    """A part of the gap: nodes on either side, shape factors through inner wall, gap and outer wall, path of heat."""

    name: str
    ends: tuple[str, str]
    shapes: list[Array]
    path: str


def _gap_parts(setup: Setup) -> list[_GapPart]:
    """Return the parts beside the side's cells, and last that under the floor."""
    cells = setup.cells
    across = cells.across_inner, cells.across_gap, cells.across_outer
    base = _GapPart("base", (wall_back(setup, FLOOR_NODE), BASE_NODE), [one.floor for one in across], "base")
    sides = [
        _GapPart(f"{i}", (wall_back(setup, wall_node(i)), shell_node(i)), [one.side[i] for one in across], "gap_side")
        for i in range(cells.count)
    ]
    return [*sides, base]


def add_gap(setup: Setup) -> None:
    """Add radiation and gas, or foam, between inner wall and outer shell, side and base."""
    gap, cells, pinned = gap_of(setup), setup.cells, setup.pins.gap_conductance
    if gap.kind == "foam" and pinned is None:
        _add_foam(setup)
        return
    radii = gap_side_base_radius(setup.container), outer_base_radius(setup.container)
    areas = [*zip(cells.gap_side.area, cells.outer.area, strict=True), [np.pi * radius**2 for radius in radii]]
    for part, (area, outer_area) in zip(_gap_parts(setup), areas, strict=True):
        if pinned is not None:
            conductance = in_series([1.0 / (pinned * area), *_walls_at_their_middle(setup, part)])
            setup.conductance(*part.ends, conductance, path=part.path)
            continue
        (law, shape), (start, end) = _gap_law(setup, part), part.ends
        setup.link(
            law,
            start,
            end,
            path=part.path,
            area=area,
            exchange_factor=_gap_exchange_factor(setup, area / outer_area),
            **shape,
            **_gap_gas(setup, area / outer_area),
        )


def _gap_law(setup: Setup, part: _GapPart) -> tuple[Law, dict[str, Any]]:
    if part.path == "base":
        depth = setup.body.base_gap_width
        return LAYER_HORIZONTAL, {"depth": depth, "upward": -setup.up, "convects": 1.0, "slices": 1.0}
    side = setup.cells.gap_side
    return GAP_VERTICAL, {"width": gap_of(setup).width, "height": side.height_high[-1] - side.height_low[0]}


def _walls_at_their_middle(setup: Setup, part: _GapPart) -> list[Numeric]:
    """Return the resistances of walls whose only nodes lie in their middle, by their shape factors. [K W-1]"""
    wall, factor = setup.body.wall, setup.unknowns.wall_thickness
    found: list[Numeric] = []
    if not inner_has_two_faces(setup):
        found.append(factor / (setup.wall_solid(wall.material).conductivity * part.shapes[0]))
    if not outer_has_two_faces(setup):
        found.append(factor / (setup.wall_solid(wall.outer_material or wall.material).conductivity * part.shapes[2]))
    return found


def _add_foam(setup: Setup) -> None:
    """Add foam between the walls: one node in its middle a cell and one at the base, which hold its heat."""
    body, cells = setup.body, setup.cells
    sides = 0.5 * (cells.gap_side.area + cells.shell_inside.area) * body.gap_width
    shell = outer_base_radius(setup.container) - body.outer_thickness
    base = 0.5 * (circle_area(gap_side_base_radius(setup.container)) + circle_area(shell)) * body.base_gap_width
    foam = material(gap_of(setup).foam_material)
    conductivity = foam.conductivity_300K * widened(setup.unknowns.gap_conduction, foam, "gap_conduction")
    for part, volume in zip(_gap_parts(setup), [*sides, base], strict=True):
        through_walls = 0.5 * sum(_walls_at_their_middle(setup, part))
        half = in_series([0.5 / (conductivity * part.shapes[1]), through_walls])
        node = setup.node(f"foam_{part.name}", volume * foam.density * foam.heat_capacity)
        setup.conductance(part.ends[0], node, half)
        setup.conductance(node, part.ends[1], half, path=part.path)


def _gap_exchange_factor(setup: Setup, area_ratio: Numeric) -> Numeric:
    gap = gap_of(setup)
    factor = radiation.exchange_factor_with_shields(
        surface_emissivity(gap.inner_surface, gap.inner_emissivity),
        surface_emissivity(gap.outer_surface, gap.outer_emissivity),
        area_ratio,
        gap.shields,
        surface_emissivity(gap.shield_surface, gap.shield_emissivity),
    )
    return np.minimum(factor * widened(setup.unknowns.gap_emissivity, _least_known_face(gap), "gap_emissivity"), 1.0)


def _least_known_face(gap: Gap) -> Surface:
    """Return the face whose shine is least certain, of those that are not given as a number."""
    usual = USUAL_WIDTHS["gap_emissivity"]
    faces = [
        surface(name)
        for name, number in (
            (gap.inner_surface, gap.inner_emissivity),
            (gap.outer_surface, gap.outer_emissivity),
            *([(gap.shield_surface, gap.shield_emissivity)] if gap.shields else []),
        )
        if number is None
    ]
    return max(faces or [surface(gap.inner_surface)], key=lambda face: width_ratio(face, usual))


def _gap_gas(setup: Setup, area_ratio: Numeric) -> dict[str, Any]:
    gap = gap_of(setup)
    pressure = gap.pressure * setup.unknowns.gap_pressure if gap.kind == "vacuum" else STANDARD_PRESSURE
    return gas_parameters(gap.gas, np.minimum(pressure, STANDARD_PRESSURE), area_ratio, setup.unknowns.gap_conduction)


def gas_parameters(
    name: str, pressure: Numeric, area_ratio: Numeric, conduction_factor: Numeric = 1.0
) -> dict[str, Any]:
    """Return what the gap and layer laws want to know of a gas at a pressure [Pa]."""
    gas = rarefied_gas.GASES[name]
    accommodation = rarefied_gas.accommodation_factor(gas.accommodation, gas.accommodation, area_ratio)
    coefficient = rarefied_gas.free_molecule_coefficient(gas.molar_mass, gas.heat_capacity_ratio, 300.0)
    buoyancy = rarefied_gas.rayleigh_group_ideal_gas(
        gas.molar_mass, gas.heat_capacity_ratio, gas.conductivity_300K, gas.viscosity_300K, pressure, 300.0
    )
    return {
        "free_molecule_300K": coefficient * pressure * accommodation,
        "conductivity_300K": gas.conductivity_300K * conduction_factor,
        "conductivity_exponent": gas.conductivity_exponent,
        "buoyancy_300K": buoyancy,
        # Density squared and heat capacity over temperature, viscosity and conductivity.
        "buoyancy_exponent": gas.heat_capacity_exponent - 3.0 - gas.conductivity_exponent - gas.viscosity_exponent,
    }
