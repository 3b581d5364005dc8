"""Walls: the inner wall and the outer shell as fins joined at the lip, and the gap between them."""

from typing import Any

import numpy as np

from geometries.container import (
    gap_side_base_radius,
    inner_base_radius,
    lip_inner_radius,
    lip_thickness,
    lip_width,
    outer_base_radius,
)
from geometries.materials import material, surface_emissivity
from geometries.numeric import Array, Numeric
from thermal_model.assemble.setup import FLOOR_NODE, Setup
from thermal_model.physics import radiation, rarefied_gas
from thermal_model.physics.constants import STANDARD_PRESSURE
from thermal_model.solver.laws import GAP_VERTICAL, LAYER_HORIZONTAL

LIP_CELLS = 2
BASE_NODE = "shell_base"


def wall_node(cell: int) -> str:
    """Name of a cell of the inner wall, counted from the floor."""
    return f"wall_{cell}"


def shell_node(cell: int) -> str:
    """Name of a cell of the outer shell, counted from the floor."""
    return f"shell_{cell}"


def lip_node(cell: int) -> str:
    """Name of a part of the lip, counted from the mouth outwards."""
    return f"lip_{cell}"


def lip_radii(setup: Setup) -> Array:
    """Return the (LIP_CELLS + 1, n) radii that divide the lip's ring, where a lid's hollow part ends. [m]"""
    low = np.broadcast_to(lip_inner_radius(setup.container), (setup.lanes,))
    width = np.broadcast_to(lip_width(setup.container), low.shape)
    lid = setup.container.lid
    side = 0.5 * width if lid is None else lid.side_thickness + lid.overhang
    division = low + np.clip(width - side, 0.3 * width, 0.7 * width)
    return np.stack([low, division, low + width])


def is_double(setup: Setup) -> bool:
    """Return whether the body has two walls."""
    return setup.container.body.gap is not None


def add_inner_wall(setup: Setup) -> None:
    """Add floor and side of the inner wall, conducting along the sheet up to the lip."""
    wall, cells = setup.container.body.wall, setup.cells
    thickness = wall.inner_thickness * setup.unknowns.wall_thickness
    solid = setup.wall_solid(wall.material)
    radius = inner_base_radius(setup.container)
    setup.node(FLOOR_NODE, np.pi * radius**2 * thickness * solid.volumetric_capacity)
    for i in range(cells.count):
        middle_area = 0.5 * (cells.inner.area[i] + cells.gap_side.area[i])
        setup.node(wall_node(i), middle_area * thickness * solid.volumetric_capacity)
    setup.sheet(FLOOR_NODE, wall_node(0), DISC_TO_EDGE + cells.inner.to_bottom, thickness, solid)
    for i in range(cells.count - 1):
        between = 0.5 * (cells.inner.between[i] + cells.gap_side.between[i])
        setup.sheet(wall_node(i), wall_node(i + 1), between, thickness, solid)


DISC_TO_EDGE = np.log(np.sqrt(2.0)) / (2.0 * np.pi)
"""Integral of dr / (2 pi r) from the radius that halves a disc's area to its edge."""


def add_lip(setup: Setup) -> None:
    """Add the lip: a solid ring that joins inner wall and outer shell, or the rim of a single wall."""
    wall, cells = setup.container.body.wall, setup.cells
    solid = setup.wall_solid(wall.material)
    height = lip_thickness(setup.container) * setup.unknowns.wall_thickness
    radii = lip_radii(setup)
    for k in range(LIP_CELLS):
        volume = np.pi * (radii[k + 1] ** 2 - radii[k] ** 2) * height
        setup.node(lip_node(k), volume * solid.volumetric_capacity)
    centres = 0.5 * (radii[1:] + radii[:-1])
    thickness = wall.inner_thickness * setup.unknowns.wall_thickness
    into_ring = np.log(centres[0] / (radii[0] + 0.5 * wall.inner_thickness)) / (2.0 * np.pi)
    inner_half = 0.5 * (cells.inner.to_top + cells.gap_side.to_top)
    shape = inner_half + np.abs(into_ring) * thickness / height
    setup.sheet(wall_node(cells.count - 1), lip_node(0), shape, thickness, solid)
    for k in range(LIP_CELLS - 1):
        across = np.log(centres[k + 1] / centres[k]) / (2.0 * np.pi)
        setup.sheet(lip_node(k), lip_node(k + 1), across, height, solid)


