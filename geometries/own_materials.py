"""Solids and surfaces that a design describes itself, or that a file beside it describes for several designs.

    [materials.our_titanium]
    like = "titanium"
    conductivity_at = { "20 C" = "16.1 W/(m K)", "90 C" = "16.9 W/(m K)" }
    source = "the mill's certificate"

    [surfaces.our_enamel]
    emissivity = 0.8

What is left out is as in `like`. A solid that says its emissivity is a surface of the same name too.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Annotated, Any, Generic, Self, TypeAlias, TypeVar

import numpy as np
from pydantic import AfterValidator, Field, ValidationError, model_validator

from geometries.errors import InputError, InputProblem, nearest_hint, refuse
from geometries.materials import COLDEST, HOTTEST, Material, Meanings, Surface, materials, surfaces
from geometries.part import Part
from geometries.quantities import (
    Conductivity,
    Density,
    Dimension,
    Emissivity,
    Fraction,
    HeatCapacity,
    QuantityField,
    parse_quantity,
)

REFERENCE_TEMPERATURE = 300.0
"""Of a conductivity that is given as one number. [K]"""

LARGEST_BEND = 0.05
"""By how much a conductivity at some temperature may lie off the straight line through all of them. [-]"""

USUAL_SPREAD = 0.1
"""Relative standard deviation shown for a solid or surface that gives none; judgement. [-]"""

_CONDUCTIVITY = QuantityField(Dimension.CONDUCTIVITY, above=0.0)


def _line(given: dict[str, str]) -> tuple[float, float]:
    """Return the conductivity at 300 K and its slope from values by temperature. [W m-1 K-1, W m-1 K-2]"""
    points = [(parse_quantity(t, Dimension.TEMPERATURE), _CONDUCTIVITY.read(k)) for t, k in given.items()]
    temperatures, values = np.array(sorted(points)).T
    if len(points) < 2 or len(set(temperatures)) < len(points):
        raise ValueError("needs two temperatures or more, each once; for one value write conductivity")
    outside = [t for t in temperatures if not COLDEST <= t <= HOTTEST]
    if outside:
        allowed = f"{COLDEST - 273.15:.0f} to {HOTTEST - 273.15:.0f} C"
        raise ValueError(f"{outside[0] - 273.15:.4g} C is outside of what counts here, {allowed}")
    slope, at_reference = np.polyfit(temperatures - REFERENCE_TEMPERATURE, values, 1)
    line = at_reference + slope * (temperatures - REFERENCE_TEMPERATURE)
    ends = at_reference + slope * (np.array([COLDEST, HOTTEST]) - REFERENCE_TEMPERATURE)
    if np.any(np.abs(line / values - 1.0) > LARGEST_BEND) or ends.min() <= 0.0:
        raise ValueError(f"does not lie within {LARGEST_BEND:.0%} of a straight line that stays above zero")
    return float(at_reference), float(slope)


def _checked_line(given: dict[str, str]) -> dict[str, str]:
    if given:
        _line(given)
    return given


class _Texts(dict[str, str]):
    def __hash__(self) -> int:  # type: ignore[override]
        return hash(tuple(self.items()))


ByTemperature: TypeAlias = Annotated[dict[str, str], AfterValidator(_checked_line), AfterValidator(_Texts)]


class OwnMaterial(Part):
    """A solid of one's own."""

    like: str = Field("", description="a solid that it is like in all that is left out")
    conductivity: Conductivity | None = Field(None, description="near 27 C")
    conductivity_at: ByTemperature = Field(
        _Texts(),
        description="instead of conductivity: by temperature, { '20 C' = '16.1 W/(m K)', '90 C' = '16.9 W/(m K)' }",
    )
    heat_capacity: HeatCapacity | None = None
    density: Density | None = None
    emissivity: Emissivity | None = Field(None, description="makes it a surface of the same name too")
    spread: Fraction | None = Field(None, description="of the conductivity, one standard deviation; '5 %'")
    source: str = Field("", max_length=300, description="where the numbers come from")

    @model_validator(mode="after")
    def _says_its_conductivity_once(self) -> Self:
        if self.conductivity is not None and self.conductivity_at:
            raise InputError("is given twice; leave out conductivity or conductivity_at", "conductivity")
        return self


