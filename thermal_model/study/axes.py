"""What a sweep varies: axes of numbers with a unit, and of kinds, from what was typed.

Kinds are texts, counts, yes or no, as a design file holds them. Besides, a list ("lid.seals") takes counts, how many
of its entries stay, and any part takes "kept" and "none".
"""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np

from geometries.container import Container
from geometries.errors import InputError, InputProblem, refuse
from geometries.numeric import Array
from geometries.overrides import INSTEAD_OF, with_overrides
from geometries.quantities import Dimension, exact_text, parse_quantity
from geometries.ranges import Range
from thermal_model.scenario import Scenario
from thermal_model.study.ranges import SCENARIO, Choices, choices_of, read_variation

DIGITS = 12
"""Significant digits of a number shown in its unit."""

KEPT = "kept"
"""The choice that leaves a part as the design has it."""


@dataclass(frozen=True)
class Axis:
    """One thing that is varied.

    Attributes
    ----------
    path : str
    variation : Range or Choices
        As typed.
    documents : tuple of object
        What a design file holds for each choice of a kind; empty for numbers.
    labels : tuple of str
        The same as shown.
    base : float
        Where the design itself stands: its number in SI, NaN if it is left out; -1 for kinds.
    """

    path: str
    variation: Range | Choices
    documents: tuple[object, ...] = ()
    labels: tuple[str, ...] = ()
    base: float = -1.0

    def __getstate__(self) -> dict[str, Any]:
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @property
    def is_number(self) -> bool:
        """Whether it holds numbers with a unit, not kinds."""
        return self.variation.field is not None

    @cached_property
    def points(self) -> Array:
        """Values of a grid: SI numbers, or places among the kinds."""
        if isinstance(self.variation, Range):
            return self.variation.steps()
        if self.is_number:
            return np.array(self.variation.values, dtype=float)
        return np.arange(len(self.documents), dtype=float)

    def drawn(self, share: Array) -> Array:
        """Return values at shares, 0 to 1, of what is varied; choices are equally likely."""
        if isinstance(self.variation, Range):
            return self.variation.at(share)
        return self.points[np.minimum((share * len(self.points)).astype(int), len(self.points) - 1)]

    def document(self, value: float) -> object:
        """Return what a design file would hold for a value."""
        if self.variation.field is not None:
            return exact_text(float(value), self.variation.field.quantity.dimension)
        return self.documents[int(value)]

    @property
    def dimension(self) -> Dimension | None:
        """What its numbers measure."""
        return self.variation.field.quantity.dimension if self.variation.field is not None else None

    @property
    def identifier(self) -> str:
        """The path as a name that every language takes."""
        return self.path.replace(".", "_")

    @property
    def is_count(self) -> bool:
        """Whether its choices are whole numbers."""
        return not self.is_number and all(label.isdecimal() for label in self.labels)

    @property
    def unit(self) -> str:
        """Unit as typed, "" for plain numbers and kinds."""
        return self.variation.unit if self.is_number else ""

    @cached_property
    def _scale(self) -> tuple[float, float]:
        """Factor and offset: SI value = number x factor + offset."""
        assert self.dimension is not None
        zero, one = (parse_quantity(f"{number} {self.unit}".strip(), self.dimension) for number in (0, 1))
        return one - zero, zero

    def shown(self, values: Array) -> Array:
        """Return numbers in the axis's unit, without the dust of the conversion."""
        factor, offset = self._scale
        numbers = (np.asarray(values, dtype=float) - offset) / factor
        return np.array([float(f"{number:.{DIGITS}g}") for number in numbers.tolist()])

    def text(self, value: float) -> str:
        """Return a value with its unit."""
        if not self.is_number:
            return self.labels[int(value)] if value >= 0.0 else "as given"
        if math.isnan(value):
            return "left out"
        return f"{self.shown(np.array([value]))[0]:.6g} {self.unit}".strip()


def read_axes(
    given: Sequence[tuple[str, str | Sequence[object]]], container: Container, scenario: Scenario, source: str
) -> list[Axis]:
    """Return the axes that are given as pairs of path and values.

    Parameters
    ----------
    given : sequence of (str, str or sequence)
        As typed, ("body.neck.mouth_diameter", "30..60 mm:7") or ("lid.seals", "0, 1, 2"); or values of a script.
    container, scenario
        What is varied.
    source : str
        Option they came from.

    Raises
    ------
    InputError
        Naming every axis that can't be.
    """
    problems = list(_contradictions([path for path, _ in given], scenario, source))
    axes = []
    for path, values in given:
        try:
            if isinstance(values, str):
                variation = read_variation(path, values, container, scenario, source)
            else:
                variation = choices_of(path, values, container, scenario, source)
            axes.append(_axis(variation, container, scenario, source))
        except InputError as error:
            problems += error.problems
    refuse(dict.fromkeys(problems))
    return axes


