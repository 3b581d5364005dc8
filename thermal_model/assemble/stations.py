"""Where the walls are cut into cells: the same stations along the inner wall and the outer shell facing it.

Cells are small where the wall's temperature bends, beside the liquid's level and the lip, and grow away from there.
Their number depends on the kind of container and on the scenario's pours, never on a dimension, so that designs can
share one network.
"""

from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Literal

import numpy as np

from geometries.container import Container, gap_side_profile, inner_profile, outer_profile, outer_shell_inside_profile
from geometries.numeric import Array, Numeric
from geometries.shapes import (
    Profile,
    arc_length,
    arc_length_at_height,
    area_below,
    height_at,
    log_mean,
    radius_at,
    shape_factor_between,
)
from thermal_model.physics.conduction import bend_share

SMALLEST_ZONE, SMALLEST_AT_RIM = 4e-4, 1e-4
"""Shortest zone along the wall [m]: a container filled up to its plug still has cells there. Without a plug the liquid
may come closer to the lip, and every tenth of a millimetre of dry steel counts."""

WET_CELLS, DRY_CELLS, DRY_CELLS_BELOW_PLUG = 5, 10, 7
DRY_CELLS_BELOW_NECK, NECK_CELLS = 5, 5

FADING, BEND = 1e-3, 3e-3
"""Scales from which cells grow away from where the wall's temperature bends [m]: below the liquid's level, where steel
0.4 mm thick is as warm as the contents after 4 mm, and above it and under the lip, where it bends within 2 to 15 mm."""


@dataclass(frozen=True)
class Sheet:
    """One wall as a sheet cut into k cells, seen from its bottom edge up.

    Attributes
    ----------
    area : (k, n) array
        [m2]
    overhang : (k, n) array
        Of it, what faces down seen from inside: its level projection, 0 of an upright or widening wall. [m2]
    between : (k - 1, n) array
        Integral of ds / (2 pi r) from centre to centre; over (conductivity x thickness) it is a resistance. [-]
    to_bottom, to_top : (n,) array
        The same from the first centre to the bottom edge, and from the last centre to the top edge. [-]
    height_low, height_high : (k, n) array
        Heights of the cells' edges over the inner floor. [m]
    top_radius : (n,) array
        At the top edge. [m]
    """

    area: Array
    overhang: Array
    between: Array
    to_bottom: Array
    to_top: Array
    height_low: Array
    height_high: Array
    top_radius: Array

    def midway(self, other: "Sheet") -> "Sheet":
        """Return the sheet halfway to another that is cut alike."""
        both = [(getattr(self, field.name), getattr(other, field.name)) for field in fields(self)]
        return Sheet(*[0.5 * (one + two) for one, two in both])

    @classmethod
    def cut(cls, profile: Profile, places: Array) -> "Sheet":
        """Cut a profile at arc lengths (2 k + 1, n): by turns an edge and a centre."""
        edges, centres = places[::2], places[1::2]
        heights = np.asarray(height_at(profile, edges))
        return cls(
            area=np.diff(area_below(profile, edges), axis=0),
            overhang=np.maximum(-np.pi * np.diff(np.asarray(radius_at(profile, edges)) ** 2, axis=0), 0.0),
            between=np.asarray(shape_factor_between(profile, centres[:-1], centres[1:])),
            to_bottom=np.asarray(shape_factor_between(profile, edges[:1], centres[:1]))[0],
            to_top=np.asarray(shape_factor_between(profile, centres[-1:], edges[-1:]))[0],
            height_low=heights[:-1],
            height_high=heights[1:],
            top_radius=np.broadcast_to(profile.radii[-1], edges.shape[1:]),
        )


@dataclass(frozen=True)
class Crossing:
    """Shape factors across a layer between two parallel faces, bends included: times a conductivity a conductance.

    Attributes
    ----------
    side : (k, n) array
        Of each cell. [m]
    floor : (n,) array
        Of the floor. [m]
    """

    side: Array
    floor: Array

    @classmethod
    def cut(cls, near: Profile, far: Profile, places: Array) -> "Crossing":
        """Cut a layer at arc lengths of its near face, (2 k + 1, n), by turns an edge and a centre."""
        edges = places[::2]
        lanes = edges[0]
        width = near.heights[0] - far.heights[0]
        radius = near.radii[0] + _bend(near, far, 0) * (far.radii[0] - near.radii[0])
        floor = np.pi * radius * radius / np.where(np.greater(width, 0.0), width, np.inf)
        return cls(np.diff(_shape_below(near, far, edges), axis=0), np.broadcast_to(floor, lanes.shape))


