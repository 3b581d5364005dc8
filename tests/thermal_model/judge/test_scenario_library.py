"""Scenarios that come along, and files of the same form."""

from pathlib import Path

import numpy as np
import pytest

from geometries.container import closed_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.errors import InputError
from thermal_model.assemble.contents import filled_volume, start_enthalpy, start_mass
from thermal_model.judge.carry import carry
from thermal_model.judge.scenario_library import (
    copy_scenario,
    library_names,
    load_carry_scenario,
    settled,
)
from thermal_model.prediction import check_fill, check_limits, predict
from thermal_model.properties import water
from thermal_model.scenario import Scenario

PLAIN = load_container("single_wall_steel")
LEAST = '[scenario]\nstart = "90 C"\n[[limits]]\ntemperature = "60 C"\npurpose = "hot"\nsource = "common practice"\n'


@pytest.mark.parametrize("name", library_names())
@pytest.mark.parametrize("design", catalogue_names())
def test_every_scenario_is_one_that_every_container_can_stand(name: str, design: str) -> None:
    container, wanted = load_container(design), load_carry_scenario(name)
    scenario = wanted.for_container(container)
    check_fill(container, scenario)
    for limit in wanted.limits:
        check_limits(scenario, [float(limit.temperature)])


def test_every_limit_says_why_and_who_says_so() -> None:
    for name in library_names():
        wanted = load_carry_scenario(name)
        assert wanted.summary
        assert all(limit.purpose and limit.source for limit in wanted.limits)


def test_shares_follow_the_size_of_the_container() -> None:
    capacity = float(closed_capacity(PLAIN))
    half = load_carry_scenario("half_full_tea").for_container(PLAIN)
    assert half.fill == pytest.approx(0.5 * capacity)
    iced = load_carry_scenario("iced_water_at_the_helm")
    assert float(iced.for_container(PLAIN).ice) < float(iced.ice_share or 0.0) * capacity  # some melts at once


