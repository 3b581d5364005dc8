"""A container: body and lid, and the dimensions that follow from those given.

Every function here also takes containers whose leaves are (n,) arrays, a batch of designs, and then returns
arrays. Heights count from the inner floor up.
"""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Self, TypeAlias

import numpy as np
from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)
from pydantic.functional_validators import ModelWrapValidatorHandler

from geometries.body import Body
from geometries.display import Displayed, Listing, shown
from geometries.errors import InputProblem, refuse
from geometries.lid import Hole, Lid, Plug, PocketLayer, SolidLayer
from geometries.materials import material, own_names
from geometries.numeric import Numeric
from geometries.own_materials import ByName, OwnMaterials, OwnSurfaces, meanings, names_told_twice
from geometries.part import Part
from geometries.shapes import (
    Profile,
    annulus_area,
    arc_length,
    area_below,
    circle_area,
    height_of_volume,
    slant_length,
    volume_below_height,
)


def _pairs(value: object) -> object:
    return tuple((path, text) for path, text in value.items()) if isinstance(value, Mapping) else value


RangesByPath: TypeAlias = Annotated[
    tuple[tuple[str, str], ...],
    BeforeValidator(_pairs),
    PlainSerializer(dict),
    WithJsonSchema({"type": "object", "additionalProperties": {"type": "string"}}),
]
"""A table of texts, kept as pairs so that a container can be hashed."""


class Container(Displayed, Part):
    """An insulated drink container."""

    name: str = Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60, description="snake_case")
    title: str = Field(
        "", max_length=60, pattern=r"^[^\x00-\x1f\x7f]*$", description="what people call it; left out: the name"
    )
    summary: str = Field("", max_length=300, description="what it is, in plain words")
    body: Body
    lid: Lid | None = Field(None, description="left out: an open cup")
    unsure: RangesByPath = Field((), description="dimensions that were not measured: path to range, '3..6 mm'")
    materials: OwnMaterials = Field(default_factory=ByName, description="solids of one's own, by name")
    surfaces: OwnSurfaces = Field(default_factory=ByName, description="surfaces of one's own, by name")

    @model_validator(mode="wrap")
    @classmethod
    def _knows_its_own_names(cls, given: Any, handler: ModelWrapValidatorHandler[Self], info: ValidationInfo) -> Self:
        if not isinstance(given, Mapping) or not {"materials", "surfaces"} & given.keys():
            return handler(given)
        with own_names(*meanings(given.get("materials"), given.get("surfaces"), info.context)):
            return handler(given)

    @model_validator(mode="after")
    def _names_are_told_once(self) -> Self:
        refuse(names_told_twice(self.materials, self.surfaces))
        return self

    @model_validator(mode="after")
    def _dimensions_fit(self) -> Self:
        # The checks measure containers, so they stand above this module.
        from geometries.checks import dimension_problems
        from geometries.unsure import unsure_ranges

        refuse(InputProblem(p.message, p.field) for p in dimension_problems(self))
        if self.unsure:
            unsure_ranges(self)
        return self

    @property
    def plug(self) -> Plug | None:
        """The part of the lid that reaches into the neck."""
        return None if self.lid is None else self.lid.plug

    @property
    def called(self) -> str:
        """What people call it: its title, or its name with blanks."""
        plain = self.name.replace("_", " ")
        return self.title or f"{plain[:1].upper()}{plain[1:]}"

    def _line(self) -> str:
        return f"{self.name}: {shown(closed_capacity(self), 'mL')} under the lid"

    def _tables(self) -> Iterator[Listing]:
        body, lid, plug = self.body, self.lid, self.plug
        yield Listing(
            self.summary,
            [
                ("under the lid", shown(closed_capacity(self), "mL")),
                ("to the brim", shown(brim_capacity(self), "mL")),
                ("mouth", shown(2.0 * body.mouth_radius, "mm")),
                ("outside diameter", shown(outside_diameter(self), "mm")),
                ("height with lid", shown(total_height(self), "mm")),
                ("wall", f"{body.wall.kind}, {body.wall.material}"),
                ("gap", "none" if body.gap is None else f"{body.gap.kind}, {shown(body.gap.width, 'mm')}"),
                ("lid", "none" if lid is None else f"{len(lid.layers)} layers, {shown(lid.height, 'mm')} high"),
                ("plug", "none" if plug is None else f"{plug.kind}, {shown(plug.depth, 'mm')} deep"),
                ("seals", "none" if lid is None else ", ".join(shown(s.depth, "mm") for s in lid.seals) or "none"),
                ("mass", shown(empty_mass(self), "g")),
            ],
        )