def axis_of(path: str, document: Mapping[str, Any], container: Container, scenario: Scenario) -> Axis:
    """Return an axis from what `sweep.axis_document` says of it.

    Raises
    ------
    InputError
        If it leads nowhere in the design.
    """
    unit = document.get("unit", "")
    if "low" in document:
        steps = "" if document["count"] is None else f":{document['count']}"
        text = f"{document['low']!r}..{document['high']!r} {unit}{steps}"
        return read_axes([(path, text)], container, scenario, "vary")[0]
    if "as_in_a_file" not in document:
        values = ", ".join(f"{value!r} {unit}".strip() for value in document["values"])
        return read_axes([(path, values)], container, scenario, "vary")[0]
    labels, documents = tuple(document["values"]), tuple(document["as_in_a_file"])
    return Axis(path, Choices(path, labels, None), documents, labels)


def _contradictions(paths: list[str], scenario: Scenario, source: str) -> Iterator[InputProblem]:
    if not paths:
        message = f"give what to vary, for example {source} body.neck.mouth_diameter='30..60 mm:7'"
        yield InputProblem(message, source=source)
    for path in sorted({path for path in paths if paths.count(path) > 1}):
        yield InputProblem("is varied twice; put all its values into one option", path, source=source)
    for path in paths:
        other = INSTEAD_OF.get(path)
        if other in paths and path < str(other):
            yield InputProblem(f"follows from {other}; vary one of the two", path, source=source)
    if f"{SCENARIO}room" in paths and scenario.room_profile is not None:
        message = "the room comes from a table; vary scenario.room_profile.shift instead"
        yield InputProblem(message, f"{SCENARIO}room", source=source)


def _axis(variation: Range | Choices, container: Container, scenario: Scenario, source: str) -> Axis:
    field = variation.field
    if field is not None:
        return Axis(field.path, variation, base=math.nan if field.value is None else field.value)
    assert isinstance(variation, Choices)
    documents = tuple(_document(variation.path, value, container, scenario, source) for value in variation.values)
    for value, document in zip(variation.values, documents, strict=True):
        _refuse_no_such_kind(variation.path, value, document, container, scenario, source)
    return Axis(variation.path, variation, documents, tuple(map(_label, variation.values)))


def _label(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _document(path: str, value: object, container: Container, scenario: Scenario, source: str) -> object:
    """Return what a design file holds for a choice: the first entries of a list for a count, the part for "kept"."""
    now = _now(path, container, scenario)
    if isinstance(now, list) and isinstance(value, int) and not isinstance(value, bool):
        if not 0 <= value <= len(now):
            message = f"{value} entries are asked for; this design has {len(now)}, the first of which can be kept"
            raise InputError(message, path, source=source)
        return now[:value]
    if value != KEPT:
        return value
    if now is None:
        message = f"'{KEPT}' keeps what is there, and this design has none; give it there first"
        raise InputError(message, path, source=source)
    return now


def _now(path: str, container: Container, scenario: Scenario) -> Any:
    """Return what a design file holds at a path now, None if it is left out."""
    record = scenario if path.startswith(SCENARIO) else container
    place: Any = record.model_dump(mode="json", exclude_unset=True)
    for key in path.removeprefix(SCENARIO).split("."):
        if isinstance(place, list):
            place = place[int(key)] if key.isdecimal() and int(key) < len(place) else None
        else:
            place = place.get(key) if isinstance(place, dict) else None
    return place


def _refuse_no_such_kind(
    path: str, value: object, document: object, container: Container, scenario: Scenario, source: str
) -> None:
    """Refuse what the field can never hold; what only does not go with the rest is an invalid design."""
    try:
        if path.startswith(SCENARIO):
            with_overrides(scenario, {path.removeprefix(SCENARIO): document})
        else:
            with_overrides(container, {path: document})
    except InputError as error:
        own = [p for p in error.problems if p.field in (path.removeprefix(SCENARIO), path)]
        if own:
            raise InputError(replace(p, field=path, value=_label(value), source=source) for p in own) from None


def axis_name(path: str, axes: Sequence[Axis]) -> str:
    """Return the last part of a path in words, or more of it where that says too little or would name two axes.

    Examples
    --------
    >>> axis_name("body.neck.mouth_diameter", ())
    'mouth diameter'
    >>> axis_name("lid.layers.1.depth", ())
    'layer 1 depth'
    """
    keys = path.split(".")
    for count in range(1, len(keys)):
        name = ".".join(keys[-count:])
        says_enough = not name[0].isdigit() and not keys[-count - 1].isdigit() and name not in _SAY_LITTLE
        if says_enough and sum(f".{axis.path}".endswith(f".{name}") for axis in axes) <= 1:
            return re.sub(r"s (\d+)", r" \1", name.replace("_", " ").replace(".", " "))
    return path


_SAY_LITTLE = ("kind", "material", "surface", "depth", "width", "length", "height", "thickness", "diameter")
