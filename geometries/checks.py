"""Dimensions that can't be: each check holds for one design and for a batch of them alike."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import BaseModel

from geometries.body import Body, Neck
from geometries.container import (
    Container,
    annulus_depth,
    brim_capacity,
    closed_capacity,
    lid_outer_radius,
    outer_radius,
    outside_diameter,
    outside_height,
    plug_radius,
    shoulder_rise,
)
from geometries.lid import Lid, Plug, Seal
from geometries.numeric import Numeric
from geometries.quantities import quantity_fields

WIDEST, TALLEST = 1.0, 2.0
"""Largest outside diameter and height [m]: a drink container is no tank; more is a slip of the unit."""


@dataclass(frozen=True)
class DimensionProblem:
    """A dimension that can't be.

    Attributes
    ----------
    field : str
        Dotted path from the container.
    message : str
        What is wrong and what is allowed.
    mask : () or (n,) bool array
        The designs it concerns.
    """

    field: str
    message: str
    mask: NDArray[np.bool_]


def dimension_problems(container: Container) -> list[DimensionProblem]:
    """Return the dimensions of a container, or of a batch of designs, that can't be; empty if all is well."""
    checks = [*_bound_checks(container, ""), *_size_checks(container), *_body_checks(container.body)]
    checks += _capacity_checks(container)
    if container.lid is not None:
        checks += _lid_checks(container, container.lid)
    return [problem for problem in checks if problem.mask.any()]


def fill_problems(container: Container, volume: Numeric) -> list[DimensionProblem]:
    """Return what is wrong with filling in a volume [m3]; the field is "fill"."""
    brim, closed = brim_capacity(container), closed_capacity(container)
    over = np.greater(volume, brim * (1.0 + 1e-9))
    checks = [
        _problem("fill", np.less_equal(volume, 0.0), "must be above zero"),
        _problem("fill", over, f"{_ml(volume)} is beyond the brim; at most {_ml(brim)} fit"),
        _problem(
            "fill",
            ~over & np.greater(volume, closed * (1.0 + 1e-9)),
            f"{_ml(volume)} does not fit under the lid; at most {_ml(closed)} do",
        ),
    ]
    return [problem for problem in checks if problem.mask.any()]


def bound_problems(record: BaseModel) -> list[DimensionProblem]:
    """Return the quantities of a record and of those in it that are beyond the bounds of their fields.

    Validation has seen to single designs; arrays come in later.
    """
    return [problem for problem in _bound_checks(record, "") if problem.mask.any()]


def _problem(field: str, mask: ArrayLike, message: str) -> DimensionProblem:
    return DimensionProblem(field, message, np.asarray(mask, dtype=np.bool_))


def _mm(value: Numeric) -> str:
    return _span(value, 1e3, "mm")


def _ml(value: Numeric) -> str:
    return _span(value, 1e6, "mL")


def _span(value: Numeric, per_si: float, unit: str) -> str:
    low, high = float(np.min(value)) * per_si, float(np.max(value)) * per_si
    return f"{low:.4g} {unit}" if low == high else f"{low:.4g} to {high:.4g} {unit}"


def _bound_checks(record: BaseModel, path: str) -> Iterator[DimensionProblem]:
    quantities = quantity_fields(type(record))
    for name in type(record).model_fields:
        value, here = getattr(record, name), f"{path}{name}"
        if isinstance(value, BaseModel):
            yield from _bound_checks(value, f"{here}.")
        elif isinstance(value, tuple) and name in quantities:  # a table that all lanes share
            yield _problem(here, not quantities[name].allows(np.asarray(value)).all(), quantities[name].bounds_text())
        elif isinstance(value, tuple):
            for i, entry in enumerate(value):
                if isinstance(entry, BaseModel):
                    yield from _bound_checks(entry, f"{here}.{i}.")
        elif name in quantities and value is not None:
            yield _problem(here, ~quantities[name].allows(value), quantities[name].bounds_text())


