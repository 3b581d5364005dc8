"""Units at the edge: "48 mm" or "165 F" comes in, an SI float goes on.

The common spellings stand in a table, because building a pint registry takes longer than the whole rest of a
command; every other unit is left to pint. The table's factors and the numbers read are exact fractions until
the very end, so that "48 mm" is 0.048 and "-40 C" is 233.15 to the last bit.
"""

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction as Exact
from functools import lru_cache
from numbers import Real
from typing import Annotated, Any, TypeAlias, get_args

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from geometries.errors import nearest_hint, shortened
from geometries.numeric import Numeric


class Dimension(Enum):
    """What a quantity measures; the value is its name in messages."""

    LENGTH = "a length"
    AREA = "an area"
    VOLUME = "a volume"
    MASS = "a mass"
    DURATION = "a duration"
    TEMPERATURE = "a temperature"
    TEMPERATURE_DIFFERENCE = "a temperature difference"
    PRESSURE = "a pressure"
    CONDUCTIVITY = "a thermal conductivity"
    CONDUCTANCE = "a heat transfer coefficient"
    HEAT_LOSS_COEFFICIENT = "a heat loss coefficient"
    THERMAL_RESISTANCE = "a thermal resistance"
    POWER = "a power"
    SPEED = "a speed"
    IRRADIANCE = "an irradiance"
    DENSITY = "a density"
    HEAT_CAPACITY = "a specific heat capacity"
    FRACTION = "a fraction"


@dataclass(frozen=True)
class Unit:
    """A unit of the table: SI value = number x factor + offset.

    Attributes
    ----------
    symbol : str
        Spelling shown in messages.
    factor, offset : Exact
        By definition of the unit.
    pint_name : str
        What pint calls it; the tests hold the factor to pint.
    spellings : tuple of str
        Further accepted spellings, without spaces, in the case shown.
    """

    symbol: str
    factor: Exact
    pint_name: str
    spellings: tuple[str, ...] = ()
    offset: Exact = Exact(0)


def _unit(
    symbol: str, factor: str | int | Exact, pint_name: str, spellings: str = "", offset: str | Exact = "0"
) -> Unit:
    return Unit(symbol, Exact(factor), pint_name, tuple(spellings.split()), Exact(offset))


# Exact by definition: inch 25.4 mm, US gallon 231 in3 = 128 fl oz, imperial gallon 4.54609 L = 160 fl oz,
# pound 0.45359237 kg, standard atmosphere 101325 Pa = 760 torr, degree Fahrenheit 5/9 K.
_INCH, _POUND, _ATMOSPHERE = Exact("0.0254"), Exact("0.45359237"), Exact(101325)
_US_FLUID_OUNCE = 231 * _INCH**3 / 128

