"""Correlations of a script's own: the model's own again, a constant, and what is refused."""

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import thermal_model as tm
from thermal_model import follow
from thermal_model.solver import steppers
from thermal_model.solver.stepping import PlainStepper

TEA = {"fill": "200 mL"}


def film(surface: Any, room: Any, area: Any) -> Any:
    return 9.0 * area * (surface - room)


def hold(correlations: Any = None, scenario: Any = TEA) -> float:
    found = tm.predict("single_wall_steel", scenario, until="60 C", draws=0, correlations=correlations)
    nominal = found.hold_times[0].nominal
    assert nominal is not None
    return nominal


@pytest.mark.parametrize("design", ["single_wall_steel", "slim_neck_double_seal"])
def test_every_correlation_replaced_by_itself_changes_no_bit(design: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(steppers, "stepper_for", lambda _: PlainStepper)  # as with correlations of one's own
    monkeypatch.setattr(follow, "stepper_for", lambda _: PlainStepper)
    own, plain = (
        tm.predict(design, TEA, until="60 C", draws=0, correlations=correlations)
        for correlations in (tm.model_correlations(), None)
    )
    assert own.hold_times == plain.hold_times
    assert own.heat_paths == plain.heat_paths
    assert own.energy_balance_error == plain.energy_balance_error


def test_a_constant_is_the_pin() -> None:
    pinned = hold(scenario=TEA | {"pins": {"exterior_film": "9 W/m2K"}})
    assert hold({"vertical_face": film, "horizontal_face": film}) == pytest.approx(pinned, rel=1e-9)
    assert abs(hold() / pinned - 1.0) > 0.02


def test_what_only_arrays_can_do_is_derived_by_differences() -> None:
    def clipped(surface: Any, room: Any, area: Any) -> Any:
        return 9.0 * np.asarray(area) * np.asarray(surface - room).clip(-200.0, 200.0)

    own = {"vertical_face": clipped, "horizontal_face": clipped}
    assert hold(own) == pytest.approx(hold({"vertical_face": film, "horizontal_face": film}), rel=1e-6)


def test_a_sweep_and_a_calibration_take_them_too() -> None:
    vary = {"body.inside_depth": ["90 mm", "110 mm"]}
    pinned = TEA | {"pins": {"exterior_film": "9 W/m2K"}}
    own = tm.sweep(
        *("single_wall_steel", TEA),
        vary=vary,
        until="60 C",
        correlations={"vertical_face": film, "horizontal_face": film},
    )
    expected = tm.sweep("single_wall_steel", pinned, vary=vary, until="60 C")
    assert own.hold_time.values == pytest.approx(expected.hold_time.values, rel=1e-9)
    with pytest.raises(tm.InputError, match="correlations: wetted: is no correlation"):
        tm.calibrate("nowhere", correlations={"wetted": film})


def test_nothing_of_them_is_left_behind() -> None:
    before = hold()
    hold({"vertical_face": film})
    with pytest.raises(tm.InputError):
        hold({"vertical_face": film, "wetted_film": backwards})
    assert hold() == before


def test_a_range_of_ones_own_is_watched() -> None:
    @tm.valid_for(area=(1.0, 2.0))
    def narrow(surface: Any, room: Any, area: Any) -> Any:
        return 9.0 * area * (surface - room)

    found = tm.predict("single_wall_steel", TEA, until="60 C", draws=0, correlations={"vertical_face": narrow})
    assert any(re.match(r"area .* is below 1 \(narrow\)", text) for text in found.outside_validity)


def branching(surface: Any, room: Any, area: Any) -> Any:
    return area * (surface - room) if surface > 310.0 else 2.0 * area * (surface - room)


def backwards(surface: Any, room: Any) -> Any:
    return room - surface


def coloured(surface: Any, room: Any, colour: Any) -> Any:
    return colour * (surface - room)


def worded(surface: Any, room: Any) -> Any:
    return f"{surface - room} W"


def grown(surface: Any, room: Any) -> Any:
    return np.sum(surface - room)


@pytest.mark.parametrize(
    ("name", "own", "message"),
    [
        ("vertical_fase", film, r"vertical_fase: is no correlation of the model; did you mean 'vertical_face'"),
        ("vertical_face", 9.0, r"is no function"),
        ("vertical_face", lambda surface: surface, r"takes less than two temperatures"),
        ("vertical_face", coloured, r"takes colour; .* then any of area, height"),
        ("vertical_face", branching, r"works on numbers, not on arrays .* np.where instead of if"),
        ("vertical_face", grown, r"gives other flows for an array"),
        ("vertical_face", backwards, r"heat flows from warm to cold"),
        ("vertical_face", lambda surface, room: surface - room + 1.0, r"gives 1 W between equal temperatures"),
        ("vertical_face", worded, r"can't be called with numbers in SI units: ValueError"),
    ],
)
def test_what_is_no_law_is_refused_in_one_line(name: str, own: Callable[..., Any], message: str) -> None:
    with pytest.raises(tm.InputError, match=message) as caught:
        hold({name: own})
    assert len(caught.value.problems) == 1