# --- walls --------------------------------------------------------------------------------------------------


def inner_profile(container: Container) -> Profile:
    """Return the inside of the side wall, from the floor's corner to the underside of the lip.

    One segment without a neck; body, shoulder and neck with one. A segment of the other profiles faces the
    segment of the same number.
    """
    return offset_profile(container.body, 0.0, 0.0)


def gap_side_profile(container: Container) -> Profile:
    """Return the inner wall's side to the gap (of a single wall its outside), as `inner_profile`."""
    thickness = container.body.inner_thickness
    return offset_profile(container.body, thickness, thickness)


def outer_shell_inside_profile(container: Container) -> Profile:
    """Return the outer wall's side to the gap (of a single wall its outside), as `inner_profile`."""
    body = container.body
    return offset_profile(body, body.side_width - body.outer_thickness, body.base_width - body.outer_thickness)


def outer_profile(container: Container) -> Profile:
    """Return the outside of the outermost wall, from the base's corner up, as `inner_profile`; no jacket."""
    return offset_profile(container.body, container.body.side_width, container.body.base_width)


def offset_profile(body: Body, side: Numeric, base: Numeric) -> Profile:
    """Return the inside moved outwards: by `side` off walls and shoulder, its lower end down by `base`."""
    top, foot = body.depth - body.lip_thickness, body.floor_radius + side
    if body.neck is None:
        radius = body.floor_radius + (body.radius - body.floor_radius) * top / body.depth
        return Profile(radii=(foot, radius + side), heights=(-base, top))
    neck = body.neck
    shoulder = body.depth - neck.length - neck.shoulder_height + shoulder_rise(body, side)
    return Profile(
        radii=(foot, body.radius + side, body.mouth_radius + side, body.mouth_radius + side),
        heights=(-base, shoulder, shoulder + neck.shoulder_height, top),
    )


def shoulder_rise(body: Body, side: Numeric) -> Numeric:
    """Return how much higher a shoulder lies when it is moved outwards by `side`; 0 without a neck [m].

    Offset lines of an upright wall and of a cone meet at side x tan(half their angle).
    """
    if body.neck is None:
        return 0.0
    step, rise = body.radius - body.mouth_radius, body.neck.shoulder_height
    reach = np.abs(slant_length(0.0, step, rise)) + rise
    return side * step / np.where(reach > 0.0, reach, 1.0)


def cavity_profile(container: Container) -> Profile:
    """Return the inside up to the mouth plane, lip included."""
    body = container.body
    if body.neck is None:
        return Profile(radii=(body.floor_radius, body.radius), heights=(0.0, body.depth))
    shoulder = body.depth - body.neck.length - body.neck.shoulder_height
    return Profile(
        radii=(body.floor_radius, body.radius, body.mouth_radius, body.mouth_radius),
        heights=(0.0, shoulder, shoulder + body.neck.shoulder_height, body.depth),
    )


def gap_side_base_radius(container: Container) -> Numeric:
    """Return the radius of the floor's side to the gap [m]."""
    return container.body.floor_radius + container.body.inner_thickness


def outer_base_radius(container: Container) -> Numeric:
    """Return the radius of the outermost wall at the base, without a jacket [m]."""
    return container.body.floor_radius + container.body.side_width


def outer_radius(container: Container) -> Numeric:
    """Return the radius of the outermost wall, of a taper at its top, without a jacket [m]."""
    return container.body.radius + container.body.side_width


def outside_diameter(container: Container) -> Numeric:
    """Return the largest diameter of the body, jacket included [m]."""
    base = outer_base_radius(container)
    return 2.0 * (np.maximum(outer_radius(container), base) + container.body.jacket_width)


def outside_height(container: Container) -> Numeric:
    """Return the height from the table to the mouth plane [m]."""
    body = container.body
    return body.base.recess + body.jacket_width + body.base_width + body.depth


