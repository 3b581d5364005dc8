"""Units at the edge, held to pint as an independent library and to definitions."""

import math
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from geometries import quantities
from geometries.quantities import (
    UNITS,
    Dimension,
    Duration,
    Emissivity,
    Fraction,
    Length,
    NonNegativeLength,
    PositiveLength,
    QuantityField,
    Temperature,
    TemperatureDifference,
    exact_text,
    format_quantity,
    parse_quantity,
)

REGISTRY: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
SI = {
    Dimension.LENGTH: "m",
    Dimension.AREA: "m**2",
    Dimension.VOLUME: "m**3",
    Dimension.MASS: "kg",
    Dimension.DURATION: "s",
    Dimension.TEMPERATURE: "K",
    Dimension.TEMPERATURE_DIFFERENCE: "K",
    Dimension.PRESSURE: "Pa",
    Dimension.CONDUCTIVITY: "W/m/K",
    Dimension.CONDUCTANCE: "W/m**2/K",
    Dimension.HEAT_LOSS_COEFFICIENT: "W/K",
    Dimension.THERMAL_RESISTANCE: "K/W",
    Dimension.POWER: "W",
    Dimension.SPEED: "m/s",
    Dimension.IRRADIANCE: "W/m**2",
    Dimension.DENSITY: "kg/m**3",
    Dimension.HEAT_CAPACITY: "J/kg/K",
    Dimension.FRACTION: "dimensionless",
}
TABLE = [(dimension, unit) for dimension, units in UNITS.items() for unit in units]


def test_every_dimension_is_in_the_table():
    assert set(UNITS) == set(Dimension) == set(SI)


@pytest.mark.parametrize(("dimension", "unit"), TABLE, ids=lambda v: getattr(v, "symbol", getattr(v, "name", "")))
def test_every_spelling_of_the_table_means_what_pint_says(dimension, unit):
    expected = REGISTRY.Quantity(7.25, unit.pint_name).to(SI[dimension]).magnitude
    for spelling in (unit.symbol, *unit.spellings):
        assert parse_quantity(f"7.25 {spelling}", dimension) == pytest.approx(expected, rel=1e-14)
        assert parse_quantity(f"7.25{spelling}", dimension) == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("48 mm", Dimension.LENGTH, 0.048),
        ("48 MM", Dimension.LENGTH, 0.048),
        ("1 7/8 in", Dimension.LENGTH, 0.047625),
        ('7/8"', Dimension.LENGTH, 0.022225),
        ("50 µm", Dimension.LENGTH, 5e-5),
        ("50 μm", Dimension.LENGTH, 5e-5),
        (".5 mm", Dimension.LENGTH, 5e-4),
        ("5e-1 mm", Dimension.LENGTH, 5e-4),
        # US fluid ounce 29.573 529 562 5 mL exactly, NIST Handbook 44 appendix C; digits from memory.
        ("16 floz", Dimension.VOLUME, 16 * 29.5735295625e-6),
        ("16 fl oz", Dimension.VOLUME, 16 * 29.5735295625e-6),
        # Imperial fluid ounce 28.413 062 5 mL exactly, UK Units of Measurement Regulations 1995; from memory.
        ("1 imp_floz", Dimension.VOLUME, 28.4130625e-6),
        ("473 mL", Dimension.VOLUME, 473e-6),
        ("165 degF", Dimension.TEMPERATURE, 73.8888888888889 + 273.15),
        ("165°F", Dimension.TEMPERATURE, 73.8888888888889 + 273.15),
        ("165 F", Dimension.TEMPERATURE, 73.8888888888889 + 273.15),
        ("74 °C", Dimension.TEMPERATURE, 347.15),
        ("−40 C", Dimension.TEMPERATURE, 233.15),
        ("347 K", Dimension.TEMPERATURE, 347.0),
        ("0.2 W/(m·K)", Dimension.CONDUCTIVITY, 0.2),
        ("0.2 W m⁻¹ K⁻¹", Dimension.CONDUCTIVITY, 0.2),
        ("10 W/m2K", Dimension.CONDUCTANCE, 10.0),
        ("10 W/(m² K)", Dimension.CONDUCTANCE, 10.0),
        ("800 W/m^2", Dimension.IRRADIANCE, 800.0),
        ("1e-4 torr", Dimension.PRESSURE, 1e-4 * 101325 / 760),
        ("1h30min", Dimension.DURATION, 5400.0),
        ("1 h 30 min 5 s", Dimension.DURATION, 5405.0),
        ("5 %", Dimension.FRACTION, 0.05),
        ("0.5", Dimension.FRACTION, 0.5),
    ],
)
def test_common_spellings(text, dimension, expected):
    assert parse_quantity(text, dimension) == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "dimension", "pint_unit"),
    [
        ("2 yards", Dimension.LENGTH, "yard"),
        ("30 psi", Dimension.PRESSURE, "psi"),
        ("200 BTU/hour", Dimension.POWER, "BTU/hour"),
        ("530 degR", Dimension.TEMPERATURE, "degR"),
        ("3 quarts", Dimension.VOLUME, "quart"),
    ],
)
def test_units_outside_the_table_are_left_to_pint(text, dimension, pint_unit):
    number = float(text.split()[0])
    assert parse_quantity(text, dimension) == pytest.approx(
        REGISTRY.Quantity(number, pint_unit).to(SI[dimension]).magnitude
    )


