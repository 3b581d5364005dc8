"""The lid: layers from the bottom up, plug, seals and openings."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from geometries.body import Exterior
from geometries.errors import InputError, InputProblem
from geometries.materials import MaterialName, SurfaceName
from geometries.numeric import Numeric
from geometries.part import Part
from geometries.quantities import Emissivity, NonNegativeLength, PositiveLength


class SolidLayer(Part):
    """A disc of one material."""

    kind: Literal["solid"]
    thickness: PositiveLength
    material: MaterialName = "polypropylene"

    @property
    def height(self) -> Numeric:
        """Height it adds to the lid [m]."""
        return self.thickness


class PocketLayer(Part):
    """A space between two solid layers, with a wall around it."""

    kind: Literal["pocket"]
    depth: PositiveLength = Field(description="height of the pocket")
    filling: Literal["air", "honeycomb", "foam"] = "air"
    cell_size: PositiveLength | None = Field(None, description="width of a honeycomb's cells across flats")
    foam_material: MaterialName = "polyurethane_foam"
    lower_surface: SurfaceName = Field("plastic", description="face at the bottom of the pocket")
    upper_surface: SurfaceName = Field("plastic", description="face at the top of the pocket")
    lower_emissivity: Emissivity | None = Field(None, description="in place of that of lower_surface")
    upper_emissivity: Emissivity | None = Field(None, description="in place of that of upper_surface")

    def idle_fields(self) -> dict[str, str]:
        """Return the fields that other fillings have."""
        idle = {}
        if self.filling != "honeycomb":
            idle["cell_size"] = "only a honeycomb has cells; leave this out"
        if self.filling != "foam":
            return idle | {"foam_material": "only a foamed pocket has a foam; leave this out"}
        faces = ("lower_surface", "upper_surface", "lower_emissivity", "upper_emissivity")
        return idle | dict.fromkeys(faces, "no face radiates into foam; leave this out")

    @model_validator(mode="after")
    def _honeycomb_has_cells(self) -> Self:
        if self.filling == "honeycomb" and self.cell_size is None:
            raise InputError("a honeycomb needs its cell size, for example '6 mm'", "cell_size")
        return self

    @property
    def height(self) -> Numeric:
        """Height it adds to the lid [m]."""
        return self.depth


LidLayer = Annotated[SolidLayer | PocketLayer, Field(discriminator="kind")]


class Plug(Part):
    """The part of a lid that reaches into the neck."""

    kind: Literal["hollow", "solid", "open", "foam"] = Field(
        "hollow", description="hollow: closed, air inside; open: hollow and open to the contents"
    )
    depth: PositiveLength = Field(description="of its underside, below the mouth plane")
    clearance: PositiveLength = Field(description="between plug and neck, on the radius")
    wall_thickness: PositiveLength = Field(0.002, description="of a plug that is not solid")
    material: MaterialName = "polypropylene"
    core_material: MaterialName = Field("polyurethane_foam", description="of a foamed plug")

    def idle_fields(self) -> dict[str, str]:
        """Return the fields that other kinds of plug have."""
        idle = {}
        if self.kind != "foam":
            idle["core_material"] = "only a plug of kind 'foam' has a core; leave this out"
        if self.kind == "solid":
            idle["wall_thickness"] = "a solid plug has no wall; leave this out"
        return idle


class Seal(Part):
    """A ring that closes the clearance between plug and neck, or sits on the rim."""

    depth: NonNegativeLength = Field(description="of its centre below the mouth plane; 0 is on the rim")
    height: PositiveLength = Field(0.002, description="that touches the neck")
    material: MaterialName = "silicone_rubber"


class Hole(Part):
    """A hole through the lid."""

    kind: Literal["vent", "spout", "straw_hole"]
    diameter: PositiveLength
    length: PositiveLength | None = Field(None, description="of the hole; left out: as thick as the lid")
    closed: bool = False


class Lid(Part):
    """Everything that comes off to drink."""

    layers: tuple[LidLayer, ...] = Field(min_length=1, description="from the bottom up")
    overhang: NonNegativeLength = Field(0.0, description="beyond the lip's outer edge")
    side_thickness: PositiveLength = Field(0.002, description="of the wall around the pockets")
    skirt_length: NonNegativeLength = Field(0.0, description="that hangs down outside, around the neck")
    skirt_thickness: PositiveLength = 0.002
    exterior: Exterior = Exterior(surface="plastic")
    plug: Plug | None = None
    seals: tuple[Seal, ...] = Field((), description="left out: the lid rests on the lip and leaks")
    openings: tuple[Hole, ...] = ()

    @model_validator(mode="after")
    def _pockets_are_enclosed(self) -> Self:
        solid = [layer.kind == "solid" for layer in self.layers]
        numbers = [
            i for i, is_solid in enumerate(solid) if not is_solid and (i in (0, len(solid) - 1) or not solid[i - 1])
        ]
        if numbers:
            message = "a pocket lies between two solid layers; put a solid layer below and above it"
            raise InputError(InputProblem(message, f"layers.{i}") for i in numbers)
        return self

    @property
    def height(self) -> Numeric:
        """Height of all layers, over the mouth plane [m]."""
        total: Numeric = 0.0
        for layer in self.layers:
            total = total + layer.height
        return total