def _size_checks(container: Container) -> Iterator[DimensionProblem]:
    wide, tall = outside_diameter(container), outside_height(container)
    body = container.body
    yield _problem(
        f"body.{_diameter_field(body)}",
        np.greater(wide, WIDEST),
        f"the body would be {_mm(wide)} wide; at most {_mm(WIDEST)} are allowed, check the unit",
    )
    yield _problem(
        f"body.{_depth_field(body)}",
        np.greater(tall, TALLEST),
        f"the body would be {_mm(tall)} tall; at most {_mm(TALLEST)} are allowed, check the unit",
    )


def _diameter_field(body: Body) -> str:
    given = "outside_diameter" if body.outside_diameter is not None else "capacity"
    return "inside_diameter" if body.inside_diameter is not None else given


def _depth_field(body: Body) -> str:
    given = "outside_height" if body.outside_height is not None else "capacity"
    return "inside_depth" if body.inside_depth is not None else given


CAPACITY_TOLERANCE = 0.2
"""Largest difference between the capacity given and that of the sizes: a ruler is off by a tenth at most, judgement."""


def _capacity_checks(container: Container) -> Iterator[DimensionProblem]:
    body = container.body
    if body.capacity is None or not (body.has_diameter and body.has_depth):
        return
    held = brim_capacity(container)
    yield _problem(
        "body.capacity",
        np.greater(np.abs(held - body.capacity), CAPACITY_TOLERANCE * body.capacity),
        f"{_ml(body.capacity)} is given, but the sizes hold {_ml(held)} to the brim; "
        f"check them with a ruler{_slip(body)}",
    )


def _slip(body: Body) -> str:
    """Return the likeliest slip: an inside size that was measured outside, or the other way."""
    if body.gap is None:
        return ""
    took, meant = ("inside", "outside") if body.inside_diameter is not None else ("outside", "inside")
    return f" (is the diameter the {meant} one, not the {took} one?)"


def _body_checks(body: Body) -> Iterator[DimensionProblem]:
    walls = f"walls and gap are {_mm(body.side_width)} thick on each side"
    base = f"base and its gap are {_mm(body.base_width)} thick"
    held = "" if body.capacity is None else f"; neck and shoulder alone hold more than {_ml(body.capacity)}"
    yield _problem(
        f"body.{_diameter_field(body)}",
        np.less_equal(body.radius, 0.0),
        f"no room is left inside: {walls}; make the body wider or the walls thinner"
        if body.has_diameter
        else f"no room is left for the body{held}",
    )
    yield _problem(
        f"body.{_depth_field(body)}",
        np.less_equal(body.depth, 0.0),
        f"no room is left inside: {base}; make the body taller"
        if body.has_depth
        else f"no room is left for the body{held}",
    )
    yield _problem(
        "body.wall.inner_thickness",
        np.greater_equal(body.inner_thickness, np.maximum(body.radius, 1e-9)),
        f"the wall is thicker than the inside radius, {_mm(body.radius)}",
    )
    if body.neck is not None:
        yield from _neck_checks(body, body.neck)
        return
    yield _problem(
        "body.lip.thickness",
        np.greater_equal(body.lip_thickness, body.depth),
        f"the lip can't be as thick as the inside is deep, {_mm(body.depth)}",
    )


def _neck_checks(body: Body, neck: Neck) -> Iterator[DimensionProblem]:
    yield _problem(
        "body.neck.mouth_diameter",
        np.greater(body.mouth_radius, body.radius),
        f"{_mm(neck.mouth_diameter)} is wider than the body, {_mm(2.0 * body.radius)} inside; "
        "narrow the mouth, or leave the neck out",
    )
    used = neck.length + neck.shoulder_height
    yield _problem(
        "body.neck.length",
        np.greater_equal(used, body.depth),
        f"neck and shoulder take {_mm(used)} of {_mm(body.depth)} inside depth; nothing is left for the body",
    )
    # The outer wall's shoulder stands higher than the inner one's and has to stay below the lip.
    least = body.lip_thickness + shoulder_rise(body, body.side_width)
    yield _problem(
        "body.neck.length",
        np.less_equal(neck.length, least),
        f"{_mm(neck.length)} leaves no neck outside: lip and outer shoulder take {_mm(least)}; make the neck longer",
    )


