"""The pipeline: reproducible, its parts in step with each other, and plain words for what cannot be."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from tests.geometries.designs import cup
from tests.thermal_model.runs import scenario
from thermal_model.prediction import Prediction, check_fill, check_limits, predict
from thermal_model.report.results import note_lines

MUG = load_container("stoneware_cup")
BOTTLE = load_container("single_wall_steel")
HOT = scenario(start="90 C", room="20 C")
DRAWS = 40


@cache
def hot_bottle(seed: int = 5, draws: int = DRAWS) -> Prediction:
    return predict(BOTTLE, HOT, [353.15, 343.15], draws=draws, seed=seed)


def test_the_same_seed_gives_the_same_prediction() -> None:
    again = predict(BOTTLE, HOT, [353.15, 343.15], draws=DRAWS, seed=5)
    assert again.hold_times == hot_bottle().hold_times
    assert again.contributions == hot_bottle().contributions
    np.testing.assert_array_equal(again.curve.low, hot_bottle().curve.low)


def test_another_seed_gives_another_sample_of_the_same() -> None:
    other = hot_bottle(seed=6)
    mine, theirs = hot_bottle().hold_times[0], other.hold_times[0]
    assert mine.median is not None
    assert theirs.median is not None
    assert mine.median != theirs.median
    assert mine.median == pytest.approx(theirs.median, rel=0.1)


def test_the_nominal_case_does_not_depend_on_the_sample() -> None:
    alone = hot_bottle(draws=0)
    for with_sample, without in zip(hot_bottle().hold_times, alone.hold_times, strict=True):
        assert with_sample.nominal == without.nominal
        assert (without.low, without.median, without.high) == (None, None, None)
    assert alone.heat_paths == hot_bottle().heat_paths
    assert alone.contributions == ()
    assert alone.draws == 0


def test_the_interval_holds_median_and_grows_with_the_limit() -> None:
    for hold in hot_bottle().hold_times:
        assert hold.low is not None
        assert hold.median is not None
        assert hold.high is not None
        assert hold.low < hold.median < hold.high
        assert hold.share_reached == 1.0


def test_hold_time_is_monotone_in_the_limit() -> None:
    limits = [355.15, 350.15, 340.15, 330.15, 320.15]
    times = [hold.nominal for hold in predict(BOTTLE, HOT, limits, draws=0).hold_times if hold.nominal is not None]
    assert len(times) == len(limits)
    assert np.all(np.diff(times) > 0.0)


def test_the_curve_passes_the_limit_at_the_hold_time() -> None:
    result = hot_bottle(draws=0)
    hold = result.hold_times[0]
    assert hold.nominal is not None
    at = np.interp(hold.nominal, result.curve.time, result.curve.nominal)
    assert at == pytest.approx(hold.limit, abs=0.02)
    assert np.all(np.diff(result.curve.nominal) < 0.0)
    assert result.curve.nominal[0] == pytest.approx(363.15, abs=1e-6)


def test_the_band_lies_about_the_curve() -> None:
    curve = hot_bottle().curve
    assert np.all(curve.low <= curve.high)
    later = curve.time > 600.0
    assert np.all((curve.low < curve.nominal) & (curve.nominal < curve.high) | ~later)


def test_paths_add_up_to_the_coefficient() -> None:
    result = hot_bottle(draws=0)
    assert sum(result.heat_paths.values()) == pytest.approx(result.heat_loss_coefficient, rel=1e-12)
    assert result.reference_temperature == pytest.approx(0.5 * (363.15 + 343.15))
    assert result.energy_balance_error < 1e-6


def test_the_coefficient_and_the_curve_tell_of_one_container() -> None:
    # With walls at rest, m cp dT/dt = -UA (T - room), walls adding a few percent to the capacity.
    case = scenario(start="80 C", room="20 C", walls="preheated", fill="500 mL")
    result = predict(BOTTLE, case, [333.15], draws=0)
    hold = result.hold_times[0].nominal
    assert hold is not None
    water = 0.5e-3 * 972.0 * 4190.0
    expected = water / result.heat_loss_coefficient * np.log(60.0 / 40.0)
    assert 1.0 < hold / expected < 1.2


def test_a_limit_never_reached_is_none() -> None:
    result = predict(BOTTLE, HOT, [353.15, 313.15], draws=24, horizon=3600.0)
    early, late = result.hold_times
    assert early.nominal is not None
    assert (late.nominal, late.median, late.low, late.high) == (None, None, None, None)
    assert late.share_reached == 0.0
    assert result.final_time == pytest.approx(3600.0, abs=1e-6)
    assert result.final_temperature > 313.15


def test_a_limit_that_part_of_the_sample_reaches_has_an_open_end() -> None:
    nominal = hot_bottle(draws=0).hold_times[1].nominal
    assert nominal is not None
    hold = predict(BOTTLE, HOT, [343.15], draws=24, horizon=nominal).hold_times[0]
    assert 0.1 < hold.share_reached < 0.9
    assert hold.low is not None
    assert hold.high is None


def test_progress_rises_to_the_end() -> None:
    seen: list[float] = []
    predict(MUG, HOT, [343.15], draws=4, progress=seen.append)
    assert seen == sorted(seen)
    assert 0.0 <= seen[0] < seen[-1] <= 1.0


def test_open_contents_evaporate() -> None:
    assert predict(cup(), HOT, [343.15], draws=0).evaporated > 1e-3
    assert predict(BOTTLE, HOT, [353.15], draws=0).evaporated == 0.0


# --- refusals ----------------------------------------------------------------------------------------------------

REFUSED: list[tuple[dict[str, Any], list[float], str]] = [
    ({"start": "90 C"}, [], "give at least one limit"),
    ({"start": "90 C"}, [363.15], "90.0 C is the start temperature itself"),
    ({"start": "90 C"}, [368.15], "contents at 90.0 C do not warm in a room at 20.0 C"),
    ({"start": "5 C", "room": "25 C"}, [275.15], "contents at 5.0 C do not cool in a room at 25.0 C"),
    ({"start": "90 C", "room": "20 C"}, [283.15], "10.0 C lies below the room, 20.0 C"),
    ({"start": "5 C", "room": "25 C"}, [303.15], "30.0 C lies above the room, 25.0 C"),
    ({"start": "90 C"}, [378.15], "105.0 C is outside the liquid range of water"),
]


@pytest.mark.parametrize(("options", "limits", "message"), REFUSED)
def test_limits_that_cannot_be_are_refused(options: dict[str, Any], limits: list[float], message: str) -> None:
    with pytest.raises(InputError, match=message.replace(".", r"\.")):
        check_limits(scenario(**options), limits)


def test_every_bad_limit_is_named_at_once() -> None:
    with pytest.raises(InputError) as caught:
        check_limits(scenario(start="90 C"), [363.15, 368.15, 283.15, 333.15])
    assert len(caught.value.problems) == 3


def test_limits_that_can_be_are_taken() -> None:
    check_limits(scenario(start="90 C"), [353.15, 300.0])
    check_limits(scenario(start="0 C", ice="50 g"), [273.15, 278.15])
    check_limits(scenario(start="60 C"), [290.15], can_evaporate=True)
    check_limits(scenario(start="5 C", room="25 C", sunlight="500 W/m2"), [300.15])
    profile = {"times": ["0 h", "3 h"], "temperatures": ["20 C", "5 C"]}
    check_limits(scenario(start="60 C", room_profile=profile), [283.15])


def test_too_much_is_refused() -> None:
    with pytest.raises(InputError):
        check_fill(BOTTLE, scenario(fill="2 L"))
    with pytest.raises(InputError, match="fills the container alone"):
        check_fill(BOTTLE, scenario(start="5 C", ice="2 kg"))
    check_fill(BOTTLE, scenario(fill="300 mL"))


def test_results_are_frozen() -> None:
    result = hot_bottle(draws=0)
    with pytest.raises(AttributeError):
        result.draws = 3  # type: ignore[misc]
    assert replace(result, draws=3).draws == 3


# --- a millilitre ----------------------------------------------------------------------------------------------------

COLD = {"start": "3 C", "room": "28 C"}


@cache
def iced_bottle(fill: str | None) -> Prediction:
    filled = {} if fill is None else {"fill": fill}
    return predict(load_container("three_layer_wall"), scenario(**COLD, **filled), [283.15], draws=0)


def nominal(prediction: Prediction) -> float:
    time = prediction.hold_times[0].nominal
    assert time is not None
    return time


def test_a_millilitre_moves_what_two_runs_say() -> None:
    effect = iced_bottle("620 mL").millilitre
    middle = nominal(iced_bottle("620 mL"))
    assert effect.less == pytest.approx(nominal(iced_bottle("619 mL")) - middle, rel=1e-6)
    assert effect.more == pytest.approx(nominal(iced_bottle("621 mL")) - middle, rel=1e-6)
    assert effect.less is not None
    assert effect.more is not None
    assert effect.beyond_contents == pytest.approx(-effect.more / middle + 1.0 / 620.0, rel=0.01)


def test_a_millilitre_is_told_where_it_moves_a_full_container_by_more_than_a_hundredth() -> None:
    (told,) = note_lines(iced_bottle(None))
    less, more = (f"{round(abs(change or 0.0) / 60.0)} min" for change in _both(iced_bottle(None)))
    assert told == (
        f"So full, every millilitre counts: 1 mL less than 621 mL holds {less} longer, 1 mL more {more} shorter."
    )
    assert note_lines(iced_bottle("400 mL")) == []
    assert note_lines(hot_bottle()) == []
    # A small cup holds longer with every millilitre for its heat alone, which nobody needs to be told.
    assert note_lines(predict(MUG, scenario(start="90 C", room="20 C", fill="60 mL"), [343.15], draws=0)) == []


def _both(prediction: Prediction) -> tuple[float | None, float | None]:
    return prediction.millilitre.less, prediction.millilitre.more


def test_a_millilitre_that_has_no_room_is_not_told() -> None:
    brim = predict(load_container("three_layer_wall"), scenario(**COLD, air_under_lid="0 mm"), [283.15], draws=0)
    assert brim.millilitre.more is None
    assert "more" not in note_lines(brim)[0]


def test_nothing_is_told_of_a_limit_that_is_not_reached() -> None:
    short = predict(BOTTLE, HOT, [303.15], draws=0, horizon=600.0)
    assert short.hold_times[0].nominal is None
    assert _both(short) == (None, None)
    assert note_lines(short) == []


def test_the_millilitres_beside_do_not_touch_the_prediction() -> None:
    assert iced_bottle("620 mL").draws == 0
    with_sample = predict(load_container("three_layer_wall"), scenario(**COLD, fill="620 mL"), [283.15], draws=4)
    assert nominal(with_sample) == nominal(iced_bottle("620 mL"))
    assert with_sample.millilitre == iced_bottle("620 mL").millilitre
    assert with_sample.failed_draws == 0