# --- lid ----------------------------------------------------------------------------------------------------


def lid_outer_radius(container: Container) -> Numeric:
    """Return the radius of the lid, 0 for an open cup [m]."""
    if container.lid is None:
        return 0.0
    return container.body.mouth_radius + container.body.side_width + container.lid.overhang


def pocket_radius(container: Container) -> Numeric:
    """Return the radius of the lid's pockets; without one, that of the middle of the lip [m]."""
    lid, middle = container.lid, container.body.mouth_radius + 0.5 * container.body.side_width
    if lid is None or not any(isinstance(layer, PocketLayer) for layer in lid.layers):
        return middle
    return lid_outer_radius(container) - lid.side_thickness


def lid_height(container: Container) -> Numeric:
    """Return the height of the lid over the mouth plane, 0 for an open cup [m]."""
    return 0.0 if container.lid is None else container.lid.height


def total_height(container: Container) -> Numeric:
    """Return the height from the table to the lid's top [m]."""
    return outside_height(container) + lid_height(container)


def opening_length(container: Container, opening: Hole) -> Numeric:
    """Return the length of a hole through the lid: its own, or the lid's height [m]."""
    return lid_height(container) if opening.length is None else opening.length


def plug_radius(container: Container) -> Numeric:
    """Return the outside radius of the plug, 0 if there is none [m]."""
    return 0.0 if container.plug is None else container.body.mouth_radius - container.plug.clearance


def annulus_depth(container: Container) -> Numeric:
    """Return how deep the clearance around the plug reaches below the mouth plane, 0 without a plug [m].

    It ends with the plug or with the neck, whichever is shorter.
    """
    plug, neck = container.plug, container.body.neck
    if plug is None:
        return 0.0
    return plug.depth if neck is None else np.minimum(plug.depth, neck.length)


# --- contents -----------------------------------------------------------------------------------------------


def brim_capacity(container: Container) -> Numeric:
    """Return the volume up to the mouth plane, lid off [m3]."""
    return volume_below_height(cavity_profile(container), container.body.depth)


def closing_height(container: Container) -> Numeric:
    """Return the height of what closes the headspace: a closed plug's underside, else the mouth plane [m]."""
    plug, depth = container.plug, container.body.depth
    return depth if plug is None or plug.kind == "open" else depth - plug.depth


def closed_capacity(container: Container) -> Numeric:
    """Return the volume that fits under the lid.

    Up to the underside of a closed plug; an open plug takes only the room of its wall [m3].
    """
    return capacity_below(container, 0.0)


def capacity_below(container: Container, air: Numeric) -> Numeric:
    """Return the volume that leaves some air under the lid.

    Parameters
    ----------
    container : Container
    air : float or (n,) array
        Depth of the air under a closed plug, else under the mouth plane; at most a tenth of the depth inside. [m]

    Returns
    -------
    float or (n,) array
        [m3]
    """
    closing = closing_height(container)
    left = np.minimum(air, MOST_AIR_SHARE * closing)
    held = volume_below_height(cavity_profile(container), closing - left)
    plug = container.plug
    if plug is None or plug.kind != "open":
        return held
    radius = plug_radius(container)
    dipping = np.maximum(plug.depth - left, 0.0)
    return held - annulus_area(radius - plug.wall_thickness, radius) * dipping


MOST_AIR_SHARE = 0.1
"""Of the depth inside that stays air at most in a container called full, however shallow [-]."""


def fill_height(container: Container, volume: Numeric) -> Numeric:
    """Return how high a volume stands over the inner floor.

    Parameters
    ----------
    container : Container
    volume : float or (n,) array
        Up to the brim; more counts as the brim. [m3]

    Returns
    -------
    float or (n,) array
        [m]
    """
    return height_of_volume(cavity_profile(container), volume)


def headspace_depth(container: Container, volume: Numeric) -> Numeric:
    """Return the depth of air between liquid and lid, 0 if it is full [m]."""
    return np.maximum(closing_height(container) - fill_height(container, volume), 0.0)


# --- masses -------------------------------------------------------------------------------------------------