class OwnSurface(Part):
    """A surface of one's own."""

    like: str = Field("", description="a surface that it is like in all that is left out")
    emissivity: Emissivity | None = None
    spread: Fraction | None = Field(None, description="of the emissivity, one standard deviation; '10 %'")
    source: str = Field("", max_length=300, description="where the number comes from")


Own = TypeVar("Own", bound=OwnMaterial | OwnSurface)
Meaning = TypeVar("Meaning", bound=Material | Surface)


class ByName(dict[str, Own]):
    """Descriptions by name, which are not changed, so that a container that holds them has a hash."""

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(tuple(self))


# --- what they mean -------------------------------------------------------------------------------------------------


def _solid(name: str, own: OwnMaterial, base: Material | None) -> Material:
    if own.conductivity_at:
        level, slope = _line(own.conductivity_at)
    elif own.conductivity is not None:
        level, slope = float(own.conductivity), 0.0
    elif base is not None:
        level, slope = base.conductivity_300K, base.conductivity_slope
    else:
        raise _lacks(name, "conductivity")
    heat_capacity, density = _needed(name, "heat_capacity", own, base), _needed(name, "density", own, base)
    spread, source = _own_spread(own, base), _source(own, base)
    shown = spread if spread is not None else USUAL_SPREAD if base is None else base.spread
    return Material(name, level, slope, heat_capacity, density, shown, source, spread)


def _surface(name: str, own: OwnSurface, base: Surface | None) -> Surface:
    emissivity, spread = _needed(name, "emissivity", own, base), _own_spread(own, base)
    width = USUAL_SPREAD if spread is None else spread
    low, high = emissivity * (1.0 - width), min(emissivity * (1.0 + width), 1.0)
    return Surface(name, emissivity, low, high, _source(own, base), spread)


def _needed(name: str, field: str, own: Any, base: Any) -> float:
    """Return a number of a description, or of what it is like."""
    value = getattr(own, field)
    if value is None and base is None:
        raise _lacks(name, field)
    return float(getattr(base, field) if value is None else value)


def _own_spread(own: OwnMaterial | OwnSurface, base: Material | Surface | None) -> float | None:
    if own.spread is not None:
        return float(own.spread)
    return None if base is None else base.own_spread


def _source(own: OwnMaterial | OwnSurface, base: Material | Surface | None) -> str:
    return own.source or ("" if base is None else base.source)


def _lacks(name: str, field: str) -> InputError:
    return InputError("is missing; add it, or say what it is like", f"{name}.{field}")


class _Reading(Generic[Own, Meaning]):
    """Descriptions being read, each after what it is like."""

    def __init__(
        self, own: Mapping[str, Own], given: Mapping[str, Meaning], mean: Callable[[str, Own, Meaning | None], Meaning]
    ) -> None:
        self.own, self.given, self.mean = own, given, mean
        self.found: dict[str, Meaning] = {}
        self.in_circles: set[str] = set()

    def resolved(self, name: str, way: tuple[str, ...] = ()) -> Meaning:
        """Return what a name means."""
        if name not in self.found:
            self.found[name] = self.mean(name, self.own[name], self._base(name, (*way, name)))
        return self.found[name]

    def _base(self, name: str, way: tuple[str, ...]) -> Meaning | None:
        like = self.own[name].like
        if not like:
            return None
        if like in way:
            ring = way[way.index(like) :]
            self.in_circles.update(ring)
            message = f"goes in a circle: {' is like '.join([*ring, like])}; give one of them its own numbers"
            raise InputError(message, f"{name}.like")
        if like in self.own:
            return self.resolved(like, way)
        if like not in self.given:
            allowed = [*(other for other in self.own if other != name), *self.given]
            message = f"is not known; {nearest_hint(like, allowed)}allowed: {', '.join(allowed)}"
            raise InputError(message, f"{name}.like", like)
        return self.given[like]


