"""A container and a scenario become a network: nodes, links, and the phases of the run."""

from dataclasses import replace

import numpy as np

from geometries.container import (
    Container,
    annulus_depth,
    closed_capacity,
    closing_height,
    fill_height,
    inner_profile,
)
from geometries.numeric import Array
from geometries.shapes import height_of_volume, radius_at_height
from thermal_model.assemble.annulus import annulus_zones
from thermal_model.assemble.contents import contents_density, contents_of, start_enthalpy, start_mass
from thermal_model.assemble.inside import add_inside
from thermal_model.assemble.lid import add_lid
from thermal_model.assemble.lip import add_lip, join_lip_to_shell
from thermal_model.assemble.outside import add_base, add_side
from thermal_model.assemble.plug import OPEN_ANNULUS
from thermal_model.assemble.setup import CONTENTS_NODE, Level, Setup
from thermal_model.assemble.stations import (
    DRY_CELLS,
    DRY_CELLS_BELOW_NECK,
    DRY_CELLS_BELOW_PLUG,
    NECK_CELLS,
    SMALLEST_AT_RIM,
    WET_CELLS,
    Zone,
    cut_walls,
)
from thermal_model.assemble.timeline import Timetable, timetable_of
from thermal_model.assemble.walls import add_gap, add_inner_wall, add_outer_shell, is_double
from thermal_model.scenario import Orientation, Scenario, WallStart
from thermal_model.solver.network import (
    CONTENTS,
    LinkTable,
    Network,
    Phase,
    RoomTemperature,
)
from thermal_model.solver.rates import contents_enthalpy
from thermal_model.unknowns import Unknowns

SMALLEST_WETTED_HEIGHT = 5e-4
"""[m]"""

BUBBLE_DEPTH = 4e-3
"""Depth of the flat bubble that air forms under a level lid [m].

2 l cos(a / 2) with water's capillary length l = 2.7 mm and a contact angle a of 80 degrees on plastic (Laplace; angle
from memory). A closed lid keeps that much air however full the container was: none lies thinner.
"""


def assemble(
    container: Container,
    scenario: Scenario,
    unknowns: Unknowns | None = None,
    *,
    lanes: int = 1,
    refinement: int = 1,
) -> Network:
    """Build the network of a run.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    unknowns : Unknowns, optional
        Any number in these three may be an array of n = `lanes` values.
    lanes : int
        Number of designs.
    refinement : int
        Multiplies the number of cells along walls and in the lid.

    Returns
    -------
    Network

    Raises
    ------
    InputError
        If an opening can't be.
    ValueError
        If lanes do not share a network; see `lanes.alike`.
    """
    timetable = timetable_of(container, scenario, lanes)
    levels = _levels(container, scenario, timetable.poured)
    zones = _zones(container, scenario, levels)
    cells = cut_walls(container, zones, lanes, refinement)
    setup = Setup(container, scenario, unknowns or Unknowns(), lanes, refinement, cells, levels)
    setup.node(CONTENTS_NODE, 0.0)
    add_inner_wall(setup)
    add_lip(setup)
    if is_double(setup):
        add_outer_shell(setup)
        join_lip_to_shell(setup)
        add_gap(setup)
    if container.lid is not None:
        add_lid(setup)
    add_inside(setup)
    add_side(setup)
    add_base(setup)
    return _network(setup, timetable)


def _levels(container: Container, scenario: Scenario, poured: Array) -> tuple[Level, ...]:
    """Return the levels of the contents after each pour, (l, n). [m3]"""
    lanes = poured.shape[1]
    start = np.broadcast_to(np.asarray(start_mass(container, scenario), dtype=float), (lanes,))
    density = np.broadcast_to(contents_density(scenario), (lanes,))
    levels = []
    for k, volume in enumerate(poured):
        wet = frozenset(map(_wet_zone, range(_stretch(k, len(poured)), _stretch_count(len(poured)))))
        levels.append(_level(container, scenario, k, start - volume * density, density, wet))
    return tuple(levels)


MOST_STRETCHES = 24
"""Stretches of wall that fall dry one after the other [-]: with more pours than that, a stretch waits for several."""


def _stretch_count(levels: int) -> int:
    return min(levels, MOST_STRETCHES)


def _stretch(level: int, levels: int) -> int:
    """Return the number of the first stretch of wall that is still wet at a level."""
    return level * _stretch_count(levels) // levels


def _first_levels(levels: tuple[Level, ...]) -> list[Level]:
    """Return the first level of each stretch, whose surface bounds it."""
    return [
        level for k, level in enumerate(levels) if k == 0 or _stretch(k, len(levels)) > _stretch(k - 1, len(levels))
    ]


def _wet_zone(stretch: int) -> str:
    return f"wet_{stretch}"


