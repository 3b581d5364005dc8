"""Between plug and neck: the open annulus that vapour climbs, the seals that close it, and the still air above them.

The wall is cut at both edges of the lowest seal, wherever it lies: below, moist air turns over and carries heat from
the headspace to neck and plug; above, the air is dry and still. What a network consists of depends on the number of
seals alone, never on a depth: a seal that moves to the rim leaves a dry annulus that shrinks to nothing.
"""

from dataclasses import dataclass

import numpy as np

from geometries.container import Container, annulus_depth, plug_radius
from geometries.lid import Plug, Seal
from geometries.materials import material
from geometries.numeric import Array, Numeric
from thermal_model.assemble.columns import COLUMNS_OVER_MOUTH, lid_of, plug_core_radius, underside_node
from thermal_model.assemble.lip import lip_node, lip_radii
from thermal_model.assemble.plug import (
    AT_SEAL,
    DRY_ANNULUS,
    OPEN_ANNULUS,
    Facing,
    facing_the_plug,
    plug_wall_node,
)
from thermal_model.assemble.setup import CONTENTS_NODE, HEADSPACE_NODE, Setup, in_series
from thermal_model.assemble.stations import Zone
from thermal_model.assemble.walls import wall_node
from thermal_model.physics import enclosed_layers, radiation
from thermal_model.properties import moist_air
from thermal_model.solver.laws import ANNULUS_VAPOUR
from thermal_model.solver.network import ROOM

ANNULUS_RADIATION = 1.2
"""Between bare steel (emissivity 0.15) and plastic across the annulus, at 320 K. [W m-2 K-1]"""

ANNULUS_RADIATION_UP = 5.0
"""Between a seal, or what lies below it, and the lid over it, all of plastic, at 320 K. [W m-2 K-1]"""

WATER_CONDUCTIVITY = 0.65
"""Of water that stands in the annulus of a container upside down, at 60 C. [W m-1 K-1]"""

OPEN_AIR_FILM = 10.0
"""Between the room and the air that was in the annulus before the lid came off. [W m-2 K-1]"""

ANNULUS_MOUTH_NODE = "annulus_mouth"

OPEN_CELLS, SEAL_CELLS, DRY_CELLS = 6, 2, 4
"""Cells of the wall below the lowest seal, beside it, and above it."""


# --- where the wall is cut --------------------------------------------------------------------------------------


def annulus_zones(container: Container) -> list[Zone]:
    """Return the zones of the wall that face the plug, from the bottom up.

    Without a seal all of them are open; they are cut as with one on the rim, so that the two can be compared.
    """
    assert container.lid is not None
    depth, (low, high) = container.body.depth, lowest_seal(container)
    beside, above = (AT_SEAL, DRY_ANNULUS) if container.lid.seals else (OPEN_ANNULUS, OPEN_ANNULUS)
    return [
        Zone(OPEN_ANNULUS, depth - low, OPEN_CELLS, "both"),
        Zone(beside, depth - high, SEAL_CELLS),
        Zone(above, depth, DRY_CELLS),
    ]


def lowest_seal(container: Container) -> tuple[Numeric, Numeric]:
    """Return how deep the lower and the upper edge of the lowest seal lie in the annulus, 0 without a seal. [m]"""
    low: Numeric = 0.0
    high: Numeric = 0.0
    for seal in () if container.lid is None else container.lid.seals:
        low = np.maximum(low, seal.depth + 0.5 * seal.height)
        high = np.maximum(high, seal.depth - 0.5 * seal.height)
    reach = annulus_depth(container)
    return np.minimum(low, reach), np.minimum(high, reach)


# --- the annulus ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Annulus:
    """The annulus as it is cut.

    Attributes
    ----------
    facing : Facing
        What of the neck faces the plug.
    clearance : float or (n,) array
        [m]
    side, neck_side, plug_side : (n,) array
        Length around its middle, around the neck and around the plug. [m]
    section : (n,) array
        Area of its level section. [m2]
    half_wall : (n,) array
        Resistance of half the plug's wall. [m2 K W-1]
    open_length : (n,) array
        From its mouth to the lowest seal, or all of it. [m]
    seals : tuple of Seal
    """

    facing: Facing
    clearance: Numeric
    side: Array
    neck_side: Array
    plug_side: Array
    section: Array
    half_wall: Array
    open_length: Array
    seals: tuple[Seal, ...]

    def sealed(self, seal: Seal, upper: Numeric, lower: Numeric) -> Array:
        """Length of a seal between two depths. [m]"""
        top, foot = seal.depth - 0.5 * seal.height, seal.depth + 0.5 * seal.height
        return np.maximum(np.minimum(foot, lower) - np.maximum(top, upper), 0.0)

    def unsealed(self, upper: Numeric, lower: Numeric) -> Array:
        """Length without a seal between two depths. [m]"""
        return np.maximum(lower - upper - sum(self.sealed(seal, upper, lower) for seal in self.seals), 0.0)