@dataclass(frozen=True)
class WallCells:
    """The side wall cut at common stations.

    Attributes
    ----------
    inner, gap_side, shell_inside, outer : Sheet
        The inner wall by its inside and by its side to the gap, the outer shell by that side and by its outside. Of a
        single wall the last three are the same.
    across_inner, across_gap, across_outer : Crossing
        Through the inner wall, through what fills the gap, and through the outer shell.
    zone : tuple of str
        Of each cell: "wet_0", "wet_1" ..., "dry", "open_annulus", "at_seal", "dry_annulus".
    """

    inner: Sheet
    gap_side: Sheet
    shell_inside: Sheet
    outer: Sheet
    across_inner: Crossing
    across_gap: Crossing
    across_outer: Crossing
    zone: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of cells."""
        return len(self.zone)


Crowd = Literal["none", "fading", "top", "both"]


@dataclass(frozen=True)
class Zone:
    """A stretch of the wall to be cut.

    Attributes
    ----------
    name : str
    top : float or (n,) array
        Height of its upper end over the floor. [m]
    cells : int
    crowd : "none", "fading", "top" or "both"
        Where cells are small: nowhere, under the liquid's level, at the top, at both ends.
    past_ring : bool
        Whether a flat shoulder at this height belongs to this zone, not to the next.
    yields : bool
        Whether its end gives way to where the zone below ends.
    least : float
        It is no shorter than this. [m]
    """

    name: str
    top: Numeric
    cells: int
    crowd: Crowd = "none"
    past_ring: bool = False
    yields: bool = False
    least: float = SMALLEST_ZONE


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
    places, names, low = [], [], np.zeros(lanes)
    for zone, end in zip(zones, ends, strict=True):
        places.append(low + _divisions(end - low, zone.cells * refinement, zone.crowd)[:-1])
        names += [zone.name] * (zone.cells * refinement)
        low = end
    along = np.vstack([*places, full[None]])
    faces = [
        inside,
        gap_side_profile(container),
        outer_shell_inside_profile(container),
        outer_profile(container),
    ]
    opposite = [_with_centres(_opposite(inside, face, along[::2]), along) for face in faces]
    inner, gap_side, shell_inside, outer = (Sheet.cut(face, place) for face, place in zip(faces, opposite, strict=True))
    layers = zip(pairwise(faces), opposite, strict=False)
    in_wall, in_gap, in_shell = (Crossing.cut(near, far, place) for (near, far), place in layers)
    return WallCells(inner, gap_side, shell_inside, outer, in_wall, in_gap, in_shell, tuple(names))


def _opposite(near: Profile, far: Profile, s: Array) -> Array:
    """Return what lies straight opposite of positions along a profile, on one that runs beside it. [m]

    Where a bend makes the far profile longer, its extra length goes with the cells beside the bend.
    """
    total, start = np.zeros_like(s), np.zeros_like(s[0])
    for k, (length, far_length) in enumerate(zip(near.lengths, far.lengths, strict=True)):
        low, high = -_steps(near, far, k)[0], far_length - _steps(near, far, k, at_end=True)[0]
        total = total + _stretched(s - start, length, (low, high), (0.0, far_length))
        start = start + length
    return total


def _with_centres(edges: Array, along: Array) -> Array:
    """Return edges with centres between them that divide each cell as those of the inner wall do. [m]"""
    places = np.repeat(edges, 2, axis=0)[:-1]
    share = (along[1::2] - along[:-1:2]) / (along[2::2] - along[:-1:2])
    places[1::2] = edges[:-1] + share * (edges[1:] - edges[:-1])
    return places


def _stretched(s: Array, length: Numeric, feet: tuple[Numeric, Numeric], ends: tuple[Numeric, Numeric]) -> Array:
    """Return places from one end to the other for positions along a stretch.

    What lies between goes to what lies straight opposite, evenly from foot to foot. What is left before the first foot
    and beyond the last goes with as much of the stretch beside it, so that no cell gets all of it at once. Where no
    face lies opposite, round a bend inwards, the first of what there is serves twice as much.
    """
    # A face much shorter than what it lies opposite of, as outside a short neck, is shared out whole.
    half = np.clip(ends[1] - ends[0], 0.0, 0.5 * length)

    def opposite(s: Numeric) -> Numeric:
        share = s / np.where(np.greater(length, 0.0), length, 1.0)
        place = feet[0] + share * (feet[1] - feet[0])
        return np.minimum(np.maximum(place, ends[0] + share * half), ends[1] - (1.0 - share) * half)

    most = MOST_BESIDE_BEND * length
    low = np.minimum(opposite(0.0 * length) - ends[0], most)
    high = np.minimum(ends[1] - opposite(length), most)
    after, beyond = opposite(low), opposite(length - high)
    rise, last = (after - ends[0]) / np.where(low > 0.0, low, 1.0), (ends[1] - beyond) / np.where(high > 0.0, high, 1.0)
    s = np.clip(s, 0.0, length)
    place = np.where(s < low, ends[0] + s * rise, opposite(s))
    place = np.where(s > length - high, beyond + (s - (length - high)) * last, place)
    return np.where(s <= 0.0, ends[0], np.where(s >= length, ends[1], place))


MOST_BESIDE_BEND = 0.02
"""Share of a stretch, at most, that what is left beyond either of its ends goes with. Of 150 random containers with
wide gaps none more misses the fine grid than with nothing; with a tenth, two more do."""


def _shape_below(near: Profile, far: Profile, s: Array) -> Array:
    """Return the shape factor across a layer, from its lower end up to positions along its near face. [m]

    Notes
    -----
    Across each straight stretch heat flows as in one dimension, over a length between that of its near face and that
    of its far face: at a bend `bend_share` of the extra length of the longer one counts.
    """
    total, start = np.zeros_like(s), np.zeros_like(s[0])
    for k, length in enumerate(near.lengths):
        low = _bend(near, far, k) * _steps(near, far, k)[0]
        high = length + _bend(near, far, k + 1) * _steps(near, far, k, at_end=True)[0]
        place = _stretched(s - start, length, (0.0, length), (low, high))
        total = total + _stretch_shape(near, far, k, low, place)
        start = start + length
    return total


def _direction(profile: Profile, k: int) -> Numeric:
    """Return the direction of a segment, counted from the outward radius; upright for one without length. [rad]"""
    widening, rise = profile.widenings[k], profile.rises[k]
    return np.arctan2(np.where(np.equal(widening, 0.0) & np.equal(rise, 0.0), 1.0, rise), widening)


def _steps(near: Profile, far: Profile, k: int, at_end: bool = False) -> tuple[Numeric, Numeric]:
    """Return how far it is from a corner of a segment to that of the far profile, along the segment and across. [m]"""
    direction, corner = _direction(near, k), k + at_end
    step_r, step_z = far.radii[corner] - near.radii[corner], far.heights[corner] - near.heights[corner]
    along = step_r * np.cos(direction) + step_z * np.sin(direction)
    return along, step_r * np.sin(direction) - step_z * np.cos(direction)


def _bend(near: Profile, far: Profile, corner: int) -> Numeric:
    """Return how far from the near face's corner to the far one's a stretch ends that conducts as in one dimension.

    Halfway, as at a bend too slight to see, where a stretch beside the bend is short against the layer's thickness.
    """
    if corner == near.segment_count:
        return 0.5  # At the lip both end at one height.
    before = _direction(near, corner - 1) if corner else 0.0
    turn = _direction(near, corner) - before
    shorter = np.minimum(near.lengths[corner - 1] if corner else near.radii[0], near.lengths[corner])
    width = np.abs(_steps(near, far, corner)[1])
    reach = np.minimum(shorter / np.where(width > 0.0, width, 1.0), 1.0)
    return 0.5 + reach * np.sign(turn) * (bend_share(np.abs(turn)) - 0.5)


def _stretch_shape(near: Profile, far: Profile, k: int, start: Numeric, stop: Array) -> Array:
    """Return the shape factor between two places along a segment; 0 of a layer without thickness. [m]"""
    direction, width = _direction(near, k), np.abs(_steps(near, far, k, at_end=True)[1])
    ends = [near.radii[k] + place * np.cos(direction) for place in (start, stop)]
    mean = [log_mean(radius, radius + width * np.sin(direction)) for radius in ends]
    return np.pi * (mean[0] + mean[1]) * (stop - start) / np.where(width > 0.0, width, np.inf)


def _zone_ends(inside: Profile, zones: list[Zone], full: Array) -> list[Array]:
    """Return the arc length at which each zone ends, zones kept apart by their least length."""
    wanted = [
        np.broadcast_to(arc_length_at_height(inside, zone.top, past_ring=zone.past_ring), full.shape)
        for zone in zones[:-1]
    ]
    for k, zone in enumerate(zones[:-1]):
        if zone.yields and k:
            wanted[k] = np.maximum(wanted[k], wanted[k - 1] + zone.least)
    ends: list[Array] = [full]
    for end, above in zip(reversed(wanted), reversed(zones), strict=False):
        ends.insert(0, np.minimum(end, ends[0] - above.least))
    low = np.zeros_like(full)
    for k, (zone, end) in enumerate(zip(zones, ends, strict=True)):
        ends[k] = low = np.maximum(end, low + zone.least)
    return ends


def _divisions(length: Array, count: int, crowd: Crowd) -> Array:
    """Return 2 count + 1 places from 0 to a length, by turns an edge and a centre of a cell, (2 count + 1, n). [m]

    A cell that is larger than the one before has its centre nearer to that, halfway in the count: where a temperature
    fades away, that makes five cells as good as fifty with their centres in the middle.
    """
    x = np.linspace(0.0, 1.0, 2 * count + 1)[:, None]
    if crowd == "none":
        return length * x
    if crowd == "fading":
        return length - _growing(length, x[::-1], FADING)
    if crowd == "top":
        return length - _growing(length, x[::-1], BEND)
    half = 0.5 * length
    return np.where(x <= 0.5, _growing(half, 2.0 * x, BEND), length - _growing(half, 2.0 - 2.0 * x, BEND))


def _growing(length: Array, x: Array, scale: float) -> Array:
    """Return places at shares x of the count; cells grow from a part of the scale, or are equal if short. [m]"""
    grown = scale * ((1.0 + length / scale) ** np.clip(x, 0.0, 1.0) - 1.0)
    # At the end exactly, or a bend there would be taken for one that lies a hair before it.
    return np.where(x >= 1.0, length, grown)
