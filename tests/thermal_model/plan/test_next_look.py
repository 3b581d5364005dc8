"""A run under way: readings of a known container bring the forecast to what it will do."""

import numpy as np
import pytest

from geometries.design_file import load_container
from thermal_model.bench.records import Reading, Run
from thermal_model.follow import follow
from thermal_model.plan.next_look import run_ahead, weighted_quantile
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import draw_sample

LIMIT = 333.15


def run_of(readings: tuple[Reading, ...]) -> Run:
    container = load_container("single_seal_plug")
    return Run("r", "c", "p", container, Scenario(), None, 0.5, 1.0, 0.02, readings, (), "", 2)


def test_readings_of_one_that_is_drawn_bring_its_time() -> None:
    """A container off the best guess is invented; its own readings move the forecast from the guess to its time."""
    run = run_of(())
    sample = draw_sample(run.container_at_run, run.scenario, 12, 7)
    truth = follow(sample, [LIMIT], record=True)
    times = truth.hold_times[0] * sample.stretch
    best = int(np.argmax(times))
    at = np.array([0.2, 0.4, 0.6]) * times[best]
    seen = truth.temperature(best, at / sample.stretch[best])
    readings = tuple(Reading(t, k, 5.0, 2) for t, k in zip(at.tolist(), seen.tolist(), strict=True))
    before = run_ahead(run, LIMIT, display_spread=0.3)
    after = run_ahead(run_of(readings), LIMIT, display_spread=0.3)
    assert abs(after.middle - times[best]) < 0.4 * abs(before.middle - times[best])
    assert after.high - after.low < 0.7 * (before.high - before.low)
    assert after.likeness < before.likeness == pytest.approx(1.0)
    assert after.next_look is not None
    assert at[-1] <= after.next_look <= after.middle


def test_no_weight_is_lost() -> None:
    values, weights = np.array([5.0, 1.0, 3.0]), np.array([0.2, 0.2, 0.6])
    assert [weighted_quantile(values, weights, q) for q in (0.1, 0.5, 0.95, 1.0)] == [1.0, 3.0, 5.0, 5.0]
