"""Numbers of a record by path, and ranges written for them.

"30..60 mm" or "30 mm..60 mm" is a range, with ":7" behind it seven steps of it.
"""

import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Annotated, Any, NoReturn

import numpy as np
from pydantic import BaseModel

from geometries.errors import InputError
from geometries.numeric import Array, JsonForm
from geometries.part import Part
from geometries.quantities import UNITS, Dimension, QuantityField, parse_quantity, quantity_fields

_LEADING_NUMBER = re.compile(r"[\d\s.+/-]+(?:[eE][+-]?\d+)?")


def _bounds(quantity: QuantityField) -> dict[str, Any]:
    return asdict(quantity) | {"dimension": quantity.dimension.name}


def _quantity(given: Any) -> QuantityField:
    if isinstance(given, QuantityField):
        return given
    return QuantityField(**given | {"dimension": Dimension[given["dimension"]]})


@dataclass(frozen=True)
class NumberField:
    """A number of a design or scenario.

    Attributes
    ----------
    path : str
        Scenario fields begin with "scenario.".
    quantity : QuantityField
        What it measures, and its bounds.
    value : float or None
        What it is now; None where it is left out. [SI]
    is_given : bool
        Whether the design gives it, or a default stands in.
    """

    path: str
    quantity: Annotated[QuantityField, JsonForm(_bounds, _quantity)]
    value: float | None
    is_given: bool = True


@dataclass(frozen=True)
class Range:
    """Values from low to high, low < high.

    Attributes
    ----------
    field : NumberField
    low, high : float
        [SI]
    unit : str
        As it was typed.
    count : int or None
        Number of equal steps from low to high, both included; None leaves it open.
    """

    field: NumberField
    low: float
    high: float
    unit: str
    count: int | None = None

    @property
    def path(self) -> str:
        """Of the field."""
        return self.field.path

    def steps(self, count: int | None = None) -> Array:
        """Return equally spaced values, both ends included. [SI]"""
        return np.linspace(self.low, self.high, count or self.count or 2)

    def at(self, share: Array) -> Array:
        """Return values at shares of the way from low to high. [SI]"""
        return self.low + (self.high - self.low) * share


def numbers_of(record: BaseModel, prefix: str = "") -> Iterator[NumberField]:
    """Yield every number of a record that has an effect, also those left out; arrays of designs are passed over."""
    quantities, idle = quantity_fields(type(record)), record.idle_fields() if isinstance(record, Part) else {}
    for name in type(record).model_fields:
        if name in idle:
            continue
        value, path = getattr(record, name), f"{prefix}{name}"
        if isinstance(value, BaseModel):
            yield from numbers_of(value, f"{path}.")
        elif isinstance(value, tuple):
            for number, entry in enumerate(value):
                if isinstance(entry, BaseModel):
                    yield from numbers_of(entry, f"{path}.{number}.")
        elif name in quantities and not isinstance(value, np.ndarray):
            given = name in record.model_fields_set
            yield NumberField(path, quantities[name], None if value is None else float(value), given)


def read_range(field: NumberField, text: str, source: str) -> Range:
    """Return the range that a text describes.

    Parameters
    ----------
    field : NumberField
    text : str
        "30..60 mm", "30 mm .. 6 cm", "30..60 mm:7".
    source : str
        Option the text came from.

    Raises
    ------
    InputError
        If it is no range, empty or reversed, of another unit, beyond the field's bounds, or of fewer than 2 steps.
    """
    ends, colon, steps = text.partition(":")
    low_text, dots, high_text = (part.strip() for part in ends.partition(".."))
    if not dots or not low_text or not high_text:
        unit = UNITS[field.quantity.dimension][0].symbol
        _refuse(field, text, f"is no range; write low..high, for example '{f'10..20 {unit}'.strip()}'", source)
    unit = unit_of(high_text)
    low, high = (read_value(field, with_unit(part, unit), text, source) for part in (low_text, high_text))
    if low == high:
        _refuse(field, text, "is empty, both ends are the same; take two values, or --set for one", source)
    if low > high:
        _refuse(field, text, f"is reversed; write '{with_unit(high_text, unit)}..{with_unit(low_text, unit)}'", source)
    return Range(field, low, high, unit, _count(field, text, steps.strip(), source) if colon else None)


def unit_of(text: str) -> str:
    """Return the unit behind a number, "" if there is none."""
    number = _LEADING_NUMBER.match(text)
    return text[number.end() :].strip() if number else ""


def with_unit(text: str, unit: str) -> str:
    """Return a number with a unit if it has none."""
    return text if unit_of(text) or not _LEADING_NUMBER.match(text) else f"{text} {unit}".strip()


def read_value(field: NumberField, part: str, text: str, source: str) -> float:
    """Return one end of a range or one choice; a message about its bounds shows the whole text. [SI]

    Raises
    ------
    InputError
        If it is no number of the field's kind, or beyond the field's bounds.
    """
    try:
        value = parse_quantity(part, field.quantity.dimension)
    except ValueError as error:
        _refuse(field, None, str(error), source)
    if not field.quantity.allows(value):
        _refuse(field, text, field.quantity.bounds_text(unit_of(part)), source)
    return value


def _count(field: NumberField, text: str, steps: str, source: str) -> int:
    if not re.fullmatch(r"\d{1,12}", steps) or int(steps) < 2:
        _refuse(field, text, "behind ':' stands how many values, 2 or more", source)
    return int(steps)


def _refuse(field: NumberField, value: object, message: str, source: str) -> NoReturn:
    raise InputError(message, field.path, value, source)
