"""Where the walls are cut into cells: the same stations along the inner wall and the outer shell facing it.

Below the liquid's level cells are crowded towards it; above, where the wall is a fin, they are equal. Their
number depends on the kind of container and on the scenario's pours, never on a dimension, so that designs can share
one network.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from geometries.container import Container, gap_side_profile, inner_profile, outer_profile
from geometries.numeric import Array, Numeric
from geometries.shapes import (
    Profile,
    arc_length,
    arc_length_at_height,
    arc_length_of_station,
    area_below,
    height_at,
    shape_factor_between,
    stations,
)

SMALLEST_ZONE = 4e-4
"""Shortest zone along the wall [m]: a container filled up to its plug still has cells there."""

WET_CELLS, DRY_CELLS, DRY_CELLS_BELOW_PLUG = 4, 12, 7


@dataclass(frozen=True)
class Sheet:
    """One wall as a sheet cut into k cells, seen from its bottom edge up.

    Attributes
    ----------
    area : (k, n) array
        [m2]
    between : (k - 1, n) array
        Integral of ds / (2 pi r) from centre to centre; over (conductivity x thickness) it is a resistance. [-]
    to_bottom, to_top : (n,) array
        The same from the first centre to the bottom edge, and from the last centre to the top edge. [-]
    height_low, height_high : (k, n) array
        Heights of the cells' edges over the inner floor. [m]
    """

    area: Array
    between: Array
    to_bottom: Array
    to_top: Array
    height_low: Array
    height_high: Array

    @classmethod
    def cut(cls, profile: Profile, edges: Array) -> "Sheet":
        """Cut a profile at arc lengths (k + 1, n)."""
        centres = 0.5 * (edges[1:] + edges[:-1])
        heights = np.asarray(height_at(profile, edges))
        return cls(
            area=np.diff(area_below(profile, edges), axis=0),
            between=np.asarray(shape_factor_between(profile, centres[:-1], centres[1:])),
            to_bottom=np.asarray(shape_factor_between(profile, edges[:1], centres[:1]))[0],
            to_top=np.asarray(shape_factor_between(profile, centres[-1:], edges[-1:]))[0],
            height_low=heights[:-1],
            height_high=heights[1:],
        )


@dataclass(frozen=True)
class WallCells:
    """The side wall cut at common stations.

    Attributes
    ----------
    inner, gap_side, outer : Sheet
        The inner wall by its inside, by its side to the gap, and the outer shell.
    zone : tuple of str
        Of each cell: "wet_0", "wet_1" ..., "dry", "open_annulus", "at_seal", "dry_annulus".
    """

    inner: Sheet
    gap_side: Sheet
    outer: Sheet
    zone: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of cells."""
        return len(self.zone)


Crowd = Literal["none", "top", "bottom"]


@dataclass(frozen=True)
class Zone:
    """A stretch of the wall to be cut: its name, upper end over the floor [m], cells, and where to crowd them."""

    name: str
    top: Numeric
    cells: int
    crowd: Crowd = "none"


def cut_walls(container: Container, zones: list[Zone], lanes: int, refinement: int = 1) -> WallCells:
    """Cut both walls into cells, zone by zone from the floor up.

    Parameters
    ----------
    container : Container
    zones : list of Zone
        In rising order; the last one reaches up to the lip whatever its top says.
    lanes : int
        Number of designs n.
    refinement : int
        Multiplies the number of cells.
    """
    inside = inner_profile(container)
    full = np.broadcast_to(arc_length(inside), (lanes,))
    ends = _zone_ends(inside, zones, full)
    edges, names, low = [], [], np.zeros(lanes)
    for zone, end in zip(zones, ends, strict=True):
        shares = _shares(zone.cells * refinement, zone.crowd)
        edges.append(low + (end - low) * shares[:-1, None])
        names += [zone.name] * (zone.cells * refinement)
        low = end
    edge = np.vstack([*edges, full[None]])
    station = stations(inside, edge)
    gap_side, outside = gap_side_profile(container), outer_profile(container)
    return WallCells(
        inner=Sheet.cut(inside, edge),
        gap_side=Sheet.cut(gap_side, np.asarray(arc_length_of_station(gap_side, station))),
        outer=Sheet.cut(outside, np.asarray(arc_length_of_station(outside, station))),
        zone=tuple(names),
    )


def _zone_ends(inside: Profile, zones: list[Zone], full: Array) -> list[Array]:
    """Return the arc length at which each zone ends, zones kept apart by their least length."""
    ends: list[Array] = [full]
    for zone in reversed(zones[:-1]):
        wanted = np.broadcast_to(arc_length_at_height(inside, zone.top), full.shape)
        ends.insert(0, np.minimum(wanted, ends[0] - SMALLEST_ZONE))
    low = np.zeros_like(full)
    for k, end in enumerate(ends):
        ends[k] = low = np.maximum(end, low + SMALLEST_ZONE)
    return ends


def _shares(count: int, crowd: Crowd) -> Array:
    """Return count + 1 shares from 0 to 1, in geometric steps towards the crowded end."""
    x = np.linspace(0.0, 1.0, count + 1)
    if crowd == "top":
        return 1.0 - (CROWDING ** (1.0 - x) - 1.0) / (CROWDING - 1.0)
    if crowd == "bottom":
        return (CROWDING**x - 1.0) / (CROWDING - 1.0)
    return x


CROWDING = 60.0
"""Ratio of the largest to the smallest cell of a crowded zone, about."""