def _meant(
    own: Mapping[str, Own], given: Mapping[str, Meaning], mean: Callable[[str, Own, Meaning | None], Meaning]
) -> tuple[dict[str, Meaning], list[InputProblem]]:
    """Return what descriptions mean by name, and what is wrong with them."""
    reading = _Reading(own, given, mean)
    problems: dict[str, InputProblem] = {}
    for name in own:
        try:
            if name in given:
                raise InputError("is the name of a given one; take another", name)
            if name not in reading.in_circles:
                reading.resolved(name)
        except InputError as error:
            problems |= {str(problem): problem for problem in error.problems}
    return reading.found, list(problems.values())


def _all_meant(
    own: Mapping[str, Own], given: Mapping[str, Meaning], mean: Callable[[str, Own, Meaning | None], Meaning]
) -> ByName[Own]:
    problems = [*_badly_named(own), *_meant(own, given, mean)[1]]
    refuse(problems)
    return ByName(own)


def _badly_named(own: Mapping[str, Any]) -> Iterator[InputProblem]:
    for name in own:
        if not name.replace("_", "").isalnum() or not name.islower() or not name[0].isalpha() or len(name) > 60:
            message = "a name has lower case letters, digits and underscores, begins with a letter, at most 60 in all"
            yield InputProblem(message, name)


def _materials_meant(own: dict[str, OwnMaterial]) -> ByName[OwnMaterial]:
    return _all_meant(own, materials(), _solid)


def _surfaces_meant(own: dict[str, OwnSurface]) -> ByName[OwnSurface]:
    return _all_meant(own, surfaces(), _surface)


OwnMaterials: TypeAlias = Annotated[dict[str, OwnMaterial], AfterValidator(_materials_meant)]
OwnSurfaces: TypeAlias = Annotated[dict[str, OwnSurface], AfterValidator(_surfaces_meant)]


def names_told_twice(own: Mapping[str, OwnMaterial], shines: Mapping[str, OwnSurface]) -> list[InputProblem]:
    """Return the surfaces that are described twice, or that a solid with an emissivity is as well."""
    message = "is a surface already; leave its emissivity out, or take another name"
    return [
        InputProblem(message, f"materials.{name}.emissivity")
        for name, solid in own.items()
        if solid.emissivity is not None and (name in shines or name in surfaces())
    ]


def meanings(own: object, shines: object, context: Any = None) -> tuple[Meanings, Meanings]:
    """Return what a document's own names mean: solids, and surfaces.

    Parameters
    ----------
    own, shines : object
        The document's tables; what is wrong in them is left to their own fields.
    context : optional
        Of pydantic, as `geometries.validation.validated`.
    """
    solids = _read(lambda entry: OwnMaterial.model_validate(entry, context=context), own)
    faces = _read(lambda entry: OwnSurface.model_validate(entry, context=context), shines)
    shining = {
        name: OwnSurface(emissivity=solid.emissivity, spread=None, source=solid.source)
        for name, solid in solids.items()
        if solid is not None and solid.emissivity is not None and name not in faces
    }
    unread = [name for name, solid in solids.items() if solid is None]  # which may have an emissivity
    return (
        dict.fromkeys(solids) | _meant(_good(solids), materials(), _solid)[0],
        dict.fromkeys([*faces, *shining, *unread]) | _meant(_good(faces | shining), surfaces(), _surface)[0],
    )


def _read(read: Callable[[object], Own], table: object) -> dict[str, Own | None]:
    found: dict[str, Own | None] = {}
    for name, entry in table.items() if isinstance(table, Mapping) else ():
        try:
            found[str(name)] = read(entry)
        except ValidationError:
            found[str(name)] = None
    return found


def _good(found: Mapping[str, Own | None]) -> dict[str, Own]:
    return {name: own for name, own in found.items() if own is not None}