UNITS: dict[Dimension, tuple[Unit, ...]] = {
    Dimension.LENGTH: (
        _unit("mm", "1e-3", "mm", "millimetre millimetres millimeter millimeters"),
        _unit("cm", "1e-2", "cm", "centimetre centimetres centimeter centimeters"),
        _unit("m", 1, "m", "metre metres meter meters"),
        _unit("um", "1e-6", "um", "µm micron microns micrometre micrometres micrometer micrometers"),
        _unit("in", _INCH, "inch", 'inch inches " ″'),
        _unit("ft", 12 * _INCH, "foot", "foot feet"),
    ),
    Dimension.AREA: (
        _unit("cm2", "1e-4", "cm**2"),
        _unit("mm2", "1e-6", "mm**2"),
        _unit("m2", 1, "m**2"),
        _unit("in2", _INCH**2, "inch**2"),
    ),
    Dimension.VOLUME: (
        _unit("mL", "1e-6", "mL", "ml millilitre millilitres milliliter milliliters cc cm3"),
        _unit("L", "1e-3", "L", "l litre litres liter liters dm3"),
        _unit("cL", "1e-5", "cL", "cl centilitre centilitres centiliter centiliters"),
        _unit("dL", "1e-4", "dL", "dl decilitre decilitres deciliter deciliters"),
        _unit("floz", _US_FLUID_OUNCE, "US_fluid_ounce", "fl.oz. fl.oz fl_oz fluidounce fluidounces us_floz"),
        _unit("imp_floz", Exact("4.54609e-3") / 160, "imperial_fluid_ounce", "impfloz impfl.oz imperialfloz"),
        _unit("m3", 1, "m**3"),
    ),
    Dimension.MASS: (
        _unit("g", "1e-3", "g", "gram grams gramme grammes"),
        _unit("kg", 1, "kg", "kilogram kilograms"),
        _unit("oz", _POUND / 16, "ounce", "ounce ounces"),
        _unit("lb", _POUND, "pound", "lbs pound pounds"),
    ),
    Dimension.DURATION: (
        _unit("min", 60, "minute", "mins minute minutes"),
        _unit("h", 3600, "hour", "hr hrs hour hours"),
        _unit("s", 1, "second", "sec secs second seconds"),
        _unit("d", 86400, "day", "day days"),
    ),
    Dimension.TEMPERATURE: (
        _unit("C", 1, "degC", "degC celsius Celsius deg_C", "273.15"),
        _unit("F", Exact(5, 9), "degF", "degF fahrenheit Fahrenheit deg_F", Exact("459.67") * 5 / 9),
        _unit("K", 1, "K", "kelvin Kelvin"),
    ),
    Dimension.TEMPERATURE_DIFFERENCE: (
        _unit("K", 1, "K", "kelvin Kelvin"),
        _unit("C", 1, "delta_degC", "delta_degC degC celsius Celsius"),
        _unit("F", Exact(5, 9), "delta_degF", "delta_degF degF fahrenheit Fahrenheit"),
    ),
    Dimension.PRESSURE: (
        _unit("Pa", 1, "Pa", "pascal"),
        _unit("mbar", 100, "mbar"),
        _unit("bar", 100000, "bar"),
        _unit("hPa", 100, "hPa"),
        _unit("kPa", 1000, "kPa"),
        _unit("torr", _ATMOSPHERE / 760, "torr", "Torr"),
        _unit("mtorr", _ATMOSPHERE / 760000, "mtorr", "mTorr"),
        _unit("atm", _ATMOSPHERE, "atm"),
    ),
    Dimension.CONDUCTIVITY: (
        _unit("W/(m K)", 1, "W/m/K", "W/(mK) W/mK W/m/K Wm-1K-1"),
        _unit("mW/(m K)", "1e-3", "mW/m/K", "mW/(mK) mW/mK mW/m/K"),
    ),
    Dimension.CONDUCTANCE: (_unit("W/(m2 K)", 1, "W/m**2/K", "W/(m2K) W/m2K W/m2/K Wm-2K-1"),),
    Dimension.HEAT_LOSS_COEFFICIENT: (
        _unit("W/K", 1, "W/K", "WK-1"),
        _unit("mW/K", "1e-3", "mW/K"),
    ),
    Dimension.THERMAL_RESISTANCE: (_unit("K/W", 1, "K/W", "C/W KW-1"),),
    Dimension.POWER: (
        _unit("W", 1, "W", "watt watts"),
        _unit("mW", "1e-3", "mW"),
        _unit("kW", 1000, "kW"),
    ),
    Dimension.SPEED: (
        _unit("m/s", 1, "m/s", "ms-1"),
        _unit("km/h", Exact(10, 36), "km/hour", "kmh kph"),
        _unit("mph", Exact("1609.344") / 3600, "mile/hour"),
        _unit("kn", Exact(1852, 3600), "knot", "knot knots"),
        _unit("cm/s", "1e-2", "cm/s"),
    ),
    Dimension.IRRADIANCE: (
        _unit("W/m2", 1, "W/m**2", "Wm-2"),
        _unit("kW/m2", 1000, "kW/m**2"),
    ),
    Dimension.DENSITY: (
        _unit("kg/m3", 1, "kg/m**3", "kgm-3"),
        _unit("g/cm3", 1000, "g/cm**3", "g/mL g/ml kg/L kg/l"),
    ),
    Dimension.HEAT_CAPACITY: (
        _unit("J/(kg K)", 1, "J/kg/K", "J/(kgK) J/kgK J/kg/K Jkg-1K-1"),
        _unit("kJ/(kg K)", 1000, "kJ/kg/K", "kJ/(kgK) kJ/kgK kJ/kg/K"),
    ),
    Dimension.FRACTION: (
        _unit("", 1, "dimensionless"),
        _unit("%", "1e-2", "percent", "percent"),
    ),
}
"""The common units; the first of each dimension is the one shown as an example."""

