"""Half full against full, preheated against cold: the accounts balance, and the causes add up."""

import math
from functools import cache

import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from thermal_model.assemble.contents import filled_volume
from thermal_model.prediction import predict
from thermal_model.reasons.loss_story import SIX_HOURS, HeatAccount, heat_account, loss_story, lumped_end
from thermal_model.scenario import Opening, Preheat, Scenario

SLIM = load_container("thin_disc_lid")
FULL = Scenario(start="95 C")
HALF = FULL.model_copy(update={"fill": 0.5 * float(filled_volume(SLIM, FULL))})
PREHEATED = Scenario(start="95 C", preheat=Preheat(duration="5 min", temperature="95 C"))
COLD = Scenario(start="4 C")
SCENARIOS = {"full": FULL, "half": HALF, "preheated": PREHEATED, "cold": COLD}


@cache
def account_of(name: str) -> HeatAccount:
    return heat_account(SLIM, SCENARIOS[name], SIX_HOURS)


def shares_of(first: Scenario, second: Scenario) -> tuple[HeatAccount, HeatAccount, dict[str, float]]:
    story = loss_story(SLIM, first, second)
    names = ("by_heat_capacity", "by_coefficient", "by_walls", "by_conditions")
    return story.first, story.second, {name: getattr(story, name) for name in names}


@pytest.mark.parametrize("name", SCENARIOS)
def test_the_sum_by_hand_agrees_with_the_model(name: str) -> None:
    """UA at rest x mean difference x time against the heat the room got; UA grows with temperature, so not exactly."""
    account = account_of(name)
    assert account.by_hand == pytest.approx(account.to_room, rel=0.06)


@pytest.mark.parametrize("name", SCENARIOS)
def test_the_lumped_body_ends_where_the_model_does(name: str) -> None:
    account = account_of(name)
    end = lumped_end(account, account.heat_capacity, account.lumped_coefficient, account.to_walls)
    assert end == pytest.approx(account.end, abs=1e-9)
    assert account.lumped_coefficient == pytest.approx(account.heat_loss_coefficient, rel=0.15)


def test_the_contents_give_what_water_holds() -> None:
    """m c dT with 4.19 kJ/kgK of water; handbook value."""
    account = account_of("full")
    mass = account.fill * 961.9  # at 95 C, IAPWS-95
    assert account.given == pytest.approx(mass * 4190.0 * (account.start - account.end), rel=0.005)


def test_half_a_fill_is_colder_and_holds_half_the_heat() -> None:
    full, half, shares = shares_of(FULL, HALF)
    assert half.end < full.end
    assert half.heat_capacity == pytest.approx(0.5 * full.heat_capacity, rel=0.01)
    assert half.heat_loss_coefficient > 0.5 * full.heat_loss_coefficient
    assert shares["by_heat_capacity"] < 0.0 < shares["by_coefficient"]
    assert sum(shares.values()) == pytest.approx(half.end - full.end, rel=1e-9)
    assert shares["by_conditions"] == 0.0


def test_preheating_saves_what_the_walls_would_have_taken() -> None:
    cold, hot, shares = shares_of(FULL, PREHEATED)
    assert hot.end > cold.end
    assert hot.to_walls < 0.0 < cold.to_walls
    assert shares["by_walls"] == pytest.approx(hot.end - cold.end, abs=0.8)
    assert abs(shares["by_heat_capacity"]) < 0.01
    assert sum(shares.values()) == pytest.approx(hot.end - cold.end, rel=1e-9)


def test_another_room_counts_as_conditions() -> None:
    chilly = FULL.model_copy(update={"room": 283.15})
    full, other, shares = shares_of(FULL, chilly)
    assert shares["by_conditions"] < 0.0
    assert sum(shares.values()) == pytest.approx(other.end - full.end, rel=1e-9)


def test_the_interval_surrounds_the_best_guess() -> None:
    account = heat_account(SLIM, FULL, 3600.0, draws=12)
    assert account.end_low < account.end < account.end_high
    assert math.isnan(heat_account(SLIM, FULL, 3600.0).end_low)


def test_the_end_is_that_of_the_prediction() -> None:
    account = account_of("full")
    held = predict(SLIM, FULL, [account.end], draws=0).hold_times[0].nominal
    assert held == pytest.approx(SIX_HOURS, rel=1e-4)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"openings": (Opening(at="1 h"),)}, "openings take contents away"),
        ({"ice": 0.05, "start": 277.15}, "ice melts first"),
        ({"sunlight": 500.0}, "sunlight adds heat"),
        ({"start": 293.15}, "contents and room are alike"),
    ],
)
def test_other_accounts_are_refused(changes: dict[str, object], said: str) -> None:
    with pytest.raises(InputError, match=said):
        heat_account(SLIM, FULL.model_copy(update=changes | {"fill": 2e-4}), SIX_HOURS)


def test_an_open_cup_is_refused() -> None:
    with pytest.raises(InputError, match="an open cup loses vapour"):
        heat_account(load_container("stoneware_cup"), FULL, SIX_HOURS)
