"""What a design measures besides its hold time: mass, outside, capacity, mouth, lid; for constraints and comparison."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from geometries import container as geometry
from geometries.container import Container
from geometries.errors import InputError, nearest_hint, shortened, told_of
from geometries.numeric import Numeric
from geometries.quantities import UNITS, Dimension, parse_quantity
from thermal_model.scenario import Scenario
from thermal_model.study.expression import Expression
from thermal_model.study.ranges import SCENARIO, number_fields
from thermal_model.words.dimensions import dimension_words
from thermal_model.words.numbers import duration_text

HOLD = "hold"
"""Name of the hold time itself in constraints."""


@dataclass(frozen=True)
class Measure:
    """A number that follows from a design.

    Attributes
    ----------
    name : str
        As typed.
    label : str
        In plain words.
    dimension : Dimension or None
        None for a count.
    less_is_better : bool
        Which way a designer wants it.
    of : callable
        Takes containers and scenarios of n lanes; returns a float or an (n,) array. [SI]
    """

    name: str
    label: str
    dimension: Dimension | None
    less_is_better: bool
    of: Callable[[Container, Scenario], Numeric]

    def text(self, value: float) -> str:
        """Return a value with its unit."""
        if self.dimension is Dimension.DURATION:
            return duration_text(value) if np.isfinite(value) else "longer than followed"
        return f"{self.shown(value):.4g} {self.unit}".strip()

    def shown(self, value: float) -> float:
        """Return a value in the unit it is shown in."""
        if self.dimension is None:
            return value
        unit = UNITS[self.dimension][0]
        return (value - float(unit.offset)) / float(unit.factor)

    @property
    def unit(self) -> str:
        """Unit it is shown in, "" for a count."""
        return "" if self.dimension is None else UNITS[self.dimension][0].symbol


def _measure(
    name: str, label: str, dimension: Dimension | None, of: Callable[[Container], Numeric], less: bool = True
) -> Measure:
    return Measure(name, label, dimension, less, lambda container, _: of(container))


MEASURES: dict[str, Measure] = {
    measure.name: measure
    for measure in (
        _measure("mass", "empty mass", Dimension.MASS, geometry.empty_mass),
        _measure("diameter", "outside diameter", Dimension.LENGTH, geometry.outside_diameter),
        _measure("height", "height with lid", Dimension.LENGTH, geometry.total_height),
        _measure("depth", "inside depth", Dimension.LENGTH, lambda container: container.body.depth),
        _measure("capacity", "capacity under the lid", Dimension.VOLUME, geometry.closed_capacity, less=False),
        _measure("mouth", "mouth", Dimension.LENGTH, lambda c: 2.0 * c.body.mouth_radius, less=False),
        _measure("lid_height", "height of the lid", Dimension.LENGTH, geometry.lid_height),
        _measure("layers", "lid layers", None, lambda c: 0.0 if c.lid is None else float(len(c.lid.layers))),
    )
}

COST = "cost"
"""Name of a user's own figure."""


def cost_measure(expression: Expression) -> Measure:
    """Return a user's own figure as a measure, of which less is better."""
    return Measure(COST, "cost", None, True, lambda container, _: expression.of(container))


def hold_measure(name: str, label: str) -> Measure:
    """Return a hold time under another name, which is computed elsewhere."""
    return Measure(name, label, Dimension.DURATION, False, lambda _container, _scenario: np.nan)


HOLD_TIME = Measure(HOLD, "hold time", Dimension.DURATION, False, lambda _container, _scenario: np.nan)


def read_measure(
    name: str, container: Container, scenario: Scenario, source: str, own: Mapping[str, Measure] | None = None
) -> Measure:
    """Return what a name stands for: one of `own`, of MEASURES, the hold time, or a path, of which less is better.

    Raises
    ------
    InputError
        If it is none of these.
    """
    own = own or {}
    if name in own:
        return own[name]
    if name in MEASURES:
        return MEASURES[name]
    if name == HOLD:
        return HOLD_TIME
    fields = number_fields(container, scenario)
    if name not in fields:
        hint = nearest_hint(name, [*own, *MEASURES, HOLD, *fields])
        known = ", ".join(dict.fromkeys([*MEASURES, HOLD, *own]))
        raise InputError(f"is unknown; {hint}allowed: {known}, or the path of a number", name, source=source)
    label = dimension_words(name, container)[0]
    return Measure(name, label, fields[name].quantity.dimension, True, lambda c, s: _at(name, c, s))


def _at(path: str, container: Container, scenario: Scenario) -> Numeric:
    place: object = scenario if path.startswith(SCENARIO) else container
    for key in path.removeprefix(SCENARIO).split("."):
        if isinstance(place, tuple):
            place = place[int(key)] if int(key) < len(place) else None
        else:
            place = getattr(place, key, None)
    return np.nan if place is None else place  # type: ignore[return-value]


@dataclass(frozen=True)
class Constraint:
    """A bound on a measure.

    Attributes
    ----------
    measure : Measure
    bound : float
        [SI]
    is_upper : bool
        At most, or at least.
    """

    measure: Measure
    bound: float
    is_upper: bool

    def miss(self, values: Numeric) -> Numeric:
        """Return by how much values miss the bound, relative to it; 0 or less where they meet it."""
        beyond = values - self.bound if self.is_upper else self.bound - values
        # What equals the bound but for rounding meets it.
        return beyond / self._size - 1e-9

    def value(self, miss: float) -> float:
        """Return the value that misses the bound by so much. [SI]"""
        beyond = (miss + 1e-9) * self._size
        return self.bound + beyond if self.is_upper else self.bound - beyond

    @property
    def _size(self) -> float:
        return max(abs(self.bound), 1e-9)

    def text(self) -> str:
        """Return the bound in words."""
        return f"{self.measure.label} {'at most' if self.is_upper else 'at least'} {self.measure.text(self.bound)}"


def read_constraint(
    name: str,
    text: str,
    is_upper: bool,
    container: Container,
    scenario: Scenario,
    source: str,
    own: Mapping[str, Measure] | None = None,
) -> Constraint:
    """Return the constraint that an option describes.

    Raises
    ------
    InputError
        If the name is unknown or the value has the wrong unit.
    """
    measure = read_measure(name, container, scenario, source, own)
    with told_of(name, source):
        bound = _plain(text, measure) if measure.dimension is None else parse_quantity(text, measure.dimension)
    return Constraint(measure, bound, is_upper)


def _plain(text: str, measure: Measure) -> float:
    if measure.name == COST:
        return parse_quantity(text, Dimension.FRACTION)
    if not text.isdecimal():
        raise ValueError(f"{shortened(text)} is not a whole number")
    return float(text)
