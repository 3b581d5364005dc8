"""Durations and temperatures in words."""

import pytest

from thermal_model.words.numbers import Scale, bar, duration_text, scale_of, sensible_step


@pytest.mark.parametrize(
    ("seconds", "step", "text"),
    [
        (26400.0, 60.0, "7 h 20 min"),
        (7200.0, 60.0, "2 h"),
        (2520.0, 60.0, "42 min"),
        (45.0, 60.0, "45 s"),
        (0.0, 60.0, "0 s"),
        (599.7, 60.0, "10 min"),
        (3599.0, 60.0, "1 h"),
        (26499.0, 600.0, "7 h 20 min"),
        (30 * 3600.0, 60.0, "30 h"),
        (604800.0, 60.0, "7 d"),
        (2.5 * 86400.0, 3600.0, "2 d 12 h"),
    ],
)
def test_duration(seconds: float, step: float, text: str) -> None:
    assert duration_text(seconds, step) == text


@pytest.mark.parametrize(("spread", "step"), [(9000.0, 600.0), (1800.0, 60.0), (90.0, 1.0), (1e6, 3600.0)])
def test_rounding_is_finer_than_a_tenth_of_the_spread(spread: float, step: float) -> None:
    assert sensible_step(spread) == step


@pytest.mark.parametrize(
    ("texts", "scale"),
    [
        (("60 C", "194 F"), Scale.CELSIUS),
        ((None, "165 degF"), Scale.FAHRENHEIT),
        (("60°C",), Scale.CELSIUS),
        (("140 Fahrenheit",), Scale.FAHRENHEIT),
        (("333 K",), Scale.KELVIN),
        ((None, None), Scale.CELSIUS),
    ],
)
def test_scale_is_the_one_that_was_typed(texts: tuple[str | None, ...], scale: Scale) -> None:
    assert scale_of(*texts) is scale


def test_temperature_in_three_scales() -> None:
    assert [scale.text(333.15) for scale in Scale] == ["60 °C", "140 °F", "333.1 K"]
    assert [scale.number(333.15) for scale in Scale] == pytest.approx([60.0, 140.0, 333.15])


def test_bar_stays_within_its_width() -> None:
    assert [len(bar(share)) for share in (-0.2, 0.0, 0.5, 1.0, 1.7)] == [0, 0, 12, 24, 24]


def test_zero_is_written_without_its_rounding() -> None:
    assert Scale.CELSIUS.text(273.15) == "0 °C"
    assert Scale.FAHRENHEIT.text(273.15) == "32 °F"
