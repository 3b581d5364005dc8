"""The emulator against the engine, and the sample of the posterior."""

import numpy as np
import pytest
from scipy.stats import norm, t

from thermal_model.bench.calibration.coordinates import Owner
from thermal_model.bench.calibration.density import Density
from thermal_model.bench.calibration.density_kernel import heavy_of_normal, log_side
from thermal_model.bench.calibration.emulator import Emulator
from thermal_model.bench.calibration.fit import Fit
from thermal_model.bench.calibration.sampling import Sampled, sample, with_sample


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


@pytest.fixture(scope="module")
def density(emulator: Emulator) -> Density:
    return Density(emulator)


def turned(density: Density, count: int) -> np.ndarray:
    return np.random.default_rng(2).standard_normal((count, density.count))


def test_the_compiled_density_is_that_of_emulator_and_noise(density: Density, emulator: Emulator) -> None:
    """Against the same by SciPy's distributions: Student's t of each reading, the normal, a change of variables, whose
    volume is the determinant of central differences.
    """
    evidence, scale = emulator.fit.evidence, emulator.fit.linearised.scale
    is_heavy = emulator.fit.coordinates.is_heavy

    def normal_of(y: np.ndarray) -> np.ndarray:
        x = density.coordinates(y)
        return np.where(is_heavy, norm.ppf(t.cdf(x, 4.0)), x)

    def volume(y: np.ndarray) -> float:
        steps = 1e-4 * np.eye(len(y))
        table = np.stack([(normal_of(y + step) - normal_of(y - step)) / 2e-4 for step in steps], axis=1)
        return float(np.linalg.slogdet(table)[1])

    def expected(y: np.ndarray) -> float:
        x = density.coordinates(y)
        distance = (emulator.predicted(x) - evidence.shown) / scale
        told = np.where(evidence.side == 0, t.logpdf(distance, 4.0), norm.logcdf(evidence.side * distance))
        return float(told.sum() + norm.logpdf(normal_of(y)).sum()) + volume(y)

    assert np.any(evidence.side != 0)
    draws = turned(density, 4)
    rises = np.diff([density.log_density(y)[0] for y in draws])
    assert rises == pytest.approx(np.diff([expected(y) for y in draws]), rel=1e-5, abs=1e-5)


def test_its_gradient_is_the_derivative(density: Density) -> None:
    y = turned(density, 1)[0]
    gradient = density.log_density(y)[1]
    for place in range(0, len(y), 3):
        step = np.zeros(len(y))
        step[place] = 1e-5
        central = (density.log_density(y + step)[0] - density.log_density(y - step)[0]) / 2e-5
        assert gradient[place] == pytest.approx(central, rel=1e-5, abs=1e-5)


def test_turned_coordinates_have_the_covariance_of_the_fit(density: Density, mixed_fit: Fit) -> None:
    """Where no tail is heavy, the way from the centre has the covariance of the curvature."""
    light = np.flatnonzero(~mixed_fit.coordinates.is_heavy)
    origin = density.coordinates(np.zeros(density.count))
    root = np.stack([density.coordinates(row) - origin for row in np.eye(density.count)], axis=1)[light]
    kept = mixed_fit.coordinates.place(Owner.CONTAINER, "wide_mouth_disc", "gap_emissivity")
    place = light.tolist().index(kept)
    assert (root @ root.T)[place, place] == pytest.approx(mixed_fit.covariance[kept, kept], rel=0.1)


def test_heavy_tails_have_the_quantiles_of_students_t() -> None:
    normal = np.linspace(-4.0, 4.0, 17)
    heavy = [heavy_of_normal(one)[0] for one in normal]
    assert heavy == pytest.approx(t.ppf(norm.cdf(normal), 4.0), abs=1e-9)


@pytest.mark.parametrize("distance", [-400.0, -31.0, -29.0, -3.0, 0.0, 5.0])
def test_probability_to_stand_on_a_side(distance: float) -> None:
    """SciPy's."""
    assert log_side(distance) == pytest.approx(norm.logcdf(distance), rel=1e-7)


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