_EXAMPLES = {
    Dimension.LENGTH: "48 mm",
    Dimension.VOLUME: "473 mL",
    Dimension.DURATION: "6 h",
    Dimension.TEMPERATURE: "74 C",
    Dimension.PRESSURE: "0.01 Pa",
    Dimension.CONDUCTIVITY: "0.2 W/(m K)",
    Dimension.FRACTION: "0.5",
}


def example(dimension: Dimension) -> str:
    """Return a quantity as a user would write it.

    Examples
    --------
    >>> example(Dimension.LENGTH)
    '48 mm'
    """
    return _EXAMPLES.get(dimension, f"10 {UNITS[dimension][0].symbol}")


# Here a capital letter changes nothing; elsewhere it does, as in mW and MW.
_ANY_CASE = (
    Dimension.LENGTH,
    Dimension.VOLUME,
    Dimension.MASS,
    Dimension.DURATION,
    Dimension.TEMPERATURE,
    Dimension.TEMPERATURE_DIFFERENCE,
)


@lru_cache(maxsize=1)
def _table() -> dict[Dimension, dict[str, Unit]]:
    table = {d: {_squeezed(s): u for u in units for s in (u.symbol, *u.spellings)} for d, units in UNITS.items()}
    for dimension in _ANY_CASE:
        table[dimension] |= {spelling.lower(): unit for spelling, unit in table[dimension].items()}
    return table


def _find(unit: str, dimension: Dimension) -> Unit | None:
    squeezed, table = _squeezed(unit), _table()[dimension]
    return table.get(squeezed) or (table.get(squeezed.lower()) if dimension in _ANY_CASE else None)


_SAME_SIGN = str.maketrans({"μ": "µ", "−": "-", "²": "2", "³": "3", "⁻": "-", "¹": "1", "·": " ", "⋅": " ", "×": " "})


def _tidy(text: str) -> str:
    """Return the text with look-alike characters made one and the degree sign written out."""
    return re.sub(r"°\s*", "deg", text.translate(_SAME_SIGN)).replace("º", "deg").strip()


def _squeezed(unit: str) -> str:
    """Return the spelling under which the table keeps a unit: no spaces, powers as plain digits."""
    return re.sub(r"\s+|\^|\*", "", unit)


_DECIMAL = r"(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?(?![\d.])"
_NUMBER = re.compile(rf"\s*([+-]?)\s*(?:(\d+)\s+(\d+\s*/\s*\d+)|(\d+\s*/\s*\d+)|({_DECIMAL}))\s*")
_DECIMAL_COMMA = re.compile(r"\d,\d")
_CLOCK = re.compile(rf"(?:{_DECIMAL}\s*[A-Za-z]+\s*){{2,4}}")
_CLOCK_PART = re.compile(rf"({_DECIMAL})\s*([A-Za-z]+)")
_LONGEST_TEXT = 200