def annulus_of(setup: Setup, plug: Plug) -> Annulus:
    """Return the annulus of a container with a plug."""
    facing = facing_the_plug(setup)
    radius = np.broadcast_to(plug_radius(setup.container), (setup.lanes,))
    side = 2.0 * np.pi * (radius + 0.5 * plug.clearance)
    shell = 0.5 * (radius - plug_core_radius(setup, plug))
    low, _ = lowest_seal(setup.container)
    return Annulus(
        facing=facing,
        clearance=plug.clearance,
        side=side,
        neck_side=2.0 * np.pi * (radius + plug.clearance),
        plug_side=2.0 * np.pi * radius,
        section=side * plug.clearance,
        half_wall=shell / setup.layer_solid(plug.material).conductivity,
        open_length=facing.depths[0] - low,
        seals=lid_of(setup).seals,
    )


def add_annulus(setup: Setup, plug: Plug) -> None:
    """Add all that passes between plug and neck, and up the annulus to the lid."""
    annulus = annulus_of(setup, plug)
    depths = annulus.facing.depths
    for k, cell in enumerate(annulus.facing.cells):
        # Each seal goes to the cells that it covers, by its share of each: so it moves from one to the next smoothly.
        across = wall_node(cell), plug_wall_node(k), depths[k + 1], depths[k]
        _add_seals(setup, annulus, *across)
        if setup.cells.zone[cell] != OPEN_ANNULUS:
            _add_still_air(setup, annulus, *across)
    _add_lip_face(setup, annulus)
    if setup.is_inverted:
        _add_liquid(setup, annulus)
    elif setup.pins.annulus_film is not None:
        _add_pinned_film(setup, annulus, setup.pins.annulus_film)
    else:
        _add_moist_air(setup, annulus)


def open_cells(setup: Setup, annulus: Annulus) -> list[tuple[int, str, Array]]:
    """Return the cells of the open annulus: number, node of the wall, and its length without a seal. [m]"""
    depths, found = annulus.facing.depths, []
    for k, cell in enumerate(annulus.facing.cells):
        if setup.cells.zone[cell] == OPEN_ANNULUS:
            found.append((k, wall_node(cell), annulus.unsealed(depths[k + 1], depths[k])))
    return found


def _add_seals(
    setup: Setup, annulus: Annulus, wall: str, plug: str, upper: Numeric, lower: Numeric, before: Numeric = 0.0
) -> None:
    """Join wall and plug through the seals between two depths, a resistance [K W-1] before them."""
    for seal in annulus.seals:
        across = annulus.clearance / _seal_conductivity(setup, seal) + annulus.half_wall
        conductance = annulus.side * annulus.sealed(seal, upper, lower) / across
        setup.conductance(wall, plug, conductance / (1.0 + conductance * before), lid_on=True)


def _seal_conductivity(setup: Setup, seal: Seal) -> Numeric:
    pinned = setup.pins.seal_conductivity
    return material(seal.material).conductivity_300K if pinned is None else pinned


def _add_still_air(
    setup: Setup, annulus: Annulus, wall: str, plug: str, upper: Numeric, lower: Numeric, before: Numeric = 0.0
) -> None:
    """Join wall and plug through still air where no seal lies between two depths, as `_add_seals` does."""
    pinned = setup.pins.annulus_conductivity
    film = moist_air.conductivity(320.0) / annulus.clearance + ANNULUS_RADIATION
    film = film if pinned is None else pinned / annulus.clearance
    area = annulus.side * annulus.unsealed(upper, lower)
    conductance = area / (1.0 / film + annulus.half_wall)
    setup.conductance(wall, plug, conductance / (1.0 + conductance * before), lid_on=True)


