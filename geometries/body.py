"""The body: walls, gap, neck, lip, base, and what is fixed to it.

Lengths are inside dimensions unless their name says otherwise; heights count from the inner floor up.
"""

from typing import Any, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from geometries.errors import InputProblem, refuse
from geometries.materials import MaterialName, SurfaceName
from geometries.numeric import Numeric
from geometries.part import Part, more_holds
from geometries.quantities import Emissivity, NonNegativeLength, PositiveLength, PositiveVolume, Pressure
from geometries.shapes import cylinder_volume, frustum_volume

GasName = Literal["air", "nitrogen", "argon", "krypton", "xenon", "hydrogen", "helium", "carbon_dioxide"]


class Neck(Part):
    """A straight neck narrower than the body, and the shoulder between them."""

    mouth_diameter: PositiveLength = Field(
        description="inside diameter of neck and mouth", json_schema_extra=more_holds("shorter")
    )
    length: PositiveLength = Field(description="straight neck below the mouth plane")
    shoulder_height: NonNegativeLength = Field(0.0, description="height of the cone under the neck; 0 is a flat step")


class Wall(Part):
    """One wall or two."""

    kind: Literal["double", "single"] = "double"
    material: MaterialName = Field("stainless_304", description="of the inner wall, and of the outer unless given")
    inner_thickness: PositiveLength = Field(0.0004, description="of the inner wall, or of the only one")
    outer_thickness: PositiveLength = Field(0.0004, description="of the outer wall; double walls only")
    outer_material: MaterialName | None = Field(None, description="of the outer wall, if not that of the inner")

    def idle_fields(self) -> dict[str, str]:
        """Return the fields of an outer wall that is not there."""
        outer = ("outer_thickness", "outer_material")
        return dict.fromkeys(outer, "a single wall has no outer wall; leave this out") if self.kind == "single" else {}


_FACES = {"inner_surface", "outer_surface", "inner_emissivity", "outer_emissivity"}
_OPEN_GAP = {"gas", "shields", "shield_surface", "shield_emissivity"} | _FACES
_GAP_FIELDS = {"vacuum": _OPEN_GAP | {"pressure"}, "air": _OPEN_GAP, "foam": {"foam_material"}}


def _in_place_of(surface: str) -> Any:
    """Return the field of an emissivity that is given as a number."""
    return Field(None, description=f"in place of that of {surface}", json_schema_extra=more_holds("shorter"))


class Gap(Part):
    """What is between two walls."""

    kind: Literal["vacuum", "air", "foam"] = "vacuum"
    width: PositiveLength = Field(description="between the walls, at the side")
    base_width: PositiveLength | None = Field(None, description="between the walls at the base; left out: as width")
    # A good commercial vacuum; judgement.
    pressure: Pressure = Field(0.01, description="of the gas left in a vacuum", json_schema_extra=more_holds("shorter"))
    gas: GasName = Field("air", description="gas that fills the gap or is left in its vacuum")
    inner_surface: SurfaceName = Field("stainless_polished", description="inner wall's side to the gap")
    outer_surface: SurfaceName = Field("stainless_polished", description="outer wall's side to the gap")
    inner_emissivity: Emissivity | None = _in_place_of("inner_surface")
    outer_emissivity: Emissivity | None = _in_place_of("outer_surface")
    shields: int = Field(0, ge=0, le=5, description="foils between the walls")
    shield_surface: SurfaceName = Field("copper_foil", description="both sides of each shield")
    shield_emissivity: Emissivity | None = _in_place_of("shield_surface")
    foam_material: MaterialName = Field("polyurethane_foam", description="of a foamed gap")

    def idle_fields(self) -> dict[str, str]:
        """Return the fields that gaps of other kinds have."""
        meant = {"kind", "width", "base_width"} | _GAP_FIELDS[self.kind]
        message = f"has no meaning in a gap of kind '{self.kind}'; leave this out"
        return dict.fromkeys(set(type(self).model_fields) - meant, message)


class Lip(Part):
    """Solid ring at the mouth where the two walls join."""

    thickness: PositiveLength | None = Field(None, description="axial height of the ring; left out: both walls")