def parse_quantity(text: str, dimension: Dimension) -> float:
    """Read a number with its unit.

    Parameters
    ----------
    text : str
        For example "48 mm", "1 7/8 in", "16 floz", "165 F", "1h30min".
    dimension : Dimension
        What it has to be; a fluid ounce is the US one unless written "imp_floz".

    Returns
    -------
    float
        In SI units; temperatures in kelvin, absolute.

    Raises
    ------
    ValueError
        If there is no number, no unit, an unknown unit, a unit of something else, a decimal comma, a number
        that is not finite, or a temperature below absolute zero.

    Examples
    --------
    >>> parse_quantity("1 7/8 in", Dimension.LENGTH)
    0.047625
    >>> round(parse_quantity("165 F", Dimension.TEMPERATURE), 2)
    347.04
    >>> parse_quantity("1h30min", Dimension.DURATION)
    5400.0
    """
    if len(text) > _LONGEST_TEXT:
        raise ValueError(f"{shortened(text)} is too long; write for example '{example(dimension)}'")
    tidy = _tidy(text)
    if _DECIMAL_COMMA.search(tidy):
        point = re.sub(r"(?<=\d),(?=\d)", ".", text.strip())[:40]
        raise ValueError(f"{shortened(text)} has a comma; write a decimal point, as in '{point}', no thousands mark")
    if dimension is Dimension.DURATION and _CLOCK.fullmatch(tidy):
        return sum(_to_si(Exact(n), u, dimension, text) for n, u in _CLOCK_PART.findall(tidy))
    match = _NUMBER.match(tidy)
    if match is None:
        raise ValueError(f"{shortened(text)} does not start with a number; write for example '{example(dimension)}'")
    return _to_si(_number(match, text), tidy[match.end() :], dimension, text)


def _number(match: re.Match[str], text: str) -> Exact:
    sign, whole, part, only_part, decimal = match.groups()
    try:
        value = Exact(decimal) if decimal else Exact(whole or 0) + Exact(re.sub(r"\s", "", part or only_part))
    except ZeroDivisionError:
        raise ValueError(f"{shortened(text)} divides by zero") from None
    return -value if sign == "-" else value


def _to_si(value: Exact, unit: str, dimension: Dimension, text: str) -> float:
    known = _find(unit, dimension)
    if known is not None:
        result = _rounded(value * known.factor + known.offset, text)
    elif not unit:
        raise ValueError(f"{shortened(text)} has no unit; give the unit, for example '{example(dimension)}'")
    else:
        _refuse_other_dimension(unit, dimension, text)
        result = _to_si_with_pint(_rounded(value, text), unit, dimension, text)
    if dimension is Dimension.TEMPERATURE and result < 0.0:
        raise ValueError(f"{shortened(text)} is below absolute zero, -273.15 C")
    return result


def _rounded(value: Exact, text: str) -> float:
    try:
        return float(value)
    except OverflowError:
        raise ValueError(f"{shortened(text)} is not a finite number") from None


def _allowed(dimension: Dimension) -> str:
    return "use " + ", ".join(u.symbol or "a plain number" for u in UNITS[dimension])


def _refuse_other_dimension(unit: str, dimension: Dimension, text: str) -> None:
    squeezed = _squeezed(unit)
    if dimension is Dimension.VOLUME and squeezed in _table()[Dimension.MASS]:
        hint = f"{unit} is a mass"
        if squeezed in ("oz", "ounce", "ounces"):
            hint += f"; did you mean '{text.strip()[: -len(unit)].strip()} floz'?"
        raise ValueError(f"{shortened(text)} is not a volume: {hint}")
    if any(squeezed in spellings for spellings in _table().values()):
        raise ValueError(f"{shortened(text)} is not {dimension.value}; {_allowed(dimension)}")


_UNIT_TEXT = re.compile(r"(?:[A-Za-z_µ](?:(?:\^|\*\*)?-?\d)?|[ */()])+")
_LONGEST_UNIT = 40


def _to_si_with_pint(value: float, unit: str, dimension: Dimension, text: str) -> float:
    near = nearest_hint(_squeezed(unit), _table()[dimension])
    unknown = f"{shortened(text)}: {shortened(unit)} is not a known unit; {near}{_allowed(dimension)}"
    # pint evaluates what it is given, so only what looks like a unit gets there.
    if len(unit) > _LONGEST_UNIT or not _UNIT_TEXT.fullmatch(unit):
        raise ValueError(unknown)
    registry = _pint_registry()
    try:
        quantity = registry.Quantity(value, registry.parse_units(unit))
        target = registry.parse_units(_si_unit(dimension).pint_name)
        is_right = quantity.is_compatible_with(target)
    except Exception as error:  # pint lets errors of the tokenizer and of Python through
        raise ValueError(unknown) from error
    if not is_right:
        raise ValueError(f"{shortened(text)} is not {dimension.value}; {_allowed(dimension)}")
    return float(quantity.to(target).magnitude)


