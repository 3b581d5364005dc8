"""The emulator against the engine, and the sample of the posterior."""

import numpy as np
import pytest
from scipy.stats import norm, t

from thermal_model.bench.calibration.emulator import Emulator
from thermal_model.bench.calibration.fit import Fit
from thermal_model.bench.calibration.sampling import Sampled, heavy_of_normal, sample, with_sample


@pytest.fixture(scope="module")
def emulator(mixed_fit: Fit) -> Emulator:
    return Emulator(mixed_fit)


def draws_of(found: Fit, count: int) -> np.ndarray:
    root = np.linalg.cholesky(found.covariance)
    return found.x + np.random.default_rng(1).standard_normal((count, len(found.x))) @ root.T


def test_at_the_centre_it_is_the_engine(emulator: Emulator, mixed_fit: Fit) -> None:
    exact = mixed_fit.problem.predicted(mixed_fit.x)
    assert emulator.predicted(mixed_fit.x) == pytest.approx(exact.predicted, abs=1e-9)


def test_over_the_posterior_it_misses_by_less_than_the_noise(emulator: Emulator, mixed_fit: Fit) -> None:
    draws = draws_of(mixed_fit, 5)
    missed = np.sqrt(np.mean(emulator.errors(draws) ** 2))
    straight = np.array([mixed_fit.linearised.shown_at(x) - mixed_fit.problem.predicted(x).predicted for x in draws])
    assert missed < 0.5
    assert missed < 0.75 * np.sqrt(np.mean((straight / mixed_fit.linearised.scale) ** 2))


def test_its_gradient_is_the_derivative(emulator: Emulator, mixed_fit: Fit) -> None:
    x = draws_of(mixed_fit, 1)[0]
    gradient = emulator.log_likelihood(x)[1]
    for place in range(0, len(x), 3):
        step = np.zeros(len(x))
        step[place] = 1e-5
        central = (emulator.log_likelihood(x + step)[0] - emulator.log_likelihood(x - step)[0]) / 2e-5
        assert gradient[place] == pytest.approx(central, rel=1e-5, abs=1e-5)


def test_heavy_tails_have_the_quantiles_of_students_t() -> None:
    normal = np.linspace(-4.0, 4.0, 17)
    assert heavy_of_normal(normal)[0] == pytest.approx(t.ppf(norm.cdf(normal), 4.0), abs=1e-9)


def test_a_short_sample_lies_where_the_normal_distribution_lies(mixed_fit: Fit) -> None:
    """Means of 100 draws within a posterior deviation, and diagnostics that know they are short."""
    pytest.importorskip("nutpie")
    drawn: Sampled = sample(mixed_fit, seed=3, draws=50, tune=100, chains=2)
    whole = with_sample(mixed_fit, drawn)
    deviation = np.sqrt(np.diag(mixed_fit.covariance))
    assert np.abs((whole.centre - mixed_fit.centre) / deviation).max() < 1.0
    assert 0.5 < np.median(np.sqrt(np.diag(whole.spread)) / deviation) < 1.5
    assert drawn.largest_r_hat > 1.0
    assert not drawn.is_good