def _add_lip_face(setup: Setup, annulus: Annulus) -> None:
    """Join the lip's inner face to the top of the plug, through the seals beside it and air."""
    facing, last = annulus.facing, plug_wall_node(len(annulus.facing.cells) - 1)
    across = lip_node(0), last, 0.0, facing.lip, _resistance_into_lip(setup, facing)
    _add_seals(setup, annulus, *across)
    _add_still_air(setup, annulus, *across)


def _resistance_into_lip(setup: Setup, facing: Facing) -> Array:
    """From the lip's inner face to the middle of its first part. [K W-1]"""
    radii, solid = lip_radii(setup), setup.wall_solid(setup.body.wall.material)
    way = np.log(0.5 * (radii[0] + radii[1]) / radii[0])
    return way / (2.0 * np.pi * solid.conductivity * facing.lip)


# --- below the lowest seal --------------------------------------------------------------------------------------


def moist_node(cell: int) -> str:
    """Name of the moist air beside a cell of the plug's wall."""
    return f"annulus_{cell}"


MOIST_AIR_CAPACITY = 6000.0
"""Of air and of the vapour it holds at 60 C; it settles in seconds. [J m-3 K-1]"""


def holds_moist_air(setup: Setup) -> bool:
    """Whether moist air fills the open annulus: the container stands upright and no film is pinned there."""
    plug = lid_of(setup).plug
    return plug is not None and not setup.is_inverted and setup.pins.annulus_film is None


def annulus_surfaces(setup: Setup, plug: Plug) -> list[tuple[str, Numeric, bool]]:
    """Return what the headspace sees of the annulus, as `plug_surfaces`: its mouth, or the lid over it.

    The mouth draws as much as the lid and the neck behind it would if they were bare: that is no limit to a long
    annulus, and what is left of a plug whose depth goes to zero.
    """
    annulus = annulus_of(setup, plug)
    if holds_moist_air(setup):
        behind = annulus.side * annulus.open_length
        return [(ANNULUS_MOUTH_NODE, annulus.section, True), (ANNULUS_MOUTH_NODE, behind, False)]
    if annulus.seals:
        return []
    return [(underside_node(COLUMNS_OVER_MOUTH - 1), annulus.section, True)]


def _add_moist_air(setup: Setup, annulus: Annulus) -> None:
    """Vapour climbs the open annulus from the headspace and condenses on neck and plug as it goes."""
    turnover = annulus_turnover(annulus.clearance, annulus.open_length) * setup.unknowns.annulus_exchange
    setup.node(ANNULUS_MOUTH_NODE, MOIST_AIR_CAPACITY * annulus.section * 1e-3)
    previous, reach = ANNULUS_MOUTH_NODE, np.zeros(setup.lanes)
    for k, wall, length in open_cells(setup, annulus):
        half = 0.5 * annulus.facing.length[k]
        setup.node(moist_node(k), MOIST_AIR_CAPACITY * annulus.section * 2.0 * half)
        _add_vapour(setup, previous, moist_node(k), annulus.section, reach + half, turnover)
        # With the lid off there is no annulus: the air is the room's.
        setup.conductance(moist_node(k), ROOM, OPEN_AIR_FILM * annulus.side * 2.0 * half, path="lid", lid_on=False)
        _add_moist_sides(setup, annulus, k, wall, length)
        previous, reach = moist_node(k), half
    lid = underside_node(COLUMNS_OVER_MOUTH - 1)
    if annulus.seals:
        setup.conductance(previous, lid, _up_to_the_lid(setup, annulus), lid_on=True)
        for node in beside_the_seal(setup, annulus):
            setup.conductance(previous, node, _into_the_seal(setup, annulus), lid_on=True)
    else:
        _add_vapour(setup, previous, lid, annulus.section, reach + annulus.facing.lip, turnover)


def _add_vapour(
    setup: Setup,
    lower: str,
    upper: str,
    area: Numeric,
    length: Numeric,
    turnover: Numeric,
    wall_resistance: Numeric = 0.0,
    is_across: float = 0.0,
) -> None:
    setup.link(
        ANNULUS_VAPOUR,
        lower,
        upper,
        lid_on=True,
        area=area,
        length=length,
        wall_resistance=wall_resistance,
        exchange_factor=turnover,
        is_across=is_across,
        water_activity=setup.water_activity,
    )


