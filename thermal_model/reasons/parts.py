"""A container taken apart into parts that can be swapped for those of another, and put together again.

Parts are plain records of inside dimensions, so that a hybrid depends only on which parts it has, never on whose
design it began with. Taking a container apart and putting it together gives the same container. Leaves may be (n,)
arrays.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from geometries.body import BaseStand, Body, Exterior, Gap, Handle, Jacket, Lip, Neck, Wall
from geometries.container import (
    Container,
    annulus_depth,
    lid_outer_radius,
    outer_radius,
    outside_height,
    shoulder_rise,
)
from geometries.lid import Lid, Plug, PocketLayer, Seal
from geometries.materials import surface_emissivity
from geometries.numeric import Numeric


class Group(StrEnum):
    """A part, by the words it is shown and asked for with."""

    MOUTH = "mouth"
    LID_LAYERS = "lid layers"
    PLUG_AND_SEALS = "plug and seals"
    NECK = "neck"
    WALL_AND_GAP = "wall and gap"
    BASE = "base"
    CAPACITY = "capacity"
    FILL = "fill"
    CONDITIONS = "contents and conditions"


OF_CONTAINER = (
    Group.MOUTH,
    Group.LID_LAYERS,
    Group.PLUG_AND_SEALS,
    Group.NECK,
    Group.WALL_AND_GAP,
    Group.BASE,
    Group.CAPACITY,
)


class Adaptation(StrEnum):
    """How a part was changed to go with the others, in words."""

    MOUTH_AS_BODY = "a mouth wider than the body was made as wide as the body"
    SHORTEST_NECK = "a mouth narrower than a body without a neck got the shortest neck that can be made"
    LONGER_NECK = "a neck too short for its shoulder was made just long enough"
    RAISED_SEALS = "seals deeper than plug and neck reach were moved up in proportion"
    SHORTER_PLUG = "a plug as long as the inside is deep was shortened"
    THINNER_PLUG = "a plug too thick for the opening was made thinner: a wider clearance"
    NO_PLUG_WITHOUT_LID = "without a lid there is no plug"
    SHORTER_SKIRT = "a skirt that reached the shoulder was shortened"
    SMALLER_HOLE = "a hole in the lid as wide as the mouth was halved"
    LESS_FILLED = "where the fill did not fit under the lid, it was filled to the lid"


SPARE_NECK = 2e-3
"""Neck that is left outside between lip and shoulder where a neck had to be made or lengthened [m]; judgement."""

SHORTENED_PLUG, SPARE_CLEARANCE = 0.8, 2e-4
"""Share of the inside depth that a plug too long takes [-], and its room beside a taper [m]; judgement."""


@dataclass(frozen=True)
class PlugAndSeals:
    """What reaches into the mouth, and what closes it."""

    plug: Plug | None = None
    seals: tuple[Seal, ...] = ()


@dataclass(frozen=True)
class NeckAndLip:
    """Length and shoulder of the neck, None without one, and the ring at the mouth."""

    length: Numeric | None
    shoulder_height: Numeric
    lip: Lip


@dataclass(frozen=True)
class WallAndGap:
    """The walls, what is between them, and what is outside of them."""

    wall: Wall
    gap: Gap | None
    exterior: Exterior
    jacket: Jacket | None
    handle: Handle | None


@dataclass(frozen=True)
class Base:
    """How it stands, and the gap under the floor; None is as wide as at the side."""

    stand: BaseStand
    gap_width: Numeric | None


@dataclass(frozen=True)
class Capacity:
    """The body below shoulder and neck, or up to the mouth: the room inside. [m]"""

    diameter: Numeric
    base_diameter: Numeric | None
    height: Numeric


Parts = dict[Group, Any]
"""A part for each group of OF_CONTAINER.