def test_a_room_file_stands_beside_its_scenario(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("time [h],temperature [degF]\n0,50\n2,41\n")
    (tmp_path / "own.toml").write_text('room_file = "log.csv"\nroom_in_steps = true\n' + LEAST)
    profile = load_carry_scenario(str(tmp_path / "own.toml")).scenario.room_profile
    assert profile is not None
    assert profile.times == pytest.approx((0.0, 7200.0))
    assert profile.temperatures == pytest.approx((283.15, 278.15))
    assert profile.in_steps


# --- ice ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("start", "ice"), [("12 C", "100 g"), ("30 C", "60 g"), ("0.5 C", "5 g"), ("40 C", "20 g")])
def test_settled_ice_and_water_hold_the_same_mass_and_heat(start: str, ice: str) -> None:
    poured = Scenario(start=start, ice=ice, fill="250 mL")
    still = settled(PLAIN, poured)
    assert start_mass(PLAIN, still) == pytest.approx(float(start_mass(PLAIN, poured)), rel=1e-9)
    assert float(start_enthalpy(PLAIN, still)) == pytest.approx(float(start_enthalpy(PLAIN, poured)), rel=1e-6, abs=1.0)


def test_ice_water_is_at_the_melting_point_and_a_little_ice_is_gone() -> None:
    """100 g of ice in 250 g at 12 C: 12.6 kJ of 33.3 kJ melts 38 g; 334 kJ/kg and 4.19 kJ/kgK, handbook values."""
    much = settled(PLAIN, Scenario(start="12 C", ice="100 g", fill="250 mL"))
    assert much.start == water.FREEZING_POINT
    assert float(much.ice) == pytest.approx(0.100 - 0.25 * 4.19 * 12.0 / 334.0, rel=0.01)
    little = settled(PLAIN, Scenario(start="40 C", ice="20 g", fill="250 mL"))
    assert float(little.ice) == 0.0
    assert float(little.start) - 273.15 == pytest.approx((0.25 * 40.0 - 0.02 * 334.0 / 4.19) / 0.27, rel=0.01)


def test_settled_contents_warm_as_the_poured_ones_do() -> None:
    """Within 0.05 %: a level counts by the density of the start, at 12 C and at 0 C."""
    poured = Scenario(start="12 C", ice="80 g", fill="250 mL")
    limits = [295.15 - 4.0]
    times = [predict(PLAIN, s, limits, draws=0).hold_times[0].nominal for s in (poured, settled(PLAIN, poured))]
    assert times[1] == pytest.approx(times[0], rel=5e-4)


def test_settled_contents_fit_where_the_poured_ones_did() -> None:
    full = settled(PLAIN, Scenario(start="4 C", ice="80 g"))
    check_fill(PLAIN, full)
    assert float(filled_volume(PLAIN, full)) > 0.0


# --- carrying -------------------------------------------------------------------------------------------------


def test_carried_times_are_the_predictions_of_the_scenario() -> None:
    names = ("tea_at_the_counter", "half_full_tea")
    found = carry(PLAIN, {name: load_carry_scenario(name) for name in names}, draws=0)
    assert [entry.name for entry in found] == list(names)
    full, half = (entry.prediction for entry in found)
    assert full is not None
    assert half is not None
    hours = {round(h.limit - 273.15): h.nominal for h in full.hold_times}
    assert hours[65] < hours[60] < hours[40]
    assert half.hold_times[0].nominal < hours[60]


def test_a_scenario_that_can_not_be_is_told_and_the_others_go_on() -> None:
    wanted = load_carry_scenario("tea_at_the_counter")
    cold = wanted.model_copy(update={"scenario": wanted.scenario.model_copy(update={"start": 303.15})})
    found = carry(PLAIN, {"good": wanted, "cold": cold}, draws=0)
    assert found[0].prediction is not None
    assert found[1].prediction is None
    assert "can't be reached" in found[1].problem
    with pytest.raises(InputError, match=r"cold: .*can't be reached"):
        carry(PLAIN, {"cold": cold}, draws=0)


def test_same_seed_same_interval() -> None:
    wanted = {"half": load_carry_scenario("half_full_tea")}
    one, other = (carry(PLAIN, wanted, draws=5, seed=3)[0].prediction for _ in range(2))
    assert one is not None
    assert one.hold_times == other.hold_times
    assert np.isfinite(one.hold_times[0].low or np.nan)


# --- files ----------------------------------------------------------------------------------------------------


def test_copy_takes_the_room_file_along(tmp_path: Path) -> None:
    written = copy_scenario("open_deck_at_night", tmp_path)
    assert [path.name for path in written] == ["open_deck_at_night.toml", "open_deck_at_night.csv"]
    assert load_carry_scenario(str(written[0])) == load_carry_scenario("open_deck_at_night")
    with pytest.raises(InputError, match="is there already"):
        copy_scenario("open_deck_at_night", tmp_path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[scenario]\nstart = "90 C"\n', "limits: is missing"),
        (LEAST.replace("90 C", "90 mm"), "scenario.start"),
        (LEAST + "colour = 3\n", "limits.0.colour: unknown key"),
        (LEAST.replace('source = "common practice"', ""), "limits.0.source: is missing"),
        ("fill_share = 0.0\n" + LEAST, "fill_share"),
        ("fill_share = 1.2\n" + LEAST, "fill_share"),
        ('room_file = "nowhere.csv"\n' + LEAST, "nowhere.csv: there is no such file"),
        ('room_file = "x.csv"\n' + LEAST.replace("[scenario]\n", '[scenario]\nroom = "5 C"\n'), "not both"),
        ("[scenario", "is not valid TOML"),
    ],
)
def test_refusals_name_file_and_field(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "bad.toml").write_text(text)
    with pytest.raises(InputError) as error:
        load_carry_scenario(str(tmp_path / "bad.toml"))
    assert said in str(error.value)


def test_a_name_that_is_nearly_right() -> None:
    with pytest.raises(InputError, match="did you mean 'night_watch_sips'"):
        load_carry_scenario("night_watch_sip")
