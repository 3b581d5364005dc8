"""Rates and starts of made runs: an exponential has one rate, and starts where it starts."""

from dataclasses import replace

import numpy as np
import pytest

from tests.thermal_model.bench.made_runs import HOUR, LOG, PROBES, WIRELESS, ZERO, celsius, displayed, made_run
from tests.thermal_model.bench.reduce.test_hold_times import SURE
from thermal_model.bench.records import Run
from thermal_model.bench.reduce.cooling_rate import cooling_rate, extrapolated_start
from thermal_model.bench.reduce.evidence import points_of
from thermal_model.bench.reduce.pour_dip import expected_shares, pour_dip
from thermal_model.scenario import WallStart


def rate_of(run: Run) -> float:
    found = cooling_rate(points_of(run, PROBES, SURE), run.room_spread)
    assert found is not None
    return found.rate


@pytest.mark.parametrize(("poured", "room"), [(90.0, 20.0), (4.0, 22.0)])
def test_rate_of_an_exponential(poured: float, room: float) -> None:
    run = made_run(poured=poured, room=room)
    assert rate_of(run) == pytest.approx(1.0 / (15.0 * HOUR), rel=1e-9)


def test_what_the_walls_take_at_first_does_not_enter() -> None:
    shown = celsius(LOG, 90.0, 20.0, 15.0) + 5.0 * np.exp(-LOG / 200.0)
    assert rate_of(made_run(shown=shown)) == pytest.approx(1.0 / (15.0 * HOUR), rel=1e-3)


def test_rounded_readings_give_the_rate_within_its_uncertainty() -> None:
    generator, distances = np.random.default_rng(3), []
    for _ in range(100):
        shown = displayed(celsius(LOG, 90.0, 20.0, 15.0), WIRELESS, generator)
        run = made_run(probe="wireless", shown=shown, room_spread=1e-6)
        found = cooling_rate(points_of(run, PROBES, SURE), run.room_spread)
        assert found is not None
        distances.append((found.rate * 15.0 * HOUR - 1.0) / found.spread)
    assert 0.6 < np.std(distances) < 1.2


def test_a_room_nobody_measured_gives_no_rate() -> None:
    run = made_run(room_spread=np.inf)
    assert cooling_rate(points_of(run, PROBES, SURE), run.room_spread) is None


def test_two_readings_give_no_rate() -> None:
    run = made_run(times=np.array([120.0, 8.0 * HOUR]))
    assert cooling_rate(points_of(run, PROBES, SURE), run.room_spread) is None


def test_start_is_extrapolated_through_what_the_walls_take() -> None:
    shown = celsius(LOG, 87.0, 20.0, 15.0) + 3.0 * np.exp(-LOG / 200.0)
    found = extrapolated_start(points_of(made_run(shown=shown), PROBES, SURE))
    assert found is not None
    assert found.temperature - ZERO == pytest.approx(87.0, abs=0.01)


def test_dip_is_what_was_poured_less_where_it_starts() -> None:
    run = made_run(shown=celsius(LOG, 87.0, 20.0, 15.0))
    dip = pour_dip(run, extrapolated_start(points_of(run, PROBES, SURE)))
    assert dip is not None
    assert dip.dip == pytest.approx(3.0, abs=0.01)
    assert dip.spread >= run.start_spread
    assert dip.expected_low < 3.0 < dip.expected_high


def test_walls_take_by_mixing() -> None:
    """300 g of steel would take 150 J/K; half a litre of water holds 2.09 kJ/K."""
    low, high = expected_shares(made_run())
    assert 0.01 < low < 0.04
    assert low < high < 0.12


def test_preheated_walls_take_nothing() -> None:
    run = made_run()
    scenario = run.scenario.model_copy(update={"walls": WallStart.PREHEATED})
    assert expected_shares(replace(run, scenario=scenario)) == (0.0, 0.0)