That of the mouth is its diameter [m], None if it is the body's own; that of the lid's layers is the lid without plug
and seals, None if there is no lid.
"""


# --- apart ----------------------------------------------------------------------------------------------------


def taken_apart(container: Container) -> Parts:
    """Return the parts of a container, with surfaces as the emissivities they stand for."""
    body, lid = container.body, container.lid
    return {
        Group.MOUTH: 2.0 * body.mouth_radius,
        Group.LID_LAYERS: None if lid is None else _without_closing(lid),
        Group.PLUG_AND_SEALS: PlugAndSeals() if lid is None else PlugAndSeals(lid.plug, lid.seals),
        Group.NECK: _neck(body),
        Group.WALL_AND_GAP: WallAndGap(
            body.wall.model_copy(update={"outer_material": body.wall.outer_material or body.wall.material}),
            None if body.gap is None else _numeric_gap(body.gap).model_copy(update={"base_width": None}),
            _numeric_exterior(body.exterior),
            body.jacket,
            body.handle,
        ),
        Group.BASE: Base(body.base, None if body.gap is None else body.gap.base_width),
        Group.CAPACITY: Capacity(2.0 * body.radius, body.inside_base_diameter, body.depth - _neck_height(body)),
    }


def without_own_mouths(first: Parts, second: Parts) -> tuple[Parts, Parts]:
    """Return the parts of two containers; if neither has a neck, their mouths are left to their bodies."""
    if first[Group.NECK].length is None and second[Group.NECK].length is None:
        return first | {Group.MOUTH: None}, second | {Group.MOUTH: None}
    return first, second


def _neck_height(body: Body) -> Numeric:
    return 0.0 if body.neck is None else body.neck.length + body.neck.shoulder_height


def _neck(body: Body) -> NeckAndLip:
    if body.neck is None:
        return NeckAndLip(None, 0.0, body.lip)
    return NeckAndLip(body.neck.length, body.neck.shoulder_height, body.lip)


def _without_closing(lid: Lid) -> Lid:
    layers = tuple(_numeric_pocket(layer) if isinstance(layer, PocketLayer) else layer for layer in lid.layers)
    exterior = _numeric_exterior(lid.exterior)
    return lid.model_copy(update={"layers": layers, "exterior": exterior, "plug": None, "seals": ()})


def _numeric_exterior(exterior: Exterior) -> Exterior:
    return Exterior(emissivity=surface_emissivity(exterior.surface, exterior.emissivity))


def _numeric_gap(gap: Gap) -> Gap:
    if gap.kind == "foam":
        return gap
    return gap.model_copy(update=_emissivities(gap, "inner", "outer", "shield"))


def _numeric_pocket(layer: PocketLayer) -> PocketLayer:
    return layer.model_copy(update=_emissivities(layer, "lower", "upper"))


def _emissivities(record: Any, *faces: str) -> dict[str, Any]:
    """Return emissivities in place of the names of surfaces, so that designs of two finishes share a network."""
    fields = type(record).model_fields
    return {
        name: value
        for face in faces
        for name, value in (
            (f"{face}_surface", fields[f"{face}_surface"].default),
            (
                f"{face}_emissivity",
                surface_emissivity(getattr(record, f"{face}_surface"), getattr(record, f"{face}_emissivity")),
            ),
        )
    }


# --- together -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Assembled:
    """A container made of parts, and what had to be adapted."""

    container: Container
    adaptations: frozenset[Adaptation]


def put_together(parts: Parts, name: str) -> Assembled:
    """Make a container of parts; nothing is validated but what `Adaptation` names.

    Parameters
    ----------
    parts : dict of Group
        Of one container or of several; leaves may be (n,) arrays.
    name : str

    See Also
    --------
    geometries.checks.dimension_problems : tells what still can't be.
    """
    made: set[Adaptation] = set()
    body = _body(parts, made)
    container = Container.model_construct(name=name, summary="", body=body, lid=_bare_lid(parts, made))
    for adapt in (_fit_plug, _fit_seals, _fit_skirt, _fit_openings):
        container = adapt(container, made)
    return Assembled(container, frozenset(made))


def _body(parts: Parts, made: set[Adaptation]) -> Body:
    size, walls, base, neck = (parts[group] for group in (Group.CAPACITY, Group.WALL_AND_GAP, Group.BASE, Group.NECK))
    gap = walls.gap if walls.gap is None else walls.gap.model_copy(update={"base_width": base.gap_width})
    body = Body.model_construct(
        inside_diameter=size.diameter,
        outside_diameter=None,
        inside_base_diameter=size.base_diameter,
        inside_depth=size.height,
        outside_height=None,
        neck=None,
        wall=walls.wall,
        gap=gap,
        lip=neck.lip,
        exterior=walls.exterior,
        base=base.stand,
        jacket=walls.jacket,
        handle=walls.handle,
    )
    return _with_neck(body, parts[Group.MOUTH], neck, made)


def _with_neck(body: Body, mouth: Numeric | None, neck: NeckAndLip, made: set[Adaptation]) -> Body:
    width = 2.0 * body.radius
    diameter = width if mouth is None else np.minimum(mouth, width)
    if mouth is not None and np.any(mouth > width * (1.0 + 1e-9)):
        made.add(Adaptation.MOUTH_AS_BODY)
    if neck.length is None and np.all(diameter >= width * (1.0 - 1e-9)):
        return body
    length, height = (0.0, 0.0) if neck.length is None else (neck.length, neck.shoulder_height)
    draft = Neck.model_construct(mouth_diameter=diameter, length=length, shoulder_height=height)
    least = body.lip_thickness + shoulder_rise(body.model_copy(update={"neck": draft}), body.side_width)
    if np.any(length <= least):
        made.add(Adaptation.SHORTEST_NECK if neck.length is None else Adaptation.LONGER_NECK)
        length = np.where(np.greater(length, least), length, least + SPARE_NECK)
    whole = draft.model_copy(update={"length": length})
    return body.model_copy(update={"neck": whole, "inside_depth": body.depth + length + height})


def _bare_lid(parts: Parts, made: set[Adaptation]) -> Lid | None:
    lid: Lid | None = parts[Group.LID_LAYERS]
    closing: PlugAndSeals = parts[Group.PLUG_AND_SEALS]
    if lid is not None:
        return lid.model_copy(update={"plug": closing.plug, "seals": closing.seals})
    if closing.plug is not None:
        made.add(Adaptation.NO_PLUG_WITHOUT_LID)
    return None


def _changed(container: Container, **fields: Any) -> Container:
    """Return a container with some fields of its lid changed."""
    assert container.lid is not None
    return container.model_copy(update={"lid": container.lid.model_copy(update=fields)})


def _fit_plug(container: Container, made: set[Adaptation]) -> Container:
    body, plug = container.body, container.plug
    if plug is None:
        return container
    depth, clearance = plug.depth, plug.clearance
    if np.any(depth >= body.depth):
        made.add(Adaptation.SHORTER_PLUG)
        depth = np.where(np.less(depth, body.depth), depth, SHORTENED_PLUG * body.depth)
    if body.neck is None:
        taper = (body.radius - body.floor_radius) * depth / body.depth
        if np.any(clearance <= taper):
            made.add(Adaptation.THINNER_PLUG)
            clearance = np.where(np.greater(clearance, taper), clearance, taper + SPARE_CLEARANCE)
    return _changed(container, plug=plug.model_copy(update={"depth": depth, "clearance": clearance}))


def _fit_seals(container: Container, made: set[Adaptation]) -> Container:
    lid = container.lid
    if lid is None or lid.plug is None or not lid.seals:
        return container
    deepest: Numeric = 0.0
    for seal in lid.seals:
        deepest = np.maximum(deepest, seal.depth)
    reach = annulus_depth(container)
    if not np.any(deepest > reach):
        return container
    made.add(Adaptation.RAISED_SEALS)
    share = np.minimum(reach / deepest, 1.0) * (1.0 - 1e-12)  # rounding must not take it below the reach
    return _changed(
        container,
        seals=tuple(s.model_copy(update={"depth": s.depth * share, "height": s.height * share}) for s in lid.seals),
    )


def _fit_skirt(container: Container, made: set[Adaptation]) -> Container:
    lid, body = container.lid, container.body
    if lid is None:
        return container
    most = 0.5 * outside_height(container)
    if body.neck is not None:
        inside = lid_outer_radius(container) - lid.skirt_thickness
        free = np.maximum(body.neck.length - shoulder_rise(body, body.side_width), 0.0)
        most = np.where(np.less(inside, outer_radius(container)), np.minimum(free, most), most)
    if not np.any(lid.skirt_length > most):
        return container
    made.add(Adaptation.SHORTER_SKIRT)
    return _changed(container, skirt_length=np.minimum(lid.skirt_length, most))


def _fit_openings(container: Container, made: set[Adaptation]) -> Container:
    lid = container.lid
    if lid is None or not lid.openings:
        return container
    mouth = 2.0 * container.body.mouth_radius
    if not any(np.any(hole.diameter >= mouth) for hole in lid.openings):
        return container
    made.add(Adaptation.SMALLER_HOLE)
    return _changed(
        container,
        openings=tuple(
            hole.model_copy(update={"diameter": np.where(np.less(hole.diameter, mouth), hole.diameter, 0.5 * mouth)})
            for hole in lid.openings
        ),
    )


# --- two containers -------------------------------------------------------------------------------------------


def swapped(first: Parts, second: Parts, groups: frozenset[Group]) -> Parts:
    """Return the parts of the first container for some groups, those of the second for the others."""
    return {group: (first if group in groups else second)[group] for group in OF_CONTAINER}


def differing(first: Parts, second: Parts) -> tuple[Group, ...]:
    """Return the groups whose parts are not the same; without arrays."""
    return tuple(group for group in OF_CONTAINER if _plain(first[group]) != _plain(second[group]))


def _plain(part: Any) -> Any:
    """Return a part with lengths rounded to a picometre: inside and outside dimensions give the same to rounding."""
    if hasattr(part, "model_dump"):
        return _plain(part.model_dump())
    if hasattr(part, "__dataclass_fields__"):
        return {name: _plain(getattr(part, name)) for name in part.__dataclass_fields__}
    if isinstance(part, dict):
        return {name: _plain(value) for name, value in part.items()}
    if isinstance(part, list | tuple):
        return [_plain(value) for value in part]
    return round(float(part), 12) if isinstance(part, float) else part
