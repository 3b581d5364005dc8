"""What is varied: numbers of a design or scenario by path, and the ranges and choices written for them.

"30..60 mm" or "30 mm..60 mm" is a range, with ":7" behind it seven steps of it; "a, b, c" are choices.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from pydantic import BaseModel

from geometries.container import Container
from geometries.errors import InputError, nearest_hint, told_of
from geometries.overrides import split_assignment
from geometries.part import Part
from geometries.quantities import UNITS, exact_text
from geometries.ranges import NumberField, Range, numbers_of, read_range, read_value, unit_of, with_unit
from thermal_model.scenario import Scenario

SCENARIO = "scenario."
_PATHS = "paths begin with body., lid. or scenario. and lead to what this design has"


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
    found = {field.path: field for field in numbers_of(container)}
    if scenario is not None:
        found |= {field.path: field for field in numbers_of(scenario, SCENARIO)}
    return found


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
    keys = path.removeprefix(SCENARIO).split(".")
    if reason := _reason_idle(record, keys):
        raise InputError(reason, path, source=source)
    if _leads_somewhere(record, keys):
        raise InputError("holds no number with a unit; a range needs one", path, source=source)
    hint = path_hint(path, fields)
    raise InputError(f"unknown path; {hint}{_PATHS}", path, source=source)


def path_hint(path: str, fields: Iterable[str]) -> str:
    """Return which path was meant: one that ends in what was typed, or the nearest."""
    known = list(fields)
    ending = [other for other in known if other.endswith(f".{path}")]
    return f"did you mean '{ending[0]}'? " if len(ending) == 1 else nearest_hint(path, known)


def _reason_idle(place: Any, keys: list[str]) -> str:
    """Return why a field has no effect in this design, "" if it has one or is not there."""
    for key in keys[:-1]:
        is_entry = isinstance(place, tuple) and key.isdecimal() and int(key) < len(place)
        place = place[int(key)] if is_entry else getattr(place, key, None)
    return place.idle_fields().get(keys[-1], "") if isinstance(place, Part) else ""


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
    if ".." in text and "," not in text:
        return read_range(number_field(path, container, scenario, source), text, source)
    return read_choices(path, text, container, scenario, source)


def read_choices(path: str, text: str, container: Container, scenario: Scenario, source: str) -> Choices:
    """Return the choices "a, b, c" for a path; of numbers the last unit holds for those without one.

    Raises
    ------
    InputError
        If there is nothing to choose from, a value comes twice, the path leads nowhere, or a unit is wrong.
    """
    parts = [part.strip() for part in text.split(",")]
    texts = [one for part in parts for one in _steps_of(path, part, container, scenario, source)]
    if len(texts) == 1 and texts[0]:
        message = f"is one value, which varies nothing; set it with --set {path}='{texts[0]}'"
        raise InputError(message, path, text, source)
    if len(texts) < 2 or not all(texts):
        message = "is nothing to choose from; write a range, low..high, or values with commas between them"
        raise InputError(message, path, text, source)
    field = number_fields(container, scenario).get(path)
    unit = unit_of(texts[-1])
    values: tuple[object, ...]
    if field is None or "none" in texts:
        field, unit = None, ""
        values = tuple(split_assignment(f"{path}={part}")[1] for part in texts)
        _check_path(path, container, scenario, source)
    else:
        values = tuple(read_value(field, with_unit(part, unit), text, source) for part in texts)
    _refuse_repeated(path, values, text, source)
    return Choices(path, values, field, unit)


def _steps_of(path: str, part: str, container: Container, scenario: Scenario, source: str) -> list[str]:
    """Return a choice, or of a range among choices its steps, each as text."""
    if ".." not in part:
        return [part]
    steps = read_range(number_field(path, container, scenario, source), part, source)
    if steps.count is None:
        message = "how many steps? among choices write them behind the range, for example 5..25 mm:5, none"
        raise InputError(message, path, part, source)
    return [exact_text(value, steps.field.quantity.dimension) for value in steps.steps().tolist()]


def choices_of(path: str, given: Sequence[object], container: Container, scenario: Scenario, source: str) -> Choices:
    """Return values of a script as the choices for a path.

    Parameters
    ----------
    path : str
    given : sequence
        Quantities as `QuantityField.read` takes them; or kinds, None where the part is left out.
    container, scenario
        What is varied.
    source : str
        Argument they came from.

    Raises
    ------
    InputError
        If there are none, one comes twice, the path leads nowhere, or a quantity is wrong.
    """
    plain = [value.item() if isinstance(value, np.generic) else value for value in given]
    if not plain:
        raise InputError("needs at least one value", path, source=source)
    field = number_fields(container, scenario).get(path)
    values: tuple[object, ...]
    if field is None or any(value is None or value == "none" for value in plain):
        field, values = None, tuple("none" if value is None else value for value in plain)
        _check_path(path, container, scenario, source)
    else:
        values = tuple(_read(field, value, source) for value in plain)
    _refuse_repeated(path, values, ", ".join(map(str, plain)), source)
    return Choices(path, values, field, "" if field is None else UNITS[field.quantity.dimension][0].symbol)


def _read(field: NumberField, value: object, source: str) -> float:
    with told_of(field.path, source):
        return field.quantity.read(value)


def _refuse_repeated(path: str, values: Sequence[object], shown: str, source: str) -> None:
    if len(set(map(repr, values))) < len(values):
        raise InputError("a value comes twice; give each once", path, shown, source)


def _check_path(path: str, container: Container, scenario: Scenario, source: str) -> None:
    """Refuse a path whose parent is not there; what the field may hold is told when it is set."""
    record: Any = scenario if path.startswith(SCENARIO) else container
    parent = path.removeprefix(SCENARIO).rpartition(".")[0]
    is_bare = not parent and not path.startswith(SCENARIO) and path not in type(container).model_fields
    if is_bare or (parent and not _leads_somewhere(record, parent.split("."))):
        hint = path_hint(path, number_fields(container, scenario))
        raise InputError(f"unknown path; {hint}{_PATHS}", path, source=source)
