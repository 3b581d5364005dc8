"""Ranges and choices as they are typed, and the paths they are for."""

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.ranges import Range
from thermal_model.scenario import Scenario
from thermal_model.study.ranges import Choices, number_field, number_fields, read_variation

CONTAINER, SCENARIO = load_container("slim_neck_double_seal"), Scenario()
MOUTH = "body.neck.mouth_diameter"


def read(path: str, text: str) -> Range | Choices:
    return read_variation(path, text, CONTAINER, SCENARIO, "--vary")


@pytest.mark.parametrize(
    ("text", "low", "high", "count"),
    [
        ("30..60 mm", 0.03, 0.06, None),
        ("30mm..60mm", 0.03, 0.06, None),
        ("3 cm .. 60 mm:7", 0.03, 0.06, 7),
        ("1 1/2..2 in", 0.0381, 0.0508, None),
        (".03..6e-2 m: 2", 0.03, 0.06, 2),
    ],
)
def test_ranges(text: str, low: float, high: float, count: int | None) -> None:
    found = read(MOUTH, text)
    assert isinstance(found, Range)
    assert (found.low, found.high, found.count) == (low, high, count)


def test_steps_include_both_ends() -> None:
    found = read(MOUTH, "30..60 mm:4")
    assert isinstance(found, Range)
    assert found.steps() == pytest.approx([0.03, 0.04, 0.05, 0.06])
    assert found.at(np.array([0.0, 0.5, 1.0])) == pytest.approx([0.03, 0.045, 0.06])


def test_temperatures_are_absolute_and_fractions_plain() -> None:
    room, humidity = read("scenario.room", "59..68 F"), read("scenario.relative_humidity", "20..80 %")
    assert isinstance(room, Range)
    assert isinstance(humidity, Range)
    assert (room.low, room.high) == pytest.approx((288.15, 293.15))
    assert (humidity.low, humidity.high) == pytest.approx((0.2, 0.8))


def test_choices_are_numbers_or_kinds() -> None:
    numbers, kinds = read(MOUTH, "30, 40, 60 mm"), read("body.gap.shields", "0,1,2")
    gone = read("body.lip.thickness", "none, 3 mm")
    assert isinstance(numbers, Choices)
    assert numbers.values == (0.03, 0.04, 0.06)
    assert numbers.field is not None
    assert isinstance(kinds, Choices)
    assert (kinds.values, kinds.field) == ((0, 1, 2), None)
    assert isinstance(gone, Choices)
    assert (gone.values, gone.field) == (("none", "3 mm"), None)


@pytest.mark.parametrize(
    ("path", "text", "said"),
    [
        ("body.neck.mouth_diametre", "30..60 mm", r"unknown path; did you mean 'body\.neck\.mouth_diameter'\?"),
        ("lid.openings.0.diameter", "3..6 mm", "unknown path"),
        ("body.gap.kind", "1..2 mm", "holds no number with a unit"),
        (MOUTH, "60..30 mm", "is reversed; write '30 mm..60 mm'"),
        (MOUTH, "30..30 mm", "is empty"),
        (MOUTH, "30..", r"is no range; write low\.\.high, for example '10\.\.20 mm'"),
        (MOUTH, "30..60", "has no unit"),
        (MOUTH, "30..60 mL", "is not a length"),
        (MOUTH, "0..60 mm", "must be above zero"),
        (MOUTH, "30..60 mm:1", "2 or more"),
        (MOUTH, "30..60 mm:x", "2 or more"),
        (MOUTH, "45 mm", "set it with --set"),
        (MOUTH, "45,45 mm", "a value comes twice"),
        ("body.nek.length", "none, 3 mm", "unknown path"),
    ],
)
def test_refusals(path: str, text: str, said: str) -> None:
    with pytest.raises(InputError, match=said) as caught:
        read(path, text)
    assert len(caught.value.problems) == 1
    assert str(caught.value).startswith(f"--vary: {path}")


def test_every_number_has_its_path() -> None:
    fields = number_fields(CONTAINER, SCENARIO)
    assert fields[MOUTH].value == 0.044
    assert fields[MOUTH].is_given
    assert not fields["body.gap.pressure"].is_given
    assert fields["body.lip.thickness"].value is None
    assert fields["lid.layers.1.depth"].value == 0.012
    assert fields["scenario.start"].value == 363.15
    assert number_field("scenario.fill", CONTAINER, SCENARIO, "--vary").value is None
