"""The emulator against the engine, and the sample of the posterior."""

from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import norm, t

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import Owner
from thermal_model.bench.calibration.density import Density
from thermal_model.bench.calibration.density_kernel import log_side
from thermal_model.bench.calibration.emulator import Emulator
from thermal_model.bench.calibration.fit import Fit
from thermal_model.bench.calibration.run_faults import EXPLANATIONS, effect_widths
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


def volume(function: Callable[[np.ndarray], np.ndarray], y: np.ndarray, columns: np.ndarray) -> float:
    """Logarithm of the determinant of central differences."""
    steps = 1e-4 * np.eye(len(y))[columns]
    table = np.stack([(function(y + step) - function(y - step)) / 2e-4 for step in steps], axis=1)
    return float(np.linalg.slogdet(table)[1])


def effects_of(density: Density, emulator: Emulator, run: int, explanation: int, y: np.ndarray) -> np.ndarray:
    """By the emulator: what the rows show with effects as at the peak, less than at the most probable point."""
    fit, faults, x = emulator.fit, density._tables.faults, density.coordinates(y)
    rows, at = fit.evidence.of_run(run), faults.place[run]
    x[at] = fit.x[at]
    missing = (emulator.predicted(fit.x) - emulator.predicted(x))[rows]
    moved = np.einsum("ks, k -> s", faults.follow[rows, explanation], missing)
    return np.asarray(faults.peak[run, explanation] + moved + faults.root[run, explanation] @ y[faults.column[run]])


def explained_density(density: Density, emulator: Emulator, y: np.ndarray) -> float:
    """The same by SciPy's distributions: Student's t of each reading, the normal, a sum over explanations run by run,
    and changes of variables by central differences.
    """
    fit, x = emulator.fit, density.coordinates(y)
    evidence, faults, runs = fit.evidence, density._tables.faults, fit.problem.bench.runs
    widths = effect_widths(runs)

    def told(at: np.ndarray, rows: np.ndarray) -> float:
        distance = ((emulator.predicted(at) - evidence.shown) / fit.linearised.scale)[rows]
        side = evidence.side[rows]
        return float(np.where(side == 0, t.logpdf(distance, 4.0), norm.logcdf(side * distance)).sum())

    whole = volume(density.coordinates, y, np.arange(len(y))) + told(x, np.flatnonzero(evidence.run < 0))
    whole += norm.logpdf(np.delete(x, faults.place.ravel())).sum()
    for run in range(len(runs)):
        own, parts = faults.column[run], []
        usual = volume(lambda z, k=run: density.coordinates(z)[faults.place[k]], y, own)  # type: ignore[misc]
        for number, explanation in enumerate(EXPLANATIONS):
            at = x.copy()
            at[faults.place[run]] = effects_of(density, emulator, run, number, y)
            there = volume(partial(effects_of, density, emulator, run, number), y, own)
            prior = norm.logpdf(at[faults.place[run]], scale=widths[run, number]).sum()
            parts.append(np.log(explanation.share) + prior + told(at, evidence.of_run(run)) + there - usual)
        whole += logsumexp(parts)
    return float(whole)


def test_the_compiled_density_is_that_of_emulator_noise_and_explanations(density: Density, emulator: Emulator) -> None:
    assert np.any(emulator.fit.evidence.side != 0)
    draws = turned(density, 3)
    rises = np.diff([density.log_density(y)[0] for y in draws])
    assert rises == pytest.approx(np.diff([explained_density(density, emulator, y) for y in draws]), rel=1e-5, abs=1e-4)


def test_its_gradient_is_the_derivative(density: Density) -> None:
    y = turned(density, 1)[0]
    gradient = density.log_density(y)[1]
    for place in range(0, len(y), 3):
        step = np.zeros(len(y))
        step[place] = 1e-5
        central = (density.log_density(y + step)[0] - density.log_density(y - step)[0]) / 2e-5
        assert gradient[place] == pytest.approx(central, rel=1e-5, abs=1e-5)


def test_effects_stay_where_the_readings_want_them_wherever_the_network_bends(density: Density) -> None:
    """Two deviations off in everything else; a straight line would leave them ten of their deviations off and more."""
    faults = density._tables.faults
    for y in 2.0 * turned(density, 5):
        y[faults.column] = 0.0
        assert np.abs(density.log_density(y)[1][faults.column]).max() < 1.5


def test_turned_coordinates_have_the_covariance_of_the_fit(density: Density, mixed_fit: Fit) -> None:
    """Near the centre, where nothing bends yet."""
    origin = density.coordinates(np.zeros(density.count))
    root = np.stack([density.coordinates(1e-3 * row) - origin for row in np.eye(density.count)], axis=1) / 1e-3
    kept = mixed_fit.coordinates.place(Owner.CONTAINER, "wide_mouth_disc", "gap_emissivity")
    assert (root @ root.T)[kept, kept] == pytest.approx(mixed_fit.covariance[kept, kept], rel=0.1)


@pytest.mark.parametrize("distance", [-400.0, -31.0, -29.0, -3.0, 0.0, 5.0])
def test_probability_to_stand_on_a_side(distance: float) -> None:
    """SciPy's."""
    assert log_side(distance) == pytest.approx(norm.logcdf(distance), rel=1e-7)


@pytest.fixture(scope="module")
def short(mixed_fit: Fit) -> Sampled:
    pytest.importorskip("nutpie")
    return sample(mixed_fit, seed=3, draws=50, tune=100, chains=2, batches=1)


def test_a_short_sample_lies_where_the_normal_distribution_lies(mixed_fit: Fit, short: Sampled) -> None:
    """Means of 100 draws within a posterior deviation, and diagnostics that know they are short."""
    whole = with_sample(mixed_fit, short)
    deviation = np.sqrt(np.diag(mixed_fit.covariance))
    assert np.abs((whole.centre - mixed_fit.centre) / deviation).max() < 1.0
    assert 0.5 < np.median(np.sqrt(np.diag(whole.spread)) / deviation) < 1.5
    assert short.largest_r_hat > 1.0
    assert not short.is_good


def effective_sizes(sampled: Sampled, chains: int) -> Array:
    """Of every coordinate, by ArviZ."""
    arviz = pytest.importorskip("arviz")
    dataset = arviz.convert_to_dataset({"x": sampled.draws.reshape(chains, -1, sampled.draws.shape[1])})
    return np.asarray(arviz.ess(dataset)["x"].values)


def test_what_has_not_settled_is_drawn_on_by_other_chains(mixed_fit: Fit, short: Sampled) -> None:
    told: list[float] = []
    longer = sample(mixed_fit, seed=3, draws=50, tune=100, chains=2, batches=2, progress=told.append)
    assert len(longer.draws) == 2 * len(short.draws)
    assert np.array_equal(longer.draws[: len(short.draws)], short.draws)
    assert len(np.unique(longer.draws[:, 0])) > 1.5 * len(short.draws)
    # The smallest size of chains as short as these is chance: the others tell.
    assert np.median(effective_sizes(longer, 4)) > 1.5 * np.median(effective_sizes(short, 2))
    assert told == sorted(told)
    assert told[-1] == 1.0