def test_the_table_needs_no_pint(monkeypatch):
    monkeypatch.setattr(quantities, "_pint_registry", lambda: pytest.fail("pint was asked"))
    for dimension, unit in TABLE:
        parse_quantity(f"1 {unit.symbol}", dimension)


def test_a_temperature_difference_is_not_a_temperature():
    assert parse_quantity("5 C", Dimension.TEMPERATURE) == 278.15
    assert parse_quantity("5 C", Dimension.TEMPERATURE_DIFFERENCE) == 5.0
    assert parse_quantity("5 delta_degC", Dimension.TEMPERATURE_DIFFERENCE) == 5.0
    assert parse_quantity("9 F", Dimension.TEMPERATURE_DIFFERENCE) == 5.0
    with pytest.raises(ValueError, match="not a temperature;"):
        parse_quantity("5 delta_degC", Dimension.TEMPERATURE)


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        ("48", Dimension.LENGTH, "'48' has no unit; give the unit, for example '48 mm'"),
        ("48 degC", Dimension.LENGTH, "'48 degC' is not a length; use mm, cm, m, um, in, ft"),
        ("48 psi", Dimension.LENGTH, "'48 psi' is not a length; use mm"),
        ("4,8 mm", Dimension.LENGTH, "has a comma; write a decimal point, as in '4.8 mm'"),
        ("1,000 mL", Dimension.VOLUME, "no thousands mark"),
        ("16 oz", Dimension.VOLUME, "oz is a mass; did you mean '16 floz'?"),
        ("1 lb", Dimension.VOLUME, "lb is a mass"),
        ("48 milimeters", Dimension.LENGTH, "did you mean 'millimeters'?"),
        ("-274 C", Dimension.TEMPERATURE, "below absolute zero"),
        ("-1 K", Dimension.TEMPERATURE, "below absolute zero"),
        ("nan mm", Dimension.LENGTH, "does not start with a number"),
        ("1e999 mm", Dimension.LENGTH, "not a finite number"),
        ("1/0 in", Dimension.LENGTH, "divides by zero"),
        ("", Dimension.LENGTH, "does not start with a number"),
        ("1:30", Dimension.DURATION, "not a known unit; use min, h, s, d"),
        ("2 h 30 foo", Dimension.DURATION, "'foo' is not a known unit"),
        ("3 m**9**9**9**9", Dimension.LENGTH, "not a known unit"),
        ("3 __import__('os')", Dimension.LENGTH, "not a known unit"),
        ("9" * 5000 + " mm", Dimension.LENGTH, "is too long"),
    ],
)
def test_what_is_refused_is_told_in_one_line(text, dimension, message):
    with pytest.raises(ValueError) as caught:  # noqa: PT011 - the message is the check
        parse_quantity(text, dimension)
    told = str(caught.value)
    assert message in told
    assert "\n" not in told
    assert len(told) < 250


