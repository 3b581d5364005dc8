"""Exponential, logarithm, cube root and power against numpy's, which take them from the C library."""

import numpy as np
import pytest

from thermal_model.solver.compiled import vector_math

WIDE = np.random.default_rng(1).uniform(-280.0, 280.0, 20_000)


def test_exponential() -> None:
    np.testing.assert_allclose(vector_math.exp(WIDE), np.exp(WIDE), rtol=5e-16)
    assert vector_math.exp(np.array([0.0, 1e-320])) == pytest.approx([1.0, 1.0], abs=0.0)


def test_logarithm() -> None:
    numbers = np.exp(WIDE)
    np.testing.assert_allclose(vector_math.log(numbers), np.log(numbers), rtol=4e-16, atol=2e-16)
    near_one = 1.0 + np.linspace(-1e-3, 1e-3, 2001)
    np.testing.assert_allclose(vector_math.log(near_one), np.log(near_one), rtol=1e-15, atol=3e-19)


def test_cube_root() -> None:
    numbers = np.exp(WIDE)
    np.testing.assert_allclose(vector_math.cbrt(numbers), np.cbrt(numbers), rtol=2e-15)
    assert 0.0 <= float(vector_math.cbrt(np.array(0.0))) < 1e-99


@pytest.mark.parametrize("exponent", [-1.36, 0.272, 0.293, 9.0 / 16.0, 2.0])
def test_power(exponent: float) -> None:
    numbers = np.exp(0.1 * WIDE)
    np.testing.assert_allclose(vector_math.power(numbers, exponent), numbers**exponent, rtol=2e-14)