def _si_unit(dimension: Dimension) -> Unit:
    return next(u for u in UNITS[dimension] if u.factor == 1 and u.offset == 0)


@lru_cache(maxsize=1)
def _pint_registry() -> Any:
    from pint import UnitRegistry

    return UnitRegistry()


def format_quantity(si: float, unit: str, digits: int = 6) -> str:
    """Write an SI value in a unit of the table.

    Parameters
    ----------
    si : float
        In SI units.
    unit : str
        A spelling of the table; "C" and "F" are temperatures, "delta_degC" is a difference.
    digits : int
        Significant digits.

    Raises
    ------
    ValueError
        If the table does not have the unit.

    Examples
    --------
    >>> format_quantity(0.048, "mm")
    '48 mm'
    >>> format_quantity(347.15, "C")
    '74 C'
    """
    found = next((u for d in Dimension if (u := _find(_tidy(unit), d))), None)
    if found is None:
        every = [spelling for table in _table().values() for spelling in table]
        raise ValueError(f"{shortened(unit)} is not a known unit; {nearest_hint(unit, every)}use for example mm, mL, C")
    return _written(si, found, unit, digits)


def _written(si: float, unit: Unit, spelling: str, digits: int) -> str:
    value = float((Exact(float(si)) - unit.offset) / unit.factor)
    return f"{value:.{digits}g} {spelling}".strip()


def exact_text(si: float, dimension: Dimension) -> str:
    """Return the shortest text in a common unit that reads back as exactly the same float.

    Examples
    --------
    >>> exact_text(0.0004, Dimension.LENGTH)
    '0.4 mm'
    """
    for digits in (6, 9, 12, 15):
        for unit in UNITS[dimension]:
            text = _written(si, unit, unit.symbol, digits)
            if parse_quantity(text, dimension) == si:
                return text
    return f"{si!r} {_si_unit(dimension).symbol}".strip()


_EASILY_READ = (1e-3, 1e5)
"""Numbers that are read without counting zeros."""


@lru_cache(maxsize=1024)
def _rounded_text(si: float, dimension: Dimension, given: Unit | None = None) -> str:
    """Return a text that reads back as nearly the same float, in the unit given if its number is easily read."""
    least, most = _EASILY_READ
    if given is not None:
        text = _written(si, given, given.symbol, 6)
        if given.offset or least <= abs(float(Exact(si) / given.factor)) < most:
            return text
    for unit in UNITS[dimension]:
        number = abs(float((Exact(si) - unit.offset) / unit.factor))
        text = _written(si, unit, unit.symbol, 6)
        is_near = math.isclose(parse_quantity(text, dimension), si, rel_tol=1e-9)
        if is_near and (unit.offset or least <= number < most):
            return text
    return exact_text(si, dimension)


def _from_pint(given: Any, dimension: Dimension) -> float:
    """Return the SI value of one pint quantity, of any registry."""
    names = [str(name) for name, _ in given.unit_items()]
    if dimension is Dimension.TEMPERATURE_DIFFERENCE and any(name.startswith("degree_") for name in names):
        raise ValueError(f"{shortened(given)} is a temperature; a difference is in delta_degC, delta_degF or kelvin")
    if dimension is Dimension.TEMPERATURE and any(name.startswith("delta_") for name in names):
        raise ValueError(f"{shortened(given)} is a temperature difference; a temperature is in degC, degF or kelvin")
    try:
        value = float(given.to(_si_unit(dimension).pint_name).magnitude)
    except (TypeError, ValueError):  # pint's errors of dimension are of the first kind, arrays of both
        raise ValueError(f"{shortened(given)} is not {dimension.value}; {_allowed(dimension)}") from None
    if dimension is Dimension.TEMPERATURE and value < 0.0:
        raise ValueError(f"{shortened(given)} is below absolute zero, -273.15 C")
    return value