@given(st.floats(1e-9, 1e9), st.sampled_from(list(Dimension)))
def test_exact_text_reads_back_as_the_same_float(value, dimension):
    assert parse_quantity(exact_text(value, dimension), dimension) == value


@given(st.text(max_size=30), st.sampled_from(list(Dimension)))
def test_any_text_gives_a_finite_number_or_a_value_error(text, dimension):
    try:
        value = parse_quantity(text, dimension)
    except ValueError:
        return
    assert math.isfinite(value)


@pytest.mark.parametrize(
    ("si", "unit", "text"),
    [
        (0.048, "mm", "48 mm"),
        (347.15, "C", "74 C"),
        (347.0388888888889, "degF", "165 degF"),
        (5.0, "delta_degC", "5 delta_degC"),
        (473.176473e-6, "fl oz", "16 fl oz"),
        (0.25, "%", "25 %"),
    ],
)
def test_format_quantity(si, unit, text):
    assert format_quantity(si, unit) == text


def test_format_quantity_refuses_an_unknown_unit():
    with pytest.raises(ValueError, match="'mmm' is not a known unit; did you mean"):
        format_quantity(1.0, "mmm")


class Record(BaseModel):
    length: Length = 1.0
    width: PositiveLength = 1.0
    step: NonNegativeLength = 0.0
    start: Temperature = 300.0
    drift: TemperatureDifference = 0.0
    time: Duration = 0.0
    emissivity: Emissivity = 0.5
    share: Fraction = 0.5


def test_the_same_temperature_in_three_scales():
    starts = [Record(start=text).start for text in ("95 C", "203 F", "368.15 K")]
    np.testing.assert_allclose(starts, 368.15, rtol=1e-15)


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("length", True, "True is not a length; write for example '48 mm'"),
        ("length", float("inf"), "inf is not a finite number"),
        ("length", None, "None is not a length"),
        ("length", ["48 mm"], "is not a length"),
        ("width", "0 mm", "must be above zero"),
        ("width", "1e-9 m", "must be above zero, at least 0.001 mm and at most 10 m"),
        ("width", "1e-300 mm", "at least 0.001 mm and at most 10000 mm"),
        ("width", "500 in", "at most 393.701 in"),
        ("step", "1e300 m", "must be at least zero and at most 10 m"),
        ("step", "-1 mm", "must be at least zero"),
        ("emissivity", 0, "must be above zero and at most 1"),
        ("emissivity", 1.01, "must be above zero and at most 1"),
        ("emissivity", float("nan"), "not a finite number"),
        ("share", "130 %", "must be at least zero and at most 1"),
        ("start", "74", "has no unit"),
    ],
)
def test_a_field_refuses(field, value, message):
    with pytest.raises(ValidationError) as caught:
        Record(**{field: value})
    assert message in str(caught.value)


def test_bounds_are_rounded_and_in_the_unit_given() -> None:
    room = QuantityField(Dimension.TEMPERATURE, at_least=233.14999999999998, at_most=373.15)
    assert room.bounds_text() == "must be at least -40 C and at most 100 C"
    for wrong, allowed in (
        ("-50 C", "-40 C and at most 100 C"),
        ("-50 F", "-40 F and at most 212 F"),
        ("1 K", "233.15 K"),
    ):
        with pytest.raises(ValueError, match=f"'{wrong}' is not allowed; it must be at least {allowed}"):
            room.read(wrong)


def test_a_field_reads_and_writes_text():
    record = Record(length="1 7/8 in", drift="5 C", emissivity="0.1", share="5 %")
    assert (record.length, record.drift, record.emissivity, record.share) == (0.047625, 5.0, 0.1, 0.05)
    assert Record.model_validate(record.model_dump(mode="json")) == record
    assert record.model_dump(mode="json")["length"] == "47.625 mm"