def _level(
    container: Container,
    scenario: Scenario,
    index: int,
    mass: Array,
    density: Array,
    wet_zones: frozenset[str],
) -> Level:
    inside, volume = inner_profile(container), mass / density
    closed = np.broadcast_to(closed_capacity(container), volume.shape)
    mouth = np.broadcast_to(container.body.depth, volume.shape)
    if scenario.orientation is Orientation.INVERTED:
        surface = np.broadcast_to(height_of_volume(inside, np.maximum(closed - volume, 1e-9)), volume.shape)
        wetted, headspace = mouth - surface, surface
    else:
        surface = np.broadcast_to(fill_height(container, volume), volume.shape)
        wetted, headspace = surface, closing_height(container) - surface
    return Level(
        index=index,
        volume=volume,
        mass=mass,
        surface_radius=np.broadcast_to(radius_at_height(inside, surface), volume.shape),
        surface_height=surface,
        wetted_height=np.maximum(wetted, SMALLEST_WETTED_HEIGHT),
        headspace_depth=felt_headspace_depth(headspace),
        # Upside down, liquid also fills the annulus up to the first seal it meets.
        wet_zones=wet_zones | {OPEN_ANNULUS} if scenario.orientation is Orientation.INVERTED else wet_zones,
    )


def felt_headspace_depth(depth: Array) -> Array:
    """Return the depth of air that counts under a lid: smoothly never less than a flat bubble's. [m]"""
    ratio = np.maximum(depth, 0.0) / BUBBLE_DEPTH
    square = ratio * ratio
    return BUBBLE_DEPTH * np.sqrt(np.sqrt(1.0 + square * square))


def _zones(container: Container, scenario: Scenario, levels: tuple[Level, ...]) -> list[Zone]:
    """Return the stretches into which the wall is cut, from the floor up."""
    firsts = _first_levels(levels)
    if scenario.orientation is Orientation.INVERTED:
        return [
            Zone("dry", levels[0].surface_height, WET_CELLS, "both"),
            # The surface sinks towards the mouth: what falls dry first lies nearest the floor.
            *(Zone(_wet_zone(k), level.surface_height, 1) for k, level in enumerate(firsts[1:])),
            *_top_zones(container, _wet_zone(len(firsts) - 1)),
        ]
    wet = [Zone(_wet_zone(k), level.surface_height, 1) for k, level in reversed(list(enumerate(firsts)))]
    wet[0] = replace(wet[0], cells=WET_CELLS if len(wet) == 1 else 2, crowd="fading")
    return [*wet, *_top_zones(container, "dry")]


def _top_zones(container: Container, name: str) -> list[Zone]:
    """Return the zones between the liquid and the lip."""
    depth, neck = container.body.depth, container.body.neck
    if container.plug is None:
        if neck is None:
            return [Zone(name, depth, DRY_CELLS, "both", least=SMALLEST_AT_RIM)]
        foot = Zone(name, depth - neck.length, DRY_CELLS_BELOW_NECK, "both", True, True, SMALLEST_AT_RIM)
        return [foot, Zone(name, depth, NECK_CELLS, "top", least=SMALLEST_AT_RIM)]
    below = Zone(name, depth - annulus_depth(container), DRY_CELLS_BELOW_PLUG, "both", past_ring=True)
    return [below, *annulus_zones(container)]


def _network(setup: Setup, timetable: Timetable) -> Network:
    scenario, lanes = setup.scenario, setup.lanes
    room = room_temperature(scenario, lanes)
    contents = contents_of(scenario)
    enthalpy = np.broadcast_to(start_enthalpy(setup.container, scenario), (lanes,)).astype(float)
    phases = _phases(setup, timetable, enthalpy)
    start_room = room.at(phases[0].start)
    initial = np.broadcast_to(start_room, (len(setup.builder.names), lanes)).copy()
    for name in setup.as_contents:
        initial[setup.builder.number(name)] = scenario.start
    initial[CONTENTS] = enthalpy if phases[0].contents_enthalpy is None else phases[0].contents_enthalpy
    sources = np.zeros_like(initial)
    for node, power in setup.sources.items():
        sources[setup.builder.number(node)] = power
    return Network(
        names=setup.builder.names,
        capacities=setup.builder.capacities(lanes),
        initial=initial,
        contents=contents,
        room=room,
        phases=phases,
        sources=sources,
        starts_at_rest=scenario.walls is WallStart.PREHEATED,
        known_until=timetable.known_until,
    )


def room_temperature(scenario: Scenario, lanes: int) -> RoomTemperature:
    """Return the temperature of the room of n lanes over time."""
    profile = scenario.room_profile
    if profile is None:
        return RoomTemperature(np.broadcast_to(np.asarray(scenario.room, dtype=float), (lanes,)).copy())
    times, temperatures = profile.corners()
    shift = np.broadcast_to(np.asarray(profile.shift, dtype=float), (lanes,)).copy()
    return RoomTemperature(shift, times, temperatures)


def _phases(setup: Setup, timetable: Timetable, enthalpy: Array) -> tuple[Phase, ...]:
    scenario, lanes = setup.scenario, setup.lanes
    tables: dict[tuple[bool, int], LinkTable] = {}
    phases: list[Phase] = []
    rows = zip(timetable.pattern, timetable.starts, timetable.ends, strict=True)
    for (is_lid_on, level), start, end in rows:
        key = (is_lid_on and setup.container.lid is not None, level)
        if key not in tables:
            tables[key] = setup.builder.table(setup.links_when(lid_on=key[0], level=level), lanes)
        phases.append(Phase(start, end, tables[key], setup.levels[level].mass))
    if scenario.preheat is not None:
        hot = contents_enthalpy(contents_of(scenario), scenario.preheat.temperature)
        phases[0] = replace(phases[0], contents_enthalpy=np.broadcast_to(hot, (lanes,)).astype(float))
        phases[1] = replace(phases[1], contents_enthalpy=enthalpy)
    return tuple(phases)
