"""The effects of a run under each explanation, everything else known."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import norm, t

from thermal_model.bench.calibration.effects import EffectsOfRun, ToldOfEffects
from thermal_model.bench.calibration.likelihood import DEGREES_OF_FREEDOM, INFORMATION

WIDTHS = np.array([[1.0, 1.0, 1.0, 1.0], [12.0, 1.0, 1.0, 1.0], [1.0, 1.0, 1.0, 10.0], [12.0, 12.0, 4.0, 10.0]])
SCALE = np.full(9, 0.2)


def effects_of_run(side: int = 0, shown_low: float = 0.0) -> EffectsOfRun:
    """Nine rows of a cooling run, the last of them beyond a mark or not, all shown too low by so much. [K]"""
    time = np.linspace(0.0, 1.0, 9)
    slopes = np.stack([0.4 * np.exp(-time), -0.5 * time, -0.5 * time * (2.0 * time - 1.0), np.full(9, 0.2)], axis=1)
    noise = np.array([0.3, -0.8, 0.1, 0.5, -0.2, 1.1, -0.4, 0.6, 0.2])
    sides = np.append(np.zeros(8, dtype=np.intp), side)
    return EffectsOfRun(slopes, noise + shown_low / SCALE, SCALE, sides, np.array([0.3, -0.2, 0.1, 0.4]), WIDTHS)


def log_posterior(of_run: EffectsOfRun, effects: np.ndarray, explanation: int) -> float:
    """By SciPy's distributions."""
    distance = of_run.distance + of_run.slopes @ (effects - of_run.at) / of_run.scale
    told = np.where(of_run.side == 0, t.logpdf(distance, DEGREES_OF_FREEDOM), norm.logcdf(of_run.side * distance))
    return float(told.sum() + norm.logpdf(effects, scale=of_run.widths[explanation]).sum())


@pytest.mark.parametrize("side", [0, 1, -1])
@pytest.mark.parametrize("shown_low", [0.0, 3.0])
def test_the_peak_is_the_most_probable_point(side: int, shown_low: float) -> None:
    """SciPy's minimiser, begun there, gains nothing; nor does it from where no effect is."""
    of_run = effects_of_run(side, shown_low)
    told = of_run.posterior()
    for explanation, peak in enumerate(told.peak):
        for start in (peak, np.zeros(4)):
            best = -minimize(lambda e, s=explanation: -log_posterior(of_run, e, s), start, tol=1e-10).fun
            assert log_posterior(of_run, peak, explanation) > best - 1e-6


def precisions(told: ToldOfEffects) -> np.ndarray:
    return np.linalg.inv(told.root @ np.swapaxes(told.root, -1, -2))


def test_the_covariance_is_that_of_the_information_in_the_rows() -> None:
    """Where no row is far off each counts as Student's t does (Lange, Little and Taylor 1989)."""
    of_run = effects_of_run()
    told = of_run.posterior()
    slopes = of_run.slopes / SCALE[:, None]
    for explanation, precision in enumerate(precisions(told)):
        expected = INFORMATION * slopes.T @ slopes + np.diag(WIDTHS[explanation] ** -2.0)
        assert precision == pytest.approx(expected, rel=1e-9)


def test_what_is_missing_in_the_rows_moves_the_peak_as_in_a_ridge_regression() -> None:
    """NumPy's least squares of what is missing and of the effects together."""
    told = effects_of_run(shown_low=1.0).posterior()
    missing = np.cos(np.arange(9.0))
    for explanation, weights in enumerate(told.weights):
        rows = np.concatenate([told.slopes * np.sqrt(weights)[:, None], np.diag(1.0 / WIDTHS[explanation])])
        wanted = np.concatenate([missing * np.sqrt(weights), np.zeros(4)])
        assert missing @ told.follow[:, explanation] == pytest.approx(np.linalg.lstsq(rows, wanted)[0], rel=1e-9)


def test_information_is_that_of_the_whole_with_the_effects_eliminated() -> None:
    """Schur's complement."""
    of_run = effects_of_run(side=1, shown_low=1.0)
    told = of_run.posterior()
    other = np.stack([np.linspace(0.0, 2.0, 9), np.cos(np.arange(9.0))], axis=1)
    chances = np.array([0.6, 0.2, 0.1, 0.1])
    expected = np.zeros((2, 2))
    for explanation, chance in enumerate(chances):
        both = np.concatenate([of_run.slopes, other], axis=1)
        whole = (both.T * told.weights[explanation]) @ both
        whole[:4, :4] += np.diag(WIDTHS[explanation] ** -2.0)
        expected += chance * np.linalg.inv(np.linalg.inv(whole)[4:, 4:])
    assert told.information(chances, other, other) == pytest.approx(expected, rel=1e-9)
