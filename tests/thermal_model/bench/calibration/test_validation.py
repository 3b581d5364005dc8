"""Leave one run out, against fits that never saw it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.thermal_model.bench.calibration.invented import Invented
from tests.thermal_model.bench.conftest import Demo
from thermal_model.bench.calibration.coordinates import Owner
from thermal_model.bench.calibration.fit import Fit, fit
from thermal_model.bench.calibration.validation import _without, leave_one_out
from thermal_model.bench.records import Passing
from thermal_model.report.calibration_text import validation_text


@pytest.mark.parametrize("number", [0, 3])
def test_the_fit_without_a_run_is_a_refit(mixed: Invented, mixed_fit: Fit, number: int) -> None:
    """Within half a posterior deviation: linear algebra against a fit of the bench without that run."""
    runs = mixed.bench.runs
    refit = fit(replace(mixed.bench, runs=tuple(run for k, run in enumerate(runs) if k != number)))
    without = _without(mixed_fit, number)[0]
    _, here = mixed_fit.coordinates.belief_places(runs[number].container)
    _, there = refit.coordinates.belief_places(runs[number].container)
    deviation = np.sqrt(np.diag(refit.covariance)[there])
    assert np.all(np.abs(without[here] - refit.x[there]) < 0.5 * deviation)
    assert np.abs(mixed_fit.x[here] - refit.x[there]).max() > np.abs(without[here] - refit.x[there]).max()


def test_a_run_left_out_is_claimed_less_well_than_a_run_fitted(mixed_fit: Fit) -> None:
    found = leave_one_out(mixed_fit)
    assert [item.run for item in found.runs] == [run.name for run in mixed_fit.problem.bench.runs]
    from thermal_model.bench.calibration.posterior import shown_of_run

    for number, item in enumerate(found.runs):
        assert item.deviation > shown_of_run(mixed_fit, number).deviation.min()
    assert [item.others for item in found.runs] == [1, 1, 2, 2, 2]


def test_intervals_hold_the_runs_they_were_made_without(mixed_fit: Fit) -> None:
    """Five runs at 90 %: fewer than three inside has a chance below 1 %."""
    found = leave_one_out(mixed_fit)
    assert sum(item.is_inside for item in found.runs) >= 3
    assert found.median_time_error < 0.10


def test_a_wrong_run_is_missed(mixed: Invented) -> None:
    """A run whose readings are of another container does not lie in the interval the others give it."""
    first, *others = mixed.bench.runs
    falling = tuple(replace(r, temperature=r.temperature - 0.0012 * r.time) for r in first.readings)
    found = leave_one_out(fit(replace(mixed.bench, runs=(replace(first, readings=falling), *others))))
    assert not found.runs[0].is_inside


def test_seats_and_rates_of_a_run_left_out_start_anew(mixed_fit: Fit) -> None:
    without = _without(mixed_fit, 1)[0]
    assert not without[mixed_fit.coordinates.places_of(Owner.RUN, "run_2")].any()


def test_a_bench_of_hundreds_of_readings_comes_to_rest(demo: Demo) -> None:
    """Derivatives that are a little rough keep it from that; three of the seventeen runs are spoiled on purpose."""
    found = fit(demo.bench)
    assert len(found.evidence.run) > 800
    assert found.converged
    held = leave_one_out(found)
    assert sum(item.is_inside for item in held.runs) >= len(held.runs) - 3 - 2
    assert held.median_time_error < 0.06


def test_a_bench_of_marks_alone_has_nothing_to_predict(mixed: Invented) -> None:
    """Looks that only say that a mark was not passed yet have no value to compare with."""
    run = mixed.bench.runs[0]
    look = Passing(run.scenario.room + 20.0, 3600.0, math.inf, line=2, probe=run.readings[0].probe)
    found = fit(replace(mixed.bench, runs=(replace(run, readings=(), passings=(look,)),)))
    validation = leave_one_out(found)
    assert validation.runs == ()
    text = " ".join(validation_text(found.problem.bench, validation, ()).split())
    assert "none can be predicted from the others" in text
