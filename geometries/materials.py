"""Solids and surfaces of containers; the numbers, their spread and sources stand in materials.toml."""

import tomllib
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
    """

    name: str
    conductivity_300K: float  # noqa: N815 - K is the unit
    conductivity_slope: float
    heat_capacity: float
    density: float
    spread: float
    source: str


@dataclass(frozen=True)
class Surface:
    """A surface as a grey emitter.

    Attributes
    ----------
    emissivity, low, high : float
        Hemispherical total emissivity near 300 K, and the range met in practice. [-]
    source : str
    """

    name: str
    emissivity: float
    low: float
    high: float
    source: str


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
    return materials()[_known(name, "material")]


def surface(name: str) -> Surface:
    """Return a surface by name.

    Raises
    ------
    ValueError
        If there is none of this name; the message suggests the nearest and lists all.
    """
    return surfaces()[_known(name, "surface")]


def surface_emissivity(name: str, override: Numeric | None = None) -> Numeric:
    """Return a surface's emissivity, or the one given in its place [-].

    Raises
    ------
    ValueError
        If there is no surface of this name.
    """
    return surface(name).emissivity if override is None else override


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


def _known(name: str, kind: str) -> str:
    table = materials() if kind == "material" else surfaces()
    if name in table:
        return name
    hint = nearest_hint(name, table)
    raise ValueError(f"{shortened(name)} is not a known {kind}; {hint}allowed: {', '.join(table)}")


@dataclass(frozen=True)
class _NameField:
    kind: str

    def _read(self, name: str) -> str:
        return _known(name, self.kind)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self._read, core_schema.str_schema(strict=True))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"type": "string", "enum": list(materials() if self.kind == "material" else surfaces())}


MaterialName: TypeAlias = Annotated[str, _NameField("material")]
SurfaceName: TypeAlias = Annotated[str, _NameField("surface")]
