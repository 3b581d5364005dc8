"""What is being assembled: container, scenario and unknowns in hand, and the nodes and links made so far."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from geometries.body import Body
from geometries.container import Container
from geometries.materials import Material, Surface, material, width_ratio
from geometries.numeric import Array, Numeric
from thermal_model.assemble.stations import WallCells
from thermal_model.scenario import Orientation, Pins, Scenario, contents_kind
from thermal_model.solver.laws import CONDUCTION, SHEET_CONDUCTION, Law
from thermal_model.solver.network import Link, NetworkBuilder
from thermal_model.solver.own_laws import in_force
from thermal_model.unknowns import USUAL_WIDTHS, Unknowns

CONTENTS_NODE, HEADSPACE_NODE, FLOOR_NODE = "contents", "headspace", "floor"


@dataclass(frozen=True)
class Level:
    """A height of the contents that occurs in the run.

    Attributes
    ----------
    index : int
        0 is the first fill, 1 after the first pour, ...
    volume, mass : (n,) array
        [m3, kg]
    surface_radius : (n,) array
        Of the liquid's surface. [m]
    surface_height : (n,) array
        Over the inner floor, as the container stands on its base. [m]
    wetted_height : (n,) array
        [m]
    headspace_depth : (n,) array
        From the liquid's surface to what closes the headspace. [m]
    wet_zones : frozenset of str
        Zones of the wall below the surface.
    """

    index: int
    volume: Array
    mass: Array
    surface_radius: Array
    surface_height: Array
    wetted_height: Array
    headspace_depth: Array
    wet_zones: frozenset[str]

    @property
    def surface_area(self) -> Array:
        """Area of the liquid's surface. [m2]"""
        return np.pi * self.surface_radius**2


@dataclass(frozen=True)
class ConditionalLink:
    """A link with the conditions under which it is in force; None means any."""

    link: Link
    lid_on: bool | None
    level: int | None


@dataclass
class Setup:
    """Shared by the functions that add nodes and links."""

    container: Container
    scenario: Scenario
    unknowns: Unknowns
    lanes: int
    refinement: int
    cells: WallCells
    levels: tuple[Level, ...]
    builder: NetworkBuilder = field(default_factory=NetworkBuilder)
    links: list[ConditionalLink] = field(default_factory=list)
    sources: dict[str, Numeric] = field(default_factory=dict)
    as_contents: list[str] = field(default_factory=list)

    @property
    def body(self) -> Body:
        """The container without its lid."""
        return self.container.body

    @property
    def pins(self) -> Pins:
        """Constants that replace correlations."""
        return self.scenario.pins

    @property
    def water_activity(self) -> float:
        """Vapour pressure of the contents over that of water. [-]"""
        return contents_kind(self.scenario.contents).water_activity

    @property
    def is_inverted(self) -> bool:
        """Whether the container stands on its lid."""
        return self.scenario.orientation is Orientation.INVERTED

    @property
    def up(self) -> float:
        """+1 where the lid is above the base, -1 where the container stands on its lid."""
        return -1.0 if self.is_inverted else 1.0

    def node(self, name: str, capacity: Numeric) -> str:
        """Add a node with a heat capacity [J K-1]."""
        return self.builder.node(name, capacity)

    def link(
        self,
        law: Law,
        start: str,
        end: str,
        *,
        path: str = "",
        lid_on: bool | None = None,
        level: int | None = None,
        **parameters: Numeric,
    ) -> None:
        """Add a link; `lid_on` and `level` say when it is in force."""
        self.links.append(ConditionalLink(Link(in_force(law), start, end, parameters, path), lid_on, level))

    def conductance(
        self,
        start: str,
        end: str,
        conductance: Numeric,
        *,
        path: str = "",
        lid_on: bool | None = None,
        level: int | None = None,
    ) -> None:
        """Add a link of constant conductance [W K-1]."""
        self.link(CONDUCTION, start, end, path=path, lid_on=lid_on, level=level, conductance=conductance)

    def sheet(self, start: str, end: str, shape: Numeric, thickness: Numeric, of: "Solid", *, path: str = "") -> None:
        """Add conduction along a sheet; shape is the integral of ds / (2 pi r). [-]"""
        self.link(
            SHEET_CONDUCTION,
            start,
            end,
            path=path,
            conductance_300K=of.conductivity * thickness / shape,
            relative_slope=of.relative_slope,
        )

    def links_when(self, *, lid_on: bool, level: int) -> list[Link]:
        """Return the links in force with the lid on or off, at a level of the contents."""
        return [
            c.link
            for c in self.links
            if (c.lid_on is None or c.lid_on == lid_on) and (c.level is None or c.level == level)
        ]

    def wall_solid(self, name: str) -> "Solid":
        """Return a wall's material, pins and unknowns applied."""
        data, pins = material(name), self.pins
        factor = widened(self.unknowns.wall_conductivity, data, "wall_conductivity")
        slope = data.conductivity_slope / data.conductivity_300K
        return _solid(data, factor, slope, pins.wall_conductivity, pins.wall_density, pins.wall_heat_capacity)

    def layer_solid(self, name: str) -> "Solid":
        """Return the material of a lid layer, a plug or a jacket, pins and unknowns applied."""
        data, pins = material(name), self.pins
        factor = widened(self.unknowns.layer_conductivity, data, "layer_conductivity")
        return _solid(data, factor, 0.0, pins.layer_conductivity, pins.layer_density, pins.layer_heat_capacity)


@dataclass(frozen=True)
class Solid:
    """Conductivity at 300 K [W m-1 K-1], its relative slope [K-1], heat capacity per volume [J m-3 K-1]."""

    conductivity: Numeric
    relative_slope: Numeric
    volumetric_capacity: Numeric


def widened(factor: Numeric, meant: Material | Surface, unknown: str) -> Numeric:
    """Return an unknown factor of a solid or surface, as wide as the design says of its own; else as it is."""
    ratio = width_ratio(meant, USUAL_WIDTHS[unknown])
    return factor if ratio == 1.0 else factor**ratio


def _solid(
    data: Material,
    factor: Numeric,
    slope: float,
    conductivity: Numeric | None,
    density: Numeric | None,
    heat_capacity: Numeric | None,
) -> Solid:
    """Return a material with a factor on its conductivity, or with what is pinned."""
    density = data.density if density is None else density
    capacity = density * (data.heat_capacity if heat_capacity is None else heat_capacity)
    if conductivity is None:
        return Solid(factor * data.conductivity_300K, slope, capacity)
    return Solid(conductivity, 0.0, capacity)


def in_series(resistances: Iterable[Numeric]) -> Numeric:
    """Return the conductance of resistances one behind the other. [W K-1 from K W-1]"""
    return 1.0 / sum(resistances)
