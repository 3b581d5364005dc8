"""How probable the explanations of runs are, against sums over all combinations."""

from itertools import product

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from tests.thermal_model.bench.conftest import Demo
from thermal_model.bench.calibration.fit import fit
from thermal_model.bench.calibration.run_faults import EXPLANATIONS, SEVERAL, SHARES, explained

WIDTHS = np.array([[[1.0] * 4, [1.0, 9.0, 4.0, 1.0], [8.0, 1.0, 1.0, 1.0], [1.0, 1.0, 1.0, 7.0], [8.0, 9.0, 4.0, 7.0]]])


def test_explanations_of_two_runs_are_those_of_all_combinations() -> None:
    """Effects seen through noise by few readings that both runs share: Bayes' theorem by SciPy's normal density."""
    widths, generator = np.repeat(WIDTHS, 2, axis=0), np.random.default_rng(3)
    seen = generator.standard_normal((6, 8))
    shown = seen @ np.array([0.3, 7.0, 1.0, 0.1, -0.2, 0.4, 0.0, 1.1]) + 0.5 * generator.standard_normal(6)
    noise = 0.25 * np.eye(6)
    chances, means = np.zeros((5, 5)), np.zeros((5, 5, 8))
    for one, other in product(range(5), repeat=2):
        prior = np.diag(np.concatenate([widths[0, one], widths[1, other]]) ** 2)
        spread = seen @ prior @ seen.T + noise
        chances[one, other] = SHARES[one] * SHARES[other] * multivariate_normal(np.zeros(6), spread).pdf(shown)
        means[one, other] = prior @ seen.T @ np.linalg.solve(spread, shown)
    chances /= chances.sum()
    wide = np.concatenate([widths[0, SEVERAL], widths[1, SEVERAL]])
    covariance = np.linalg.inv(seen.T @ seen / 0.25 + np.diag(wide**-2.0))
    found = explained(covariance @ seen.T @ shown / 0.25, covariance, widths, np.array([SEVERAL, SEVERAL]))
    assert tuple(found.best) == np.unravel_index(np.argmax(chances), chances.shape)
    assert found.probabilities[0] == pytest.approx(chances.sum(axis=1), abs=0.05)
    assert found.probabilities[1] == pytest.approx(chances.sum(axis=0), abs=0.05)
    deviation = np.sqrt(np.diag(found.covariance))
    assert np.all(np.abs(found.mean - np.einsum("ij,ijk->k", chances, means)) < 0.1 * deviation)


def test_shares_add_up() -> None:
    assert pytest.approx(1.0) == SHARES.sum()


def test_what_was_spoiled_on_purpose_is_found(demo: Demo) -> None:
    found = fit(demo.bench)
    names = [run.name for run in demo.bench.runs]
    chances = dict(zip(names, found.explained.probabilities, strict=True))
    spoiled = {"slim-4": "rate", "plug-4": "placement", "wide-4": "start"}
    for run, cause in spoiled.items():
        best = EXPLANATIONS[int(np.argmax(chances[run]))]
        assert best.name == cause
        assert chances[run].max() > 0.8
    assert all(chances[name][0] > 0.8 for name in names if name not in spoiled)