def _lid_checks(container: Container, lid: Lid) -> Iterator[DimensionProblem]:
    radius = lid_outer_radius(container)
    yield _problem(
        "lid.side_thickness",
        np.greater_equal(lid.side_thickness, radius),
        f"leaves no pocket in a lid of {_mm(radius)} radius",
    )
    yield from _skirt_checks(container, lid)
    if lid.plug is not None:
        yield from _plug_checks(container, lid.plug)
    for i, seal in enumerate(lid.seals):
        yield from _seal_checks(container, lid, i, seal)
    for i, opening in enumerate(lid.openings):
        mouth = 2.0 * container.body.mouth_radius
        yield _problem(
            f"lid.openings.{i}.diameter",
            np.greater_equal(opening.diameter, mouth),
            f"{_mm(opening.diameter)} is as wide as the mouth, {_mm(mouth)}, or wider; make it smaller",
        )


def _skirt_checks(container: Container, lid: Lid) -> Iterator[DimensionProblem]:
    body, hangs = container.body, np.greater(lid.skirt_length, 0.0)
    yield _problem(
        "lid.overhang",
        hangs & np.less(lid.overhang, lid.skirt_thickness),
        f"a skirt {_mm(lid.skirt_thickness)} thick hangs outside the lip; make the overhang at least as much",
    )
    yield _problem(
        "lid.skirt_length",
        np.greater_equal(lid.skirt_length, outside_height(container)),
        f"the skirt is longer than the container is tall, {_mm(outside_height(container))}",
    )
    if body.neck is None:
        return
    free = body.neck.length - shoulder_rise(body, body.side_width)
    inside = lid_outer_radius(container) - lid.skirt_thickness
    yield _problem(
        "lid.skirt_length",
        np.greater(lid.skirt_length, free) & np.less(inside, outer_radius(container)),
        f"{_mm(lid.skirt_length)} reaches the shoulder; the neck is {_mm(free)} long outside",
    )


def _plug_checks(container: Container, plug: Plug) -> Iterator[DimensionProblem]:
    body, radius = container.body, plug_radius(container)
    hollow = plug.wall_thickness if plug.kind != "solid" else 0.0
    yield _problem(
        "lid.plug.clearance",
        np.less_equal(radius, hollow),
        f"leaves no plug in a mouth of {_mm(2.0 * body.mouth_radius)}; make clearance or plug wall smaller",
    )
    yield _problem(
        "lid.plug.depth",
        np.greater_equal(plug.depth, body.depth),
        f"the plug is longer than the inside is deep, {_mm(body.depth)}; shorten it",
    )
    floor = plug.wall_thickness if plug.kind in ("hollow", "foam") else 0.0
    yield _problem(
        "lid.plug.depth",
        np.less_equal(plug.depth, floor),
        f"must be more than the plug's floor, {_mm(floor)}",
    )
    if body.neck is None:
        inside = np.where(np.greater(body.depth, 0.0), body.depth, 1.0)
        at_foot = body.radius - (body.radius - body.floor_radius) * plug.depth / inside
        yield _problem(
            "lid.plug.depth",
            np.greater_equal(radius, at_foot) & np.less(plug.depth, body.depth),
            f"the plug's foot touches the tapered wall, {_mm(at_foot)} radius there; shorten it or widen the clearance",
        )


def _seal_checks(container: Container, lid: Lid, i: int, seal: Seal) -> Iterator[DimensionProblem]:
    field = f"lid.seals.{i}.depth"
    if lid.plug is None:
        message = "a seal below the rim sits on a plug; give lid.plug, or depth '0 mm' for a seal on the rim"
        yield _problem(field, np.greater(seal.depth, 0.0), message)
        return
    reach = annulus_depth(container)
    yield _problem(
        field,
        np.greater(seal.depth, reach),
        f"{_mm(seal.depth)} is deeper than plug and neck reach, {_mm(reach)}; raise the seal or lengthen the plug",
    )
    for j, other in enumerate(lid.seals[:i]):
        apart, needed = np.abs(seal.depth - other.depth), 0.5 * (seal.height + other.height)
        yield _problem(
            field, np.less(apart, needed), f"the seal overlaps seal {j}; put them {_mm(needed)} apart or more"
        )
