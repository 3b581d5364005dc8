"""The likelihood of each kind of evidence, against SciPy's distributions."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm, t

from tests.thermal_model.bench.calibration.invented import Invented
from thermal_model.bench.calibration.likelihood import (
    DEGREES_OF_FREEDOM,
    INFORMATION,
    gather_evidence,
    robust_residuals,
    robust_slopes,
)

DISTANCES = np.array([-40.0, -3.0, -0.2, 0.0, 1e-12, 0.7, 5.0])


def test_a_reading_has_the_likelihood_of_students_t() -> None:
    value = np.zeros(len(DISTANCES), dtype=int)
    loss = 0.5 * robust_residuals(DISTANCES, value) ** 2
    exact = t.logpdf(0.0, DEGREES_OF_FREEDOM) - t.logpdf(DISTANCES, DEGREES_OF_FREEDOM)
    assert loss == pytest.approx(exact, abs=1e-12)


@pytest.mark.parametrize("side", [1, -1])
def test_a_mark_not_passed_has_the_probability_to_stand_beyond(side: int) -> None:
    sides = np.full(len(DISTANCES), side)
    loss = 0.5 * robust_residuals(DISTANCES, sides) ** 2
    assert loss == pytest.approx(-norm.logcdf(side * DISTANCES), abs=1e-12)


@pytest.mark.parametrize("side", [0, 1, -1])
def test_slopes_are_derivatives(side: int) -> None:
    at = np.array([-6.0, -1.0, -0.1, 0.2, 1.5, 3.0])
    sides, step = np.full(len(at), side), 1e-5
    central = (robust_residuals(at + step, sides) - robust_residuals(at - step, sides)) / (2.0 * step)
    assert robust_slopes(at, sides) == pytest.approx(central, rel=1e-5)


def test_an_outlier_pulls_ever_less() -> None:
    pull = robust_residuals(DISTANCES, np.zeros(7, dtype=int)) * robust_slopes(DISTANCES, np.zeros(7, dtype=int))
    assert abs(pull[0]) < abs(pull[1])


def test_information_is_that_of_students_t() -> None:
    """Mean squared score, by quadrature."""
    from scipy.integrate import quad

    nu = DEGREES_OF_FREEDOM
    score_squared = quad(lambda x: ((nu + 1) * x / (nu + x * x)) ** 2 * t.pdf(x, nu), -np.inf, np.inf)[0]
    assert pytest.approx(score_squared, rel=1e-6) == INFORMATION


def test_a_reading_without_a_thermometer_is_of_the_runs_own(mixed: Invented) -> None:
    """As a record made in Python may be."""
    runs = mixed.bench.runs
    unnamed = tuple(
        replace(
            run,
            readings=tuple(replace(r, probe="" if r.probe == run.probe else r.probe) for r in run.readings),
            passings=tuple(replace(p, probe="" if p.probe == run.probe else p.probe) for p in run.passings),
        )
        for run in runs
    )
    assert any(r.probe == "" for run in unnamed for r in run.readings)
    (named, _), (found, _) = gather_evidence(mixed.bench), gather_evidence(replace(mixed.bench, runs=unnamed))
    np.testing.assert_array_equal(found.probe, named.probe)
    np.testing.assert_array_equal(found.display_variance, named.display_variance)