FROM_DOCUMENT: dict[str, bool] = {"needs_unit": True}
"""Context of pydantic under which a plain number is refused; see `QuantityField.read`."""


@dataclass(frozen=True)
class QuantityField:
    """Makes a pydantic field read text with a unit, hold an SI float and write text again.

    Attributes
    ----------
    dimension : Dimension
    above, at_least, at_most : float or None
        Bounds. [SI]
    """

    dimension: Dimension
    above: float | None = None
    at_least: float | None = None
    at_most: float | None = None

    def read(self, given: object, *, needs_unit: bool = False) -> float:
        """Return the SI value of a quantity.

        Parameters
        ----------
        given : str, float or pint quantity
            A plain number is taken to be in SI units.
        needs_unit : bool
            Refuse a plain number, as in a document: a "48" that a person wrote may be anything.

        Raises
        ------
        ValueError
            As `parse_quantity`; also for a pint quantity of something else and for a value out of bounds.
        """
        if isinstance(given, str):
            value = parse_quantity(given, self.dimension)
        elif hasattr(given, "magnitude") and hasattr(given, "units"):
            value = _from_pint(given, self.dimension)
        else:
            value = self._plain(given, needs_unit)
        if not self.allows(value):
            unit = next(iter(_NUMBER.split(_tidy(given))[-1:]), "") if isinstance(given, str) else ""
            raise ValueError(f"{shortened(given)} is not allowed; it {self.bounds_text(unit)}")
        return value

    def _plain(self, given: object, needs_unit: bool) -> float:
        is_number = isinstance(given, Real) and not isinstance(given, bool)
        shown = example(self.dimension)
        if not is_number:
            raise ValueError(f"{shortened(given)} is not {self.dimension.value}; write for example '{shown}'")
        if needs_unit and self.dimension is not Dimension.FRACTION:
            raise ValueError(f"{shortened(given)} has no unit; give the unit, for example '{shown}'")
        try:
            value = float(given)  # type: ignore[arg-type]
        except OverflowError:
            raise ValueError(f"{shortened(given)} is not a finite number") from None
        if not math.isfinite(value):
            raise ValueError(f"{given} is not a finite number")
        if self.dimension is Dimension.TEMPERATURE and value < 0.0:
            raise ValueError(
                f"{given} is below absolute zero; a plain number is in kelvin, write for example '{shown}'"
            )
        return value

    def allows(self, value: Numeric) -> NDArray[np.bool_]:
        """Return whether SI values are within the bounds; NaN never is."""
        is_within = np.isfinite(value)
        if self.above is not None:
            is_within = is_within & np.greater(value, self.above)
        if self.at_least is not None:
            is_within = is_within & np.greater_equal(value, self.at_least)
        if self.at_most is not None:
            is_within = is_within & np.less_equal(value, self.at_most)
        return np.asarray(is_within)

    def bounds_text(self, unit: str = "") -> str:
        """Return the bounds in words, for example "must be above zero", in a unit of the table if it suits them."""
        bounds = {"above": self.above, "at least": self.at_least, "at most": self.at_most}
        told = [f"{word} {self._bound(bound, unit)}" for word, bound in bounds.items() if bound is not None]
        return f"must be {', '.join(told[:-1])}{' and ' if told[1:] else ''}{told[-1] if told else 'a finite number'}"

    def _bound(self, bound: float, unit: str) -> str:
        if bound == 0.0 and self.dimension is not Dimension.TEMPERATURE:
            return "zero"
        given = _find(unit, self.dimension) if unit else None
        return _rounded_text(bound, self.dimension, given)

    def write(self, value: Any) -> Any:
        """Return the text (or plain fraction) that reads back as the same value."""
        if not isinstance(value, float | int):
            raise ValueError("an array of designs has no text; write one design at a time")
        return float(value) if self.dimension is Dimension.FRACTION else exact_text(float(value), self.dimension)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Validate with `read`, serialise documents with `write`."""
        writer = core_schema.plain_serializer_function_ser_schema(self.write, when_used="json")
        return core_schema.with_info_plain_validator_function(self._validate, serialization=writer)

    def _validate(self, given: object, info: core_schema.ValidationInfo) -> float:
        return self.read(given, needs_unit=info.context is FROM_DOCUMENT)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Describe the field for editors."""
        if self.dimension is Dimension.FRACTION:
            bounds = {"exclusiveMinimum": self.above, "minimum": self.at_least, "maximum": self.at_most}
            number: dict[str, Any] = {"type": "number"} | {k: v for k, v in bounds.items() if v is not None}
            return {"anyOf": [number, {"type": "string", "pattern": r"^\s*[+-]?[\d.]"}]}
        return {
            "type": "string",
            "pattern": r"^\s*[+-]?\s*[\d.].*[^\d\s.]\s*$",
            "examples": [example(self.dimension)],
        }


