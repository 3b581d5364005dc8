"""Planned repeats: the power they promise is the power invented benches have."""

import numpy as np
import pytest

from tests.benchmarks.planning import p_values
from thermal_model.plan.repeats import (
    MOST_REPEATS,
    ContainerComparison,
    Repeatability,
    difference_found,
    power_of,
    repeats_for,
)


@pytest.mark.parametrize("comparison", ContainerComparison)
def test_planned_power_is_reached_within_three_points(comparison):
    spread = Repeatability(0.03, 0.02)
    plan = repeats_for(comparison, 0.05, spread)
    found = np.mean(p_values(comparison, 0.05, spread, plan.repeats, 500, np.random.default_rng(5)) < 0.05)
    assert found == pytest.approx(plan.power, abs=0.03)
    assert plan.power >= 0.8


@pytest.mark.parametrize("comparison", ContainerComparison)
def test_without_a_difference_one_in_twenty_is_called_different(comparison):
    found = np.mean(p_values(comparison, 0.0, Repeatability(0.03), 8, 4000, np.random.default_rng(6)) < 0.05)
    assert found == pytest.approx(0.05, abs=0.012)


def test_fewer_repeats_fall_short():
    for comparison in ContainerComparison:
        plan = repeats_for(comparison, 0.05, Repeatability(0.03))
        less = plan.repeats - (2 if comparison is ContainerComparison.CROSSOVER else 1)
        assert power_of(comparison, 0.05, Repeatability(0.03).of(comparison), less, 0.05) < 0.8


def test_days_fall_out_side_by_side():
    quiet, restless = Repeatability(0.02), Repeatability(0.02, 0.1)
    assert repeats_for(ContainerComparison.PAIRED, 0.05, restless) == repeats_for(
        ContainerComparison.PAIRED, 0.05, quiet
    )
    assert (
        repeats_for(ContainerComparison.UNPAIRED, 0.05, restless).repeats
        > repeats_for(ContainerComparison.UNPAIRED, 0.05, quiet).repeats
    )


def test_crossover_comes_in_whole_swaps():
    for difference in (0.02, 0.05, 0.2, 2.0):
        assert repeats_for(ContainerComparison.CROSSOVER, difference, Repeatability(0.03)).repeats % 2 == 0


def test_what_nobody_can_find_is_said():
    plan = repeats_for(ContainerComparison.PAIRED, 1e-5, Repeatability(0.1))
    assert plan.repeats is None
    assert plan.power == pytest.approx(0.05, abs=1e-3)
    assert MOST_REPEATS == 1000


def test_the_difference_found_and_the_repeats_for_it_agree():
    spread = Repeatability(0.02, 0.01)
    difference = difference_found(ContainerComparison.PAIRED, 7, spread, power=0.9, significance=0.05)
    assert repeats_for(ContainerComparison.PAIRED, 1.0001 * difference, spread, power=0.9).repeats == 7
    assert repeats_for(ContainerComparison.PAIRED, 0.99 * difference, spread, power=0.9).repeats == 8


def test_one_run_finds_nothing():
    assert (
        difference_found(ContainerComparison.UNPAIRED, 1, Repeatability(0.02), power=0.8, significance=0.05) == np.inf
    )


def test_a_huge_difference_is_found_for_certain():
    assert power_of(ContainerComparison.UNPAIRED, 100.0, 0.1, 3, 0.05) == 1.0
