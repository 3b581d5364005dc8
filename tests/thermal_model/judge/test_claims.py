"""Claims: what they say, what they leave open, and the share of draws that keeps them."""

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.validation import validated
from thermal_model.judge.claims import Claim, Verdict, check_claim, read_claim, verdict_of
from thermal_model.judge.food_holding import HoldingLimit, held_times
from thermal_model.prediction import drawn_runs
from thermal_model.scenario import Scenario

CUP = load_container("stoneware_cup")
RUN = validated(Scenario, {"fill": "200 mL", "start": "85 C", "room": "20 C"})


@pytest.mark.parametrize(
    ("text", "is_hot", "hours"),
    [
        ("hot for 12 h", True, 12.0),
        ("Keeps drinks COLD 24 hours", False, 24.0),
        ("6h hot", True, 6.0),
        ("stays warm for 90 minutes", True, 1.5),
        ("1 h 30 min iced", False, 1.5),
        ("cold for 2 days", False, 48.0),
        ("hot for 0.5 h", True, 0.5),
    ],
)
def test_claims_are_read(text, is_hot, hours):
    assert read_claim(text) == Claim(is_hot, hours * 3600.0)


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("12 h", "neither hot nor cold"),
        ("hot 12 h, cold 24 h", "both hot and cold"),
        ("hot", "not for how long"),
        ("hot for half a day", "not for how long"),
        ("hot for 6 h or 8 h", "more than one duration"),
        ("hot for 90 days", "at most 7 days"),
        ("hot for 0 h", "above zero"),
    ],
)
def test_claims_that_say_too_little_or_too_much(text, fragment):
    with pytest.raises(InputError, match=fragment):
        read_claim(text)


def test_rule():
    assert [verdict_of(p) for p in (1.0, 0.95, 0.949, 0.051, 0.05, 0.0)] == [
        Verdict.PASS,
        Verdict.PASS,
        Verdict.UNDECIDED,
        Verdict.UNDECIDED,
        Verdict.FAIL,
        Verdict.FAIL,
    ]


def test_probability_is_the_share_of_draws_that_hold_so_long():
    times = drawn_runs(CUP, RUN, [333.15], draws=60, seed=2).crossing_times[0, 1:]
    middle = float(np.median(times))
    for duration, verdict in (
        (0.5 * times.min(), Verdict.PASS),
        (middle, Verdict.UNDECIDED),
        (2.0 * times.max(), Verdict.FAIL),
    ):
        result = check_claim(CUP, RUN, Claim(True, duration), 333.15, draws=60, seed=2)
        assert result.probability == np.mean(times >= duration)
        assert result.verdict is verdict
        assert result.probability_low <= result.probability <= result.probability_high
        assert result.low < result.median < result.high


def test_what_is_never_reached_is_kept():
    cold = validated(Scenario, {"fill": "200 mL", "start": "4 C", "room": "8 C"})
    runs = drawn_runs(CUP, cold, [281.0], draws=20, seed=1, horizon=600.0)
    assert np.all(np.isinf(runs.crossing_times))


def test_limits_for_holding_food_apply_by_direction():
    hot, cold = HoldingLimit(330.15, True, ""), HoldingLimit(278.15, False, "")
    iced = validated(Scenario, {"start": "2 C", "room": "20 C"})
    assert [hot.applies(RUN), cold.applies(RUN), hot.applies(iced), cold.applies(iced)] == [True, False, False, True]
    held = held_times(CUP, RUN, [hot, HoldingLimit(336.15, True, "")], draws=20, seed=1)
    assert held[0].median > held[1].median