@lru_cache(maxsize=64)
def quantity_fields(model: type[BaseModel]) -> dict[str, QuantityField]:
    """Return those fields of a record that hold quantities."""
    found = {name: _quantity_field((field.annotation, *field.metadata)) for name, field in model.model_fields.items()}
    return {name: quantity for name, quantity in found.items() if quantity is not None}


def _quantity_field(parts: Iterable[Any]) -> QuantityField | None:
    for part in parts:
        if isinstance(part, QuantityField):
            return part
        inner = _quantity_field((*getattr(part, "__metadata__", ()), *get_args(part)))
        if inner is not None:
            return inner
    return None


Length: TypeAlias = Annotated[Numeric, QuantityField(Dimension.LENGTH)]
SHORTEST, LONGEST = 1e-6, 10.0
"""Least length besides zero, and the greatest [m]: thinner than any foil, and longer than any part; judgement."""

PositiveLength: TypeAlias = Annotated[
    Numeric, QuantityField(Dimension.LENGTH, above=0.0, at_least=SHORTEST, at_most=LONGEST)
]
NonNegativeLength: TypeAlias = Annotated[Numeric, QuantityField(Dimension.LENGTH, at_least=0.0, at_most=LONGEST)]
Volume: TypeAlias = Annotated[Numeric, QuantityField(Dimension.VOLUME, at_least=0.0)]
PositiveVolume: TypeAlias = Annotated[Numeric, QuantityField(Dimension.VOLUME, above=0.0, at_least=1e-6, at_most=2.0)]
Mass: TypeAlias = Annotated[Numeric, QuantityField(Dimension.MASS, at_least=0.0)]
Duration: TypeAlias = Annotated[Numeric, QuantityField(Dimension.DURATION, at_least=0.0)]
Temperature: TypeAlias = Annotated[Numeric, QuantityField(Dimension.TEMPERATURE)]
TemperatureDifference: TypeAlias = Annotated[Numeric, QuantityField(Dimension.TEMPERATURE_DIFFERENCE)]
Pressure: TypeAlias = Annotated[Numeric, QuantityField(Dimension.PRESSURE, at_least=0.0)]
Conductivity: TypeAlias = Annotated[Numeric, QuantityField(Dimension.CONDUCTIVITY, above=0.0)]
Conductance: TypeAlias = Annotated[Numeric, QuantityField(Dimension.CONDUCTANCE, above=0.0)]
Density: TypeAlias = Annotated[Numeric, QuantityField(Dimension.DENSITY, at_least=1.0)]
HeatCapacity: TypeAlias = Annotated[Numeric, QuantityField(Dimension.HEAT_CAPACITY, above=0.0)]
Emissivity: TypeAlias = Annotated[Numeric, QuantityField(Dimension.FRACTION, above=0.0, at_most=1.0)]
Fraction: TypeAlias = Annotated[Numeric, QuantityField(Dimension.FRACTION, at_least=0.0, at_most=1.0)]