class Exterior(Part):
    """A surface that faces the room."""

    surface: SurfaceName = Field("stainless_polished", description="what the room sees")
    emissivity: Emissivity | None = _in_place_of("the surface")


class BaseStand(Part):
    """How the base stands."""

    recess: NonNegativeLength = Field(0.002, description="air between base and table, under the foot ring")


class Jacket(Part):
    """An outer case around the flask."""

    thickness: PositiveLength
    material: MaterialName = "polypropylene"
    air_space: PositiveLength = Field(description="between flask and case")


class Handle(Part):
    """A bar that stands off the side."""

    material: MaterialName = "stainless_304"
    length: PositiveLength = Field(description="along the bar, end to end")
    width: PositiveLength
    thickness: PositiveLength
    attachments: int = Field(2, ge=1, le=2, description="ends that touch the body")


class Body(Part):
    """Everything but the lid."""

    inside_diameter: PositiveLength | None = Field(None, description="of the straight body, or at the top of a taper")
    outside_diameter: PositiveLength | None = Field(None, description="instead of inside_diameter; over a jacket")
    inside_base_diameter: PositiveLength | None = Field(None, description="of a tapered body at the floor")
    inside_depth: PositiveLength | None = Field(None, description="inner floor to mouth plane, lid off")
    outside_height: PositiveLength | None = Field(None, description="instead of inside_depth; table to mouth plane")
    capacity: PositiveVolume | None = Field(
        None, description="to the brim, lid off; in place of a diameter or of a depth, or to check both"
    )
    neck: Neck | None = Field(None, description="left out: the mouth is as wide as the body")
    wall: Wall = Wall()
    gap: Gap | None = Field(None, description="of a double wall")
    lip: Lip = Lip()
    exterior: Exterior = Exterior()
    base: BaseStand = BaseStand()
    jacket: Jacket | None = None
    handle: Handle | None = None

    @model_validator(mode="after")
    def _parts_agree(self) -> Self:
        problems = self._size_problems()
        if self.wall.kind == "double" and self.gap is None:
            problems.append(InputProblem("a double wall needs a gap; give its kind and width", "gap"))
        if self.wall.kind == "single" and self.gap is not None:
            problems.append(InputProblem("a single wall has no gap; leave it out, or make wall.kind 'double'", "gap"))
        refuse(problems)
        return self

    def _size_problems(self) -> list[InputProblem]:
        """Two of diameter, depth and capacity are needed; the third follows, or is checked."""
        pairs = (("inside_diameter", "outside_diameter"), ("inside_depth", "outside_height"))
        found = [[name for name in pair if getattr(self, name) is not None] for pair in pairs]
        problems = [
            InputProblem(f"give exactly one of {one} and {other}; both are given", one)
            for (one, other), given in zip(pairs, found, strict=True)
            if len(given) == 2
        ]
        missing = [pair for pair, given in zip(pairs, found, strict=True) if not given]
        if len(missing) > (self.capacity is not None):
            spare = "" if self.capacity is not None else ", or the capacity"
            problems += [
                InputProblem(f"give exactly one of {one} and {other}; neither is given{spare}", one)
                for one, other in missing
            ]
        return problems

    @property
    def inner_thickness(self) -> Numeric:
        """Thickness of the inner wall, or of the only one [m]."""
        return self.wall.inner_thickness

    @property
    def outer_thickness(self) -> Numeric:
        """Thickness of the outer wall, 0 if there is none [m]."""
        return self.wall.outer_thickness if self.gap is not None else 0.0

    @property
    def gap_width(self) -> Numeric:
        """Width of the gap at the side, 0 if there is none [m]."""
        return self.gap.width if self.gap is not None else 0.0

    @property
    def base_gap_width(self) -> Numeric:
        """Width of the gap at the base, 0 if there is none [m]."""
        if self.gap is None:
            return 0.0
        return self.gap.width if self.gap.base_width is None else self.gap.base_width

    @property
    def side_width(self) -> Numeric:
        """Inner wall, gap and outer wall at the side [m]."""
        return self.inner_thickness + self.gap_width + self.outer_thickness

    @property
    def base_width(self) -> Numeric:
        """Inner wall, gap and outer wall at the base [m]."""
        return self.inner_thickness + self.base_gap_width + self.outer_thickness

    @property
    def jacket_width(self) -> Numeric:
        """Air space and case of a jacket, 0 if there is none [m]."""
        return self.jacket.air_space + self.jacket.thickness if self.jacket is not None else 0.0

    @property
    def has_diameter(self) -> bool:
        """Whether a diameter of the body is given; else it follows from depth and capacity."""
        return self.inside_diameter is not None or self.outside_diameter is not None

    @property
    def has_depth(self) -> bool:
        """Whether depth or height is given; else it follows from diameter and capacity."""
        return self.inside_depth is not None or self.outside_height is not None

    @property
    def radius(self) -> Numeric:
        """Inside radius of the straight body, or at the top of a taper [m]."""
        if self.inside_diameter is not None:
            return 0.5 * self.inside_diameter
        if self.outside_diameter is not None:
            return 0.5 * self.outside_diameter - self.jacket_width - self.side_width
        return self._radius_of_capacity()

    @property
    def floor_radius(self) -> Numeric:
        """Inside radius at the floor [m]."""
        return self.radius if self.inside_base_diameter is None else 0.5 * self.inside_base_diameter

    @property
    def mouth_radius(self) -> Numeric:
        """Inside radius at the mouth plane [m]."""
        return self.radius if self.neck is None else 0.5 * self.neck.mouth_diameter

    @property
    def depth(self) -> Numeric:
        """Height of the mouth plane over the inner floor [m]."""
        if self.inside_depth is not None:
            return self.inside_depth
        if self.outside_height is not None:
            return self.outside_height - self.base.recess - self.jacket_width - self.base_width
        return self._depth_of_capacity()

    @property
    def _above_body(self) -> tuple[Numeric, Numeric, Numeric]:
        """Height of the shoulder, length and radius of the neck, zeros without one [m]."""
        if self.neck is None:
            return 0.0, 0.0, 0.0
        return self.neck.shoulder_height, self.neck.length, self.mouth_radius

    def _depth_of_capacity(self) -> Numeric:
        """Return the depth at which body, shoulder and neck hold the capacity [m]."""
        assert self.capacity is not None
        shoulder, neck, mouth = self._above_body
        above = frustum_volume(self.radius, mouth, shoulder) + cylinder_volume(mouth, neck)
        return (self.capacity - above) / frustum_volume(self.floor_radius, self.radius, 1.0) + shoulder + neck

    def _radius_of_capacity(self) -> Numeric:
        """Return the radius at which body, shoulder and neck hold the capacity: the root of a quadratic [m].

        Of a frustum's volume pi h (r1^2 + r1 r2 + r2^2) / 3 the share that goes with the radius, squared and plain.
        """
        assert self.capacity is not None
        shoulder, neck, mouth = self._above_body
        body = self.depth - shoulder - neck
        third = np.pi / 3.0
        floor = None if self.inside_base_diameter is None else 0.5 * self.inside_base_diameter
        square = third * (shoulder + (3.0 * body if floor is None else body))
        plain = third * (shoulder * mouth + (0.0 if floor is None else body * floor))
        rest = third * (shoulder * mouth * mouth + (0.0 if floor is None else body * floor * floor))
        wanted = np.maximum(self.capacity - rest - cylinder_volume(mouth, neck), 0.0)
        # This form of the root loses no digits, and is zero where nothing is left for the body.
        reach = plain + np.sqrt(plain * plain + 4.0 * square * wanted)
        return 2.0 * wanted / np.where(reach > 0.0, reach, 1.0)

    @property
    def lip_thickness(self) -> Numeric:
        """Axial height of the solid ring at the mouth; of a single wall, whose rim is wall too, a quarter of it [m]."""
        if self.lip.thickness is not None:
            return self.lip.thickness
        return 0.25 * self.inner_thickness if self.gap is None else self.inner_thickness + self.outer_thickness
