"""A container cut through its axis: outlines of its parts to scale, and what each measures.

x counts from the axis, y from the inner floor up, both in metres. Outlines follow the very profiles that volumes
and areas are computed from, so that a wrong dimension shows.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from geometries.body import Body
from geometries.container import (
    Container,
    cavity_profile,
    closed_capacity,
    fill_height,
    inner_profile,
    lid_outer_radius,
    offset_profile,
    outside_diameter,
    plug_radius,
)
from geometries.lid import Lid, Plug, Seal, SolidLayer
from geometries.numeric import Array
from geometries.quantities import format_quantity
from geometries.shapes import Profile

Point = tuple[float, float]

AIR, VACUUM, CONTENTS = "air", "vacuum", "contents"


@dataclass(frozen=True)
class Region:
    """A part in the cut.

    Attributes
    ----------
    part : str
        What it is, in plain words.
    filling : str
        Name of a material, or AIR, VACUUM, CONTENTS or a gas.
    outlines : tuple of (k, 2) arrays
        Closed polygons. [m]
    """

    part: str
    filling: str
    outlines: tuple[Array, ...]


@dataclass(frozen=True)
class DimensionLine:
    """A distance between two points that an arrow spans [m], level or upright, with its text."""

    text: str
    start: Point
    end: Point


@dataclass(frozen=True)
class Note:
    """A text that points at a place [m]."""

    text: str
    at: Point


@dataclass(frozen=True)
class CrossSection:
    """A container cut through its axis.

    Attributes
    ----------
    regions : tuple of Region
        Later ones lie over earlier ones.
    measures : tuple of DimensionLine
    notes : tuple of Note
    table_height : float
        Of what it stands on. [m]
    left, right, top : float
        Extent of the outlines. [m]
    """

    regions: tuple[Region, ...]
    measures: tuple[DimensionLine, ...]
    notes: tuple[Note, ...]
    table_height: float
    left: float
    right: float
    top: float


def cross_section(container: Container, fill: float | None = None, unit: str = "mm") -> CrossSection:
    """Cut a container through its axis.

    Parameters
    ----------
    container : Container
        Of single numbers, no lanes.
    fill : float, optional
        Volume of the contents; left out: empty. [m3]
    unit : str
        Of the lengths in the texts.

    Returns
    -------
    CrossSection

    Examples
    --------
    >>> from geometries.design_file import load_container
    >>> cut = cross_section(load_container("single_wall_steel"), 0.0002)
    >>> [region.part for region in cut.regions][:2]
    ['wall', 'lip']
    """
    body = container.body
    table = -float(body.base.recess + body.jacket_width + body.base_width)
    regions = [*_body_regions(body, table)]
    if fill:
        regions.append(_contents(container, fill))
    if container.lid is not None:
        regions += _lid_regions(container, container.lid)
    points = np.vstack([outline for region in regions for outline in region.outlines])
    return CrossSection(
        regions=tuple(regions),
        measures=tuple(_measures(container, table, unit)),
        notes=(*_lid_notes(container, unit), *_body_notes(container, fill, unit)),
        table_height=table,
        left=float(points[:, 0].min()),
        right=float(points[:, 0].max()),
        top=float(points[:, 1].max()),
    )


# --- body -----------------------------------------------------------------------------------------------------


def _body_regions(body: Body, table: float) -> Iterator[Region]:
    first, last = float(body.inner_thickness), float(body.outer_thickness)
    side, base = float(body.side_width), float(body.base_width)
    inner, outside = (first, first), (side, base)
    if body.jacket is not None:
        case, width = float(body.jacket.thickness), float(body.jacket_width)
        before = side + width - case, base + width - case
        yield Region("space under the jacket", AIR, (_between(body, outside, before),))
        around = _between(body, before, (side + width, base + width))
        yield Region("jacket", body.jacket.material, (around,))
    if body.gap is not None:
        foil = side - last, base - last
        filling = {"vacuum": VACUUM, "foam": body.gap.foam_material, "air": body.gap.gas}[body.gap.kind]
        yield Region("gap", filling, (_between(body, inner, foil),))
        outer = _between(body, foil, outside)
        yield Region("outer wall", body.wall.outer_material or body.wall.material, (outer,))
        yield from _shields(body, body.gap.shields)
    yield Region("wall", body.wall.material, (_between(body, (0.0, 0.0), inner),))
    mouth, depth = float(body.mouth_radius), float(body.depth)
    yield Region("lip", body.wall.material, _both(_box(mouth, mouth + side, depth - float(body.lip_thickness), depth)))
    if body.base.recess:
        foot = float(body.floor_radius + side + body.jacket_width)
        ring = _both(_box(foot - 0.002, foot, table, table + float(body.base.recess)))
        yield Region("foot ring", body.wall.outer_material or body.wall.material, ring)
    if body.handle is not None:
        yield _handle(body)


def _shields(body: Body, count: int) -> Iterator[Region]:
    """Foils between the walls, drawn a tenth of a millimetre thick."""
    first, gap, base_gap = float(body.inner_thickness), float(body.gap_width), float(body.base_gap_width)
    for number in range(1, count + 1):
        share = number / (count + 1)
        near = first + share * gap, first + share * base_gap
        yield Region("shield", "copper", (_between(body, near, (near[0] + 1e-4, near[1] + 1e-4)),))


def _handle(body: Body) -> Region:
    handle = body.handle
    assert handle is not None
    outside = offset_profile(body, body.side_width + body.jacket_width, body.base_width + body.jacket_width)
    radii, heights = _corners(outside)
    length, thick = float(handle.length), float(handle.thickness)
    high = min(length, 0.8 * float(body.depth))
    grip = float(radii.max()) + max(0.5 * (length - high), 2.5 * thick)
    bottom = 0.5 * float(body.depth) - 0.5 * high
    ends = [
        _box(float(np.interp(y + 0.5 * thick, heights, radii)), grip - thick, y, y + thick)
        for y in (bottom + high - thick, bottom)
    ]
    bar = _box(grip - thick, grip, bottom, bottom + high)
    return Region("handle", handle.material, (bar, *ends[: handle.attachments]))


def _contents(container: Container, fill: float) -> Region:
    """Return the contents up to their level; a plug that reaches in lies over them."""
    level = float(fill_height(container, fill))
    cavity = cavity_profile(container)
    radii, heights = _corners(cavity)
    keep = heights < level
    surface = np.interp(level, heights, radii)
    edge = np.vstack([np.column_stack([radii[keep], heights[keep]]), [[surface, level]]])
    return Region("contents", CONTENTS, (np.vstack([edge, _mirrored(edge)[::-1]]),))


# --- lid ------------------------------------------------------------------------------------------------------


def _lid_regions(container: Container, lid: Lid) -> Iterator[Region]:
    radius, mouth = float(lid_outer_radius(container)), float(container.body.depth)
    height, lowest = mouth, lid.layers[0]
    below = lowest
    for layer in lid.layers:
        top = height + float(layer.height)
        if isinstance(layer, SolidLayer):
            below = layer
            yield Region("lid layer", layer.material, (_wide_box(radius, height, top),))
        else:
            assert isinstance(below, SolidLayer)
            inside = radius - float(lid.side_thickness)
            filling = {"air": AIR, "honeycomb": "honeycomb", "foam": layer.foam_material}[layer.filling]
            yield Region("side of the lid", below.material, _both(_box(inside, radius, height, top)))
            yield Region("pocket", filling, (_wide_box(inside, height, top),))
        height = top
    assert isinstance(lowest, SolidLayer)
    if lid.skirt_length:
        skirt = _both(_box(radius - float(lid.skirt_thickness), radius, mouth - float(lid.skirt_length), mouth))
        yield Region("skirt", lowest.material, skirt)
    if lid.plug is not None:
        yield from _plug_regions(container, lid.plug)
    for seal in lid.seals:
        yield _seal(container, seal)
    yield from _openings(container, lid, height)


def _plug_regions(container: Container, plug: Plug) -> Iterator[Region]:
    radius, top = float(plug_radius(container)), float(container.body.depth)
    foot, wall = top - float(plug.depth), float(plug.wall_thickness)
    if plug.kind == "solid":
        yield Region("plug", plug.material, (_wide_box(radius, foot, top),))
        return
    yield Region("plug", plug.material, _both(_box(radius - wall, radius, foot, top)))
    if plug.kind == "open":
        return
    yield Region("plug's floor", plug.material, (_wide_box(radius - wall, foot, foot + wall),))
    core = AIR if plug.kind == "hollow" else plug.core_material
    yield Region("plug's core", core, (_wide_box(radius - wall, foot + wall, top),))


def _seal(container: Container, seal: Seal) -> Region:
    """Return a seal between plug and neck; without a plug it lies on the rim, at no depth."""
    mouth, half = float(container.body.mouth_radius), 0.5 * float(seal.height)
    middle = float(container.body.depth) - float(seal.depth)
    on_rim = mouth, mouth + float(container.body.side_width)
    left, right = on_rim if container.plug is None else (float(plug_radius(container)), mouth)
    return Region("seal", seal.material, _both(_box(left, right, middle - half, middle + half)))


def _openings(container: Container, lid: Lid, top: float) -> Iterator[Region]:
    """Holes side by side across the lid, from its middle outwards."""
    places = [0.0, 0.5, -0.5, 0.75, -0.75]
    mouth, foot = float(container.body.mouth_radius), float(container.body.depth)
    for place, opening in zip(places, lid.openings, strict=False):
        half, middle = 0.5 * float(opening.diameter), place * mouth
        low = foot - (0.0 if lid.plug is None else float(lid.plug.depth))
        name = opening.kind.replace("_", " ")
        filling = "closed opening" if opening.closed else AIR
        yield Region(name, filling, (_box(middle - half, middle + half, low, top),))


# --- texts ----------------------------------------------------------------------------------------------------


def _quantity(value: object, unit: str) -> str:
    """Return an SI value to three digits, whole numbers whole."""
    number = float(value)  # type: ignore[arg-type]
    rounded = float(format_quantity(number, unit, 3).split()[0])
    return format_quantity(number, unit, 3 if rounded < 1000.0 else 4)


def _measures(container: Container, table: float, unit: str) -> Iterator[DimensionLine]:
    body = container.body
    mouth, depth, half = float(body.mouth_radius), float(body.depth), 0.5 * float(outside_diameter(container))
    top = depth + (0.0 if container.lid is None else float(container.lid.height))
    yield DimensionLine(f"mouth {_quantity(2.0 * mouth, unit)}", (-mouth, top), (mouth, top))
    yield DimensionLine(f"outside {_quantity(2.0 * half, unit)}", (-half, table), (half, table))
    if body.neck is not None:
        low = depth - float(body.neck.length)
        yield DimensionLine(f"neck {_quantity(body.neck.length, unit)}", (-mouth, low), (-mouth, depth))
    yield DimensionLine(f"depth inside {_quantity(depth, unit)}", (-mouth, 0.0), (-mouth, depth))
    yield DimensionLine(f"height {_quantity(top - table, unit)}", (-half, table), (-half, top))


def _body_notes(container: Container, fill: float | None, unit: str) -> Iterator[Note]:
    body = container.body
    middle = 0.45 * float(body.depth if body.neck is None else body.depth - body.neck.length)
    radii, heights = _corners(inner_profile(container))
    radius = float(np.interp(middle, heights, radii))
    wall, gap = float(body.inner_thickness), float(body.gap_width)
    material = body.wall.material.replace("_", " ")
    yield Note(f"wall {_quantity(wall, unit)}, {material}", (radius + 0.5 * wall, middle))
    if body.gap is not None:
        kind = body.gap.foam_material.replace("_", " ") if body.gap.kind == "foam" else body.gap.kind
        shields = f", {body.gap.shields} foil between" if body.gap.shields else ""
        at = float(np.interp(0.7 * middle, heights, radii)) + wall + 0.5 * gap
        yield Note(f"{kind} {_quantity(gap, unit)}{shields}", (at, 0.7 * middle))
        base = f"under the floor {_quantity(body.base_gap_width, unit)}"
        yield Note(base, (0.6 * float(body.floor_radius), -wall - 0.5 * float(body.base_gap_width)))
    if body.jacket is not None:
        at = float(np.interp(0.4 * middle, heights, radii)) + float(body.side_width + body.jacket.air_space)
        yield Note(
            f"jacket {_quantity(body.jacket.thickness, unit)}", (at + 0.5 * float(body.jacket.thickness), 0.4 * middle)
        )
    if fill:
        level = float(fill_height(container, fill))
        volumes = [_quantity(value, "floz" if unit == "in" else "mL") for value in (fill, closed_capacity(container))]
        held = f"filled with {' of '.join(volumes)}".replace("floz", "fl oz")
        radii, heights = _corners(cavity_profile(container))
        yield Note(held, (0.7 * float(np.interp(level, heights, radii)), level))


def _lid_notes(container: Container, unit: str) -> Iterator[Note]:
    lid, mouth = container.lid, float(container.body.mouth_radius)
    if lid is None:
        return
    radius, height = float(lid_outer_radius(container)), float(container.body.depth)
    for layer in lid.layers:
        middle, side = height + 0.5 * float(layer.height), float(lid.side_thickness)
        if isinstance(layer, SolidLayer):
            yield Note(
                f"{layer.material.replace('_', ' ')} {_quantity(layer.height, unit)}", (radius - 0.5 * side, middle)
            )
        else:
            yield Note(f"{layer.filling} pocket {_quantity(layer.height, unit)}", (radius - side - 0.002, middle))
        height += float(layer.height)
    for opening in lid.openings:
        state, name = ("closed" if opening.closed else "open"), opening.kind.replace("_", " ")
        yield Note(f"{state} {name} {_quantity(opening.diameter, unit)}", (0.0, height))
    if not lid.seals:
        yield Note("no seal", (mouth, float(container.body.depth)))
    for seal in lid.seals:
        where = f"seal, {_quantity(seal.depth, unit)} deep" if seal.depth else "seal on the rim"
        yield Note(where, (mouth - 0.0005 if lid.plug else mouth + 0.0005, float(container.body.depth - seal.depth)))
    if lid.plug is not None:
        plug, foot = float(plug_radius(container)), float(container.body.depth - lid.plug.depth)
        yield Note(f"{lid.plug.kind} plug {_quantity(lid.plug.depth, unit)}", (0.8 * plug, foot + 0.001))
        yield Note(
            f"clearance {_quantity(lid.plug.clearance, unit)}",
            (plug + 0.5 * float(lid.plug.clearance), foot + 0.3 * float(lid.plug.depth)),
        )


# --- outlines -------------------------------------------------------------------------------------------------


def _corners(profile: Profile) -> tuple[Array, Array]:
    return np.array([float(r) for r in profile.radii]), np.array([float(h) for h in profile.heights])


def _between(body: Body, near: tuple[float, float], far: tuple[float, float]) -> Array:
    """Return the outline between the inside moved outwards by two widths, of the side and of the base [m]."""
    inner, outer = (np.column_stack(_corners(offset_profile(body, *widths))) for widths in (near, far))
    return np.vstack([inner, outer[::-1], _mirrored(outer), _mirrored(inner)[::-1]])


def _box(left: float, right: float, bottom: float, top: float) -> Array:
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])


def _wide_box(radius: float, bottom: float, top: float) -> Array:
    return _box(-radius, radius, bottom, top)


def _both(outline: Array) -> tuple[Array, Array]:
    return outline, _mirrored(outline)


def _mirrored(outline: Array) -> Array:
    return outline * np.array([-1.0, 1.0])
