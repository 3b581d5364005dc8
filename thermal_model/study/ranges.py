"""What is varied: numbers of a design or scenario by path, and the ranges and choices written for them.

"30..60 mm" or "30 mm..60 mm" is a range, with ":7" behind it seven steps of it; "a, b, c" are choices.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NoReturn

import numpy as np
from pydantic import BaseModel

from geometries.container import Container
from geometries.errors import InputError, InputProblem, nearest_hint
from geometries.numeric import Array
from geometries.overrides import split_assignment
from geometries.quantities import UNITS, QuantityField, parse_quantity, quantity_fields
from thermal_model.scenario import Scenario

SCENARIO = "scenario."
_PATHS = "paths begin with body., lid. or scenario. and lead to what this design has"
_LEADING_NUMBER = re.compile(r"[\d\s.+/-]+(?:[eE][+-]?\d+)?")


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
    quantity: QuantityField
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


@dataclass(frozen=True)
class Choices:
    """Values to choose from.

    Attributes
    ----------
    path : str
    values : tuple of object
        Numbers in SI if `field` is there, else as a design file would hold them.
    field : NumberField or None
        None for kinds: texts, counts, yes or no.
    unit : str
        Of the last number as it was typed, "" for kinds.
    """

    path: str
    values: tuple[object, ...]
    field: NumberField | None
    unit: str = ""


def number_fields(container: Container, scenario: Scenario | None = None) -> dict[str, NumberField]:
    """Return every number of a container, and of a scenario if there is one, by path; also those left out."""
    found = {field.path: field for field in _numbers_of(container, "")}
    if scenario is not None:
        found |= {field.path: field for field in _numbers_of(scenario, SCENARIO)}
    return found


def _numbers_of(record: BaseModel, prefix: str) -> Iterator[NumberField]:
    quantities = quantity_fields(type(record))
    for name in type(record).model_fields:
        value, path = getattr(record, name), f"{prefix}{name}"
        if isinstance(value, BaseModel):
            yield from _numbers_of(value, f"{path}.")
        elif isinstance(value, tuple):
            for number, entry in enumerate(value):
                if isinstance(entry, BaseModel):
                    yield from _numbers_of(entry, f"{path}.{number}.")
        elif name in quantities and not isinstance(value, np.ndarray):
            given = name in record.model_fields_set
            yield NumberField(path, quantities[name], None if value is None else float(value), given)


def number_field(path: str, container: Container, scenario: Scenario, source: str) -> NumberField:
    """Return the number that a path leads to.

    Raises
    ------
    InputError
        If there is no such field, or it holds no number with a unit.
    """
    fields = number_fields(container, scenario)
    if path in fields:
        return fields[path]
    record: Any = scenario if path.startswith(SCENARIO) else container
    if _leads_somewhere(record, path.removeprefix(SCENARIO).split(".")):
        raise InputError(InputProblem("holds no number with a unit; a range needs one", path, source=source))
    hint = nearest_hint(path, fields)
    raise InputError(InputProblem(f"unknown path; {hint}{_PATHS}", path, source=source))


def _leads_somewhere(place: Any, keys: list[str]) -> bool:
    for key in keys:
        if isinstance(place, tuple) and key.isdecimal() and int(key) < len(place):
            place = place[int(key)]
        elif isinstance(place, BaseModel) and key in type(place).model_fields:
            place = getattr(place, key)
        else:
            return False
    return True


def read_variation(path: str, text: str, container: Container, scenario: Scenario, source: str) -> Range | Choices:
    """Return the range or the choices that a text describes for a path.

    Raises
    ------
    InputError
        As `number_field`, `read_range` and `read_choices`.
    """
    if ".." in text:
        return read_range(number_field(path, container, scenario, source), text, source)
    return read_choices(path, text, container, scenario, source)


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
    unit = _unit_of(high_text)
    low, high = (_value(field, _with_unit(part, unit), text, source) for part in (low_text, high_text))
    if low == high:
        _refuse(field, text, "is empty, both ends are the same; take two values, or --set for one", source)
    if low > high:
        _refuse(
            field, text, f"is reversed; write '{_with_unit(high_text, unit)}..{_with_unit(low_text, unit)}'", source
        )
    return Range(field, low, high, unit, _count(field, text, steps.strip(), source) if colon else None)


def read_choices(path: str, text: str, container: Container, scenario: Scenario, source: str) -> Choices:
    """Return the choices "a, b, c" for a path; of numbers the last unit holds for those without one.

    Raises
    ------
    InputError
        If there is nothing to choose from, a value comes twice, the path leads nowhere, or a unit is wrong.
    """
    texts = [part.strip() for part in text.split(",")]
    if len(texts) < 2 or not all(texts):
        message = "is nothing to choose from; write a range, low..high, or values with commas between them"
        raise InputError(InputProblem(message, path, text, source))
    field = number_fields(container, scenario).get(path)
    unit = _unit_of(texts[-1])
    values: tuple[object, ...]
    if field is None or "none" in texts:
        field, unit = None, ""
        values = tuple(split_assignment(f"{path}={part}")[1] for part in texts)
        _check_path(path, container, scenario, source)
    else:
        values = tuple(_value(field, _with_unit(part, unit), text, source) for part in texts)
    if len(set(map(repr, values))) < len(values):
        raise InputError(InputProblem("a value comes twice; give each once", path, text, source))
    return Choices(path, values, field, unit)


def _check_path(path: str, container: Container, scenario: Scenario, source: str) -> None:
    """Refuse a path whose parent is not there; what the field may hold is told when it is set."""
    record: Any = scenario if path.startswith(SCENARIO) else container
    parent = path.removeprefix(SCENARIO).rpartition(".")[0]
    if parent and not _leads_somewhere(record, parent.split(".")):
        hint = nearest_hint(path, number_fields(container, scenario))
        raise InputError(InputProblem(f"unknown path; {hint}{_PATHS}", path, source=source))


def _unit_of(text: str) -> str:
    number = _LEADING_NUMBER.match(text)
    return text[number.end() :].strip() if number else ""


def _with_unit(text: str, unit: str) -> str:
    return text if _unit_of(text) or not _LEADING_NUMBER.match(text) else f"{text} {unit}".strip()


def _value(field: NumberField, part: str, text: str, source: str) -> float:
    try:
        value = parse_quantity(part, field.quantity.dimension)
    except ValueError as error:
        _refuse(field, None, str(error), source)
    if not field.quantity.allows(value):
        _refuse(field, text, field.quantity.bounds_text(), source)
    return value


def _count(field: NumberField, text: str, steps: str, source: str) -> int:
    if not re.fullmatch(r"\d{1,12}", steps) or int(steps) < 2:
        _refuse(field, text, "behind ':' stands how many values, 2 or more", source)
    return int(steps)


def _refuse(field: NumberField, value: object, message: str, source: str) -> NoReturn:
    raise InputError(InputProblem(message, field.path, value, source))