def wall_mass(container: Container) -> Numeric:
    """Return the mass of walls and lip; shields are neglected [kg]."""
    body = container.body
    inner = material(body.wall.material)
    outer = material(body.wall.outer_material or body.wall.material)
    half = 0.5 * body.inner_thickness
    inner_area = _side_area(offset_profile(body, half, 0.0)) + circle_area(gap_side_base_radius(container))
    lip = annulus_area(body.mouth_radius, body.mouth_radius + body.side_width) * body.lip_thickness
    mass = (inner_area * body.inner_thickness + lip) * inner.density
    if body.gap is None:
        return mass
    middle = offset_profile(body, body.side_width - 0.5 * body.outer_thickness, body.base_width - body.outer_thickness)
    outer_area = _side_area(middle) + circle_area(outer_base_radius(container))
    return mass + outer_area * body.outer_thickness * outer.density


def _side_area(profile: Profile) -> Numeric:
    return area_below(profile, arc_length(profile))


def fittings_mass(container: Container) -> Numeric:
    """Return the mass of a gap's foam, of jacket and handle [kg]."""
    body = container.body
    mass: Numeric = 0.0
    if body.gap is not None and body.gap.kind == "foam":
        inner, outer = gap_side_profile(container), outer_shell_inside_profile(container)
        side, base = (
            0.5 * (of(inner) + of(outer)) for of in (_side_area, lambda profile: circle_area(profile.radii[0]))
        )
        volume = side * body.gap_width + base * body.base_gap_width
        mass = mass + volume * material(body.gap.foam_material).density
    if body.jacket is not None:
        case = body.side_width + body.jacket_width
        area = _side_area(offset_profile(body, case, body.base_width + body.jacket_width))
        area = area + circle_area(body.floor_radius + case)
        mass = mass + area * body.jacket.thickness * material(body.jacket.material).density
    if body.handle is not None:
        handle = body.handle
        mass = mass + handle.length * handle.width * handle.thickness * material(handle.material).density
    return mass


def lid_mass(container: Container) -> Numeric:
    """Return the mass of the lid; a honeycomb's webs and the openings are neglected [kg].

    Pocket walls are of the material of the layer below, the skirt of that of the lowest.
    """
    lid = container.lid
    if lid is None:
        return 0.0
    radius, mass = lid_outer_radius(container), _plug_mass(container)
    below = lid.layers[0]
    assert isinstance(below, SolidLayer)
    skirt = annulus_area(radius - lid.skirt_thickness, radius) * lid.skirt_length
    mass = mass + skirt * material(below.material).density
    for layer in lid.layers:
        if isinstance(layer, PocketLayer):
            mass = mass + _pocket_mass(layer, below, radius, radius - lid.side_thickness)
        else:
            mass = mass + circle_area(radius) * layer.thickness * material(layer.material).density
            below = layer
    return mass


def _pocket_mass(layer: PocketLayer, below: SolidLayer, radius: Numeric, pocket_radius: Numeric) -> Numeric:
    wall = annulus_area(pocket_radius, radius) * material(below.material).density
    filling = material(layer.foam_material).density if layer.filling == "foam" else 0.0
    return layer.depth * (wall + circle_area(pocket_radius) * filling)


def _plug_mass(container: Container) -> Numeric:
    lid = container.lid
    if lid is None or lid.plug is None:
        return 0.0
    plug, radius = lid.plug, plug_radius(container)
    density = material(plug.material).density
    seals = sum(seal.height * material(seal.material).density for seal in lid.seals)
    ring = annulus_area(radius, container.body.mouth_radius) * seals
    if plug.kind == "solid":
        return ring + circle_area(radius) * plug.depth * density
    core = radius - plug.wall_thickness
    wall = annulus_area(core, radius) * plug.depth * density
    if plug.kind == "open":
        return ring + wall
    floor = circle_area(core) * plug.wall_thickness * density
    filling = material(plug.core_material).density if plug.kind == "foam" else 0.0
    return ring + wall + floor + circle_area(core) * (plug.depth - plug.wall_thickness) * filling


def empty_mass(container: Container) -> Numeric:
    """Return the mass of the empty container with its lid [kg]."""
    return wall_mass(container) + fittings_mass(container) + lid_mass(container)