def add_outer_shell(setup: Setup) -> None:
    """Add the outer shell and its base, conducting down from the lip."""
    wall, cells = setup.container.body.wall, setup.cells
    thickness = wall.outer_thickness * setup.unknowns.wall_thickness
    solid = setup.wall_solid(wall.outer_material or wall.material)
    radius = outer_base_radius(setup.container)
    setup.node(BASE_NODE, np.pi * radius**2 * thickness * solid.volumetric_capacity)
    for i in range(cells.count):
        setup.node(shell_node(i), cells.outer.area[i] * thickness * solid.volumetric_capacity)
    setup.sheet(BASE_NODE, shell_node(0), DISC_TO_EDGE + cells.outer.to_bottom, thickness, solid)
    for i in range(cells.count - 1):
        setup.sheet(shell_node(i), shell_node(i + 1), cells.outer.between[i], thickness, solid)
    _join_lip_to_shell(setup, thickness)


def _join_lip_to_shell(setup: Setup, thickness: Numeric) -> None:
    wall, cells, radii = setup.container.body.wall, setup.cells, lip_radii(setup)
    solid = setup.wall_solid(wall.outer_material or wall.material)
    height = lip_thickness(setup.container) * setup.unknowns.wall_thickness
    centre = 0.5 * (radii[-2] + radii[-1])
    out_of_ring = np.log((radii[-1] - 0.5 * wall.outer_thickness) / centre) / (2.0 * np.pi)
    shape = cells.outer.to_top + np.abs(out_of_ring) * thickness / height
    last = shell_node(cells.count - 1)
    setup.sheet(lip_node(LIP_CELLS - 1), last, shape, thickness, solid, path="steel_bridge")


def add_gap(setup: Setup) -> None:
    """Add radiation and gas, or foam, between inner wall and outer shell, side and base."""
    cells = setup.cells
    for i in range(cells.count):
        _add_side_gap(setup, i)
    area = np.pi * gap_side_base_radius(setup.container) ** 2
    outer = np.pi * outer_base_radius(setup.container) ** 2
    _add_base_gap(setup, area, outer)


def _add_side_gap(setup: Setup, i: int) -> None:
    gap, cells, pins = setup.container.body.gap, setup.cells, setup.pins
    assert gap is not None
    area, outer_area = cells.gap_side.area[i], cells.outer.area[i]
    start, end = wall_node(i), shell_node(i)
    if pins.gap_conductance is not None:
        setup.conductance(start, end, pins.gap_conductance * area, path="gap_side")
    elif gap.kind == "foam":
        conductivity = _foam_conductivity(setup)
        setup.conductance(start, end, conductivity * np.sqrt(area * outer_area) / gap.width, path="gap_side")
    else:
        setup.link(
            GAP_VERTICAL,
            start,
            end,
            path="gap_side",
            area=area,
            exchange_factor=_gap_exchange_factor(setup, area / outer_area),
            width=gap.width,
            height=cells.gap_side.height_high[-1] - cells.gap_side.height_low[0],
            **_gap_gas(setup, area / outer_area),
        )


def _add_base_gap(setup: Setup, area: Numeric, outer_area: Numeric) -> None:
    gap, pins = setup.container.body.gap, setup.pins
    assert gap is not None
    width = gap.width if gap.base_width is None else gap.base_width
    if pins.gap_conductance is not None:
        setup.conductance(FLOOR_NODE, BASE_NODE, pins.gap_conductance * area, path="base")
    elif gap.kind == "foam":
        conductance = _foam_conductivity(setup) * np.sqrt(area * outer_area) / width
        setup.conductance(FLOOR_NODE, BASE_NODE, conductance, path="base")
    else:
        setup.link(
            LAYER_HORIZONTAL,
            FLOOR_NODE,
            BASE_NODE,
            path="base",
            area=area,
            exchange_factor=_gap_exchange_factor(setup, area / outer_area),
            depth=width,
            upward=-setup.up,
            convects=1.0,
            slices=1.0,
            **_gap_gas(setup, area / outer_area),
        )


def _foam_conductivity(setup: Setup) -> Numeric:
    gap = setup.container.body.gap
    assert gap is not None
    return material(gap.foam_material).conductivity_300K * setup.unknowns.gap_conduction


def _gap_exchange_factor(setup: Setup, area_ratio: Numeric) -> Numeric:
    gap = setup.container.body.gap
    assert gap is not None
    factor = radiation.exchange_factor_with_shields(
        surface_emissivity(gap.inner_surface, gap.inner_emissivity),
        surface_emissivity(gap.outer_surface, gap.outer_emissivity),
        area_ratio,
        gap.shields,
        surface_emissivity(gap.shield_surface, gap.shield_emissivity),
    )
    return np.minimum(factor * setup.unknowns.gap_emissivity, 1.0)


def _gap_gas(setup: Setup, area_ratio: Numeric) -> dict[str, Any]:
    gap = setup.container.body.gap
    assert gap is not None
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
