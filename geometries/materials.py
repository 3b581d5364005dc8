"""Solids and surfaces of containers; the numbers, their spread and sources stand in materials.toml.

A design may add its own (`geometries.own_materials`). A name of such a one carries what it means, so that whoever
holds the name needs no table.
"""

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, TypeAlias

import numpy as np
from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from geometries.errors import nearest_hint, shortened
from geometries.numeric import Numeric

COLDEST, HOTTEST = 270.0, 380.0
"""Range of the linear conductivities. [K]"""

_DATA_FILE = Path(__file__).with_name("materials.toml")


@dataclass(frozen=True)
class Material:
    """A solid.

    Attributes
    ----------
    conductivity_300K : float
        Thermal conductivity at 300 K. [W m-1 K-1]
    conductivity_slope : float
        Its change with temperature, from `COLDEST` to `HOTTEST`. [W m-1 K-2]
    heat_capacity : float
        Specific heat capacity. [J kg-1 K-1]
    density : float
        [kg m-3]
    spread : float
        Relative standard deviation of the conductivity. [-]
    source : str
    own_spread : float, optional
        The spread where a design gives it; left out, what is usual for the part that is made of it.
    """

    name: str
    conductivity_300K: float  # noqa: N815 - K is the unit
    conductivity_slope: float
    heat_capacity: float
    density: float
    spread: float
    source: str
    own_spread: float | None = None


@dataclass(frozen=True)
class Surface:
    """A surface as a grey emitter.

    Attributes
    ----------
    emissivity, low, high : float
        Hemispherical total emissivity near 300 K, and the range met in practice. [-]
    source : str
    own_spread : float, optional
        Relative standard deviation where a design gives it; left out, what is usual for the part that has it.
    """

    name: str
    emissivity: float
    low: float
    high: float
    source: str
    own_spread: float | None = None


class OwnName(str):
    """The name of a solid or surface that a design describes itself; the same only if it also means the same."""

    meaning: Material | Surface
    __slots__ = ("meaning",)

    def __new__(cls, name: str, meaning: Material | Surface) -> "OwnName":
        """Make the name of something."""
        made = super().__new__(cls, name)
        made.meaning = meaning
        return made

    def __eq__(self, other: object) -> bool:
        is_same = str.__eq__(self, other) if isinstance(other, str) else False
        return is_same and (not isinstance(other, OwnName) or self.meaning == other.meaning)

    def __ne__(self, other: object) -> bool:
        return not self == other

    __hash__ = str.__hash__

    def __reduce__(self) -> tuple[type["OwnName"], tuple[str, Material | Surface]]:
        """Keep the meaning where a name is copied or sent to another process."""
        return OwnName, (str(self), self.meaning)


@lru_cache(maxsize=1)
def _data() -> dict[str, dict[str, dict[str, Any]]]:
    return tomllib.loads(_DATA_FILE.read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def materials() -> dict[str, Material]:
    """Return all solids by name."""
    return {name: Material(name, **row) for name, row in _data()["materials"].items()}


@lru_cache(maxsize=1)
def surfaces() -> dict[str, Surface]:
    """Return all surfaces by name."""
    return {name: Surface(name, **row) for name, row in _data()["surfaces"].items()}


def material(name: str) -> Material:
    """Return a solid by name.

    Raises
    ------
    ValueError
        If there is none of this name; the message suggests the nearest and lists all.

    Examples
    --------
    >>> material("cork").conductivity_300K
    0.042
    """
    if isinstance(name, OwnName) and isinstance(name.meaning, Material):
        return name.meaning
    return materials()[_known(name, "material")]


def surface(name: str) -> Surface:
    """Return a surface by name.

    Raises
    ------
    ValueError
        If there is none of this name; the message suggests the nearest and lists all.
    """
    if isinstance(name, OwnName) and isinstance(name.meaning, Surface):
        return name.meaning
    return surfaces()[_known(name, "surface")]


def surface_emissivity(name: str, override: Numeric | None = None) -> Numeric:
    """Return a surface's emissivity, or the one given in its place [-].

    Raises
    ------
    ValueError
        If there is no surface of this name.
    """
    return surface(name).emissivity if override is None else override


def width_ratio(meant: Material | Surface, usual: float) -> float:
    """Return a design's own spread of a conductivity or emissivity over the one that is usual, 1 without one."""
    return 1.0 if meant.own_spread is None else meant.own_spread / usual


def conductivity(solid: Material, temperature: Numeric) -> Numeric:
    """Return the thermal conductivity of a solid.

    Parameters
    ----------
    solid : Material
    temperature : float or (n,) array
        Outside `COLDEST` to `HOTTEST` the value at the end of the range is returned. [K]

    Returns
    -------
    float or (n,) array
        [W m-1 K-1]

    Examples
    --------
    >>> float(conductivity(material("stainless_304"), 350.0))
    15.975
    """
    held = np.minimum(np.maximum(temperature, COLDEST), HOTTEST)
    return solid.conductivity_300K + solid.conductivity_slope * (held - 300.0)


Meanings = Mapping[str, Material | Surface | None]
"""By name; None where the description can't be read, which is told elsewhere."""

_OWN: ContextVar[dict[str, Meanings]] = ContextVar("own materials and surfaces", default={})  # noqa: B039 - not changed


@contextmanager
def own_names(own_materials: Meanings, own_surfaces: Meanings) -> Iterator[None]:
    """Let the names of a design's own solids and surfaces be read inside a `with` block."""
    token = _OWN.set({"material": own_materials, "surface": own_surfaces})
    try:
        yield
    finally:
        _OWN.reset(token)


def _known(name: str, kind: str) -> str:
    table = materials() if kind == "material" else surfaces()
    own = _OWN.get().get(kind, {})
    if name in own:
        meaning = own[name]
        return name if meaning is None else OwnName(name, meaning)
    if name in table:
        return name
    hint = nearest_hint(name, [*own, *table])
    describe = f"; or describe it under [{kind}s.{name}]" if _NAME.fullmatch(name) else ""
    raise ValueError(f"{shortened(name)} is not a known {kind}; {hint}allowed: {', '.join([*own, *table])}{describe}")


@dataclass(frozen=True)
class _NameField:
    kind: str

    def _read(self, name: Any, as_text: Callable[[Any], str]) -> str:
        return name if isinstance(name, OwnName) else _known(as_text(name), self.kind)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_wrap_validator_function(self._read, core_schema.str_schema(strict=True))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        given = list(materials() if self.kind == "material" else surfaces())
        return {"type": "string", "anyOf": [{"enum": given}, {"pattern": _NAME.pattern}]}


_NAME = re.compile(r"^[a-z][a-z0-9_]{0,59}$")

MaterialName: TypeAlias = Annotated[str, _NameField("material")]
SurfaceName: TypeAlias = Annotated[str, _NameField("surface")]
