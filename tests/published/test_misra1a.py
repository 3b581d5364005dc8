"""NIST StRD, nonlinear regression, Misra1a: y = b1 (1 - exp(-b2 x)), certified values, from both starts."""

import numpy as np
import pytest
from scipy.optimize import OptimizeResult

from tests.published.check import read_rows
from thermal_model.bench.calibration.optimiser import least_squares

ROWS = read_rows("nist_strd_misra1a.csv")
X, Y = (np.array([float(row[name]) for row in ROWS]) for name in ("x", "y"))

CERTIFIED = np.array([2.3894212918e02, 5.5015643181e-04])
CERTIFIED_DEVIATIONS = np.array([2.7070075241e00, 7.2668688436e-06])
CERTIFIED_SUM_OF_SQUARES = 1.2455138894e-01
STARTS = ((500.0, 1e-4), (250.0, 5e-4))


def residuals(b: np.ndarray) -> np.ndarray:
    return b[0] * -np.expm1(-b[1] * X) - Y


def jacobian(b: np.ndarray) -> np.ndarray:
    return np.stack([-np.expm1(-b[1] * X), b[0] * X * np.exp(-b[1] * X)], axis=1)


def digits(ours: np.ndarray, certified: np.ndarray) -> float:
    """Least number of agreeing digits, as NIST counts them: the log relative error."""
    return float(-np.log10(np.max(np.abs(ours / certified - 1.0))))


def standard_deviations(found: OptimizeResult) -> np.ndarray:
    """Of the unknowns, the noise estimated from the residuals."""
    free = len(found.fun) - len(found.x)
    scale = np.sqrt(np.sum(found.jac**2, axis=0))
    # Columns of one size: the normal matrix of unknowns of very different size would lose its digits.
    covariance = np.linalg.inv((found.jac / scale).T @ (found.jac / scale)) * 2.0 * found.cost / free
    return np.sqrt(np.diag(covariance)) / scale


@pytest.mark.parametrize("start", STARTS)
def test_certified_values_from_both_starts(start: tuple[float, float]) -> None:
    found = least_squares(residuals, jacobian, np.array(start))
    assert found.success
    assert digits(found.x, CERTIFIED) >= 6.0
    assert digits(standard_deviations(found), CERTIFIED_DEVIATIONS) >= 4.0
    assert 2.0 * found.cost == pytest.approx(CERTIFIED_SUM_OF_SQUARES, rel=1e-8)


def test_the_start_is_not_the_answer() -> None:
    for start in STARTS:
        assert digits(np.array(start), CERTIFIED) < 1.5