def _add_moist_sides(setup: Setup, annulus: Annulus, k: int, wall: str, length: Array) -> None:
    pinned, exchange, half = setup.pins.annulus_conductivity, setup.unknowns.annulus_exchange, 0.5 * annulus.clearance
    sides = (wall, annulus.neck_side, 0.0), (plug_wall_node(k), annulus.plug_side, annulus.half_wall)
    for node, side, behind in sides:
        area = side * length
        if pinned is not None:
            setup.conductance(moist_node(k), node, area / (half / pinned + behind), lid_on=True)
        else:
            _add_vapour(setup, moist_node(k), node, area, half, exchange, behind, 1.0)


def _up_to_the_lid(setup: Setup, annulus: Annulus) -> Array:
    """Through the seals, and the still air over them, to the lid's underside: a wide clearance is a piece of lid.

    A narrow one gives its heat to neck and plug on the way, which the cells there carry; what is left to the lid
    goes with what it sees of the lowest seal. [W K-1]
    """
    low = np.maximum(lowest_seal(setup.container)[0], 1e-5)
    pinned = setup.pins.annulus_conductivity
    air = annulus.unsealed(0.0, low)
    still = moist_air.conductivity(320.0) + ANNULUS_RADIATION_UP * air if pinned is None else pinned
    resistance = air / still + sum(
        annulus.sealed(seal, 0.0, low) / _seal_conductivity(setup, seal) for seal in annulus.seals
    )
    return annulus.section * radiation.view_factor_parallel_strips(annulus.clearance, low) / resistance


def beside_the_seal(setup: Setup, annulus: Annulus) -> tuple[str, str]:
    """Return the parts of neck and plug that the lowest seal touches, at its lower edge."""
    k = next(k for k, cell in enumerate(annulus.facing.cells) if setup.cells.zone[cell] == AT_SEAL)
    return wall_node(annulus.facing.cells[k]), plug_wall_node(k)


def _into_the_seal(setup: Setup, annulus: Annulus) -> Array:
    """From the lowest seal's face round the corner into neck or plug: half a square of rubber, longer if it is flat.

    Judgement, to about a third. [W K-1]
    """
    low, high = lowest_seal(setup.container)
    flatness = annulus.clearance / (4.0 * np.maximum(low - high, 1e-4))
    depths = np.stack([np.broadcast_to(seal.depth, (setup.lanes,)) for seal in annulus.seals])
    rubbers = np.stack([np.broadcast_to(_seal_conductivity(setup, s), (setup.lanes,)) for s in annulus.seals])
    lowest = np.take_along_axis(rubbers, np.argmax(depths, axis=0)[None], axis=0)[0]
    return annulus.side * lowest / (1.0 + flatness)


def _add_pinned_film(setup: Setup, annulus: Annulus, film: Numeric) -> None:
    for k, wall, length in open_cells(setup, annulus):
        setup.conductance(HEADSPACE_NODE, wall, film * annulus.neck_side * length, lid_on=True)
        to_plug = annulus.plug_side * length / (1.0 / film + annulus.half_wall)
        setup.conductance(HEADSPACE_NODE, plug_wall_node(k), to_plug, lid_on=True)
    if annulus.seals:
        half = 2.0 / (film * annulus.section)
        into, up = 1.0 / _into_the_seal(setup, annulus), 1.0 / _up_to_the_lid(setup, annulus)
        for node in beside_the_seal(setup, annulus):
            setup.conductance(HEADSPACE_NODE, node, in_series([half, into]), lid_on=True)
        setup.conductance(HEADSPACE_NODE, underside_node(COLUMNS_OVER_MOUTH - 1), in_series([half, up]), lid_on=True)


def _add_liquid(setup: Setup, annulus: Annulus) -> None:
    """Upside down the contents fill the annulus up to the first seal; the wall's own film is added with the rest."""
    for k, _, length in open_cells(setup, annulus):
        across = 0.5 * annulus.clearance / WATER_CONDUCTIVITY + annulus.half_wall
        setup.conductance(CONTENTS_NODE, plug_wall_node(k), annulus.side * length / across, lid_on=True)
    if annulus.seals:
        lid = underside_node(COLUMNS_OVER_MOUTH - 1)
        setup.conductance(CONTENTS_NODE, lid, _up_to_the_lid(setup, annulus), lid_on=True)


def top_of_open_annulus(setup: Setup) -> str:
    """Return the node of the air from which an unsealed lid leaks: at the top of the annulus, or the headspace."""
    if not holds_moist_air(setup):
        return HEADSPACE_NODE
    return moist_node(len(facing_the_plug(setup).cells) - 1)


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
