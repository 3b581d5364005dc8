"""Exponential, logarithm, cube root and power against numpy's, which take them from the C library."""

from typing import Any

import numpy as np
import pytest

from geometries.numeric import Array
from thermal_model.solver.compiled.vector_math import DOUBLE, SINGLE, VectorMath

FORMATS = pytest.mark.parametrize("maths", [DOUBLE, SINGLE], ids=lambda maths: maths.dtype)


def rounding(maths: VectorMath) -> float:
    return float(np.finfo(maths.dtype).eps)


def exponents(maths: VectorMath) -> Array:
    return np.random.default_rng(1).uniform(-0.4, 0.4, 20_000) * maths.greatest_exponent


def numbers(maths: VectorMath, values: Any) -> Any:
    return np.asarray(values, maths.dtype)


@FORMATS
def test_exponential(maths: VectorMath) -> None:
    x = numbers(maths, exponents(maths))
    found = maths.exp(x)
    assert found.dtype == maths.dtype
    np.testing.assert_allclose(found, np.exp(x.astype(float)), rtol=2.5 * rounding(maths))
    assert maths.exp(numbers(maths, [0.0, maths.least])) == pytest.approx([1.0, 1.0], abs=0.0)


@FORMATS
def test_logarithm(maths: VectorMath) -> None:
    x = numbers(maths, np.exp(exponents(maths)))
    np.testing.assert_allclose(maths.log(x), np.log(x.astype(float)), rtol=2.0 * rounding(maths), atol=rounding(maths))
    near_one = numbers(maths, 1.0 + np.linspace(-1e-3, 1e-3, 2001))
    expected = np.log(near_one.astype(float))
    np.testing.assert_allclose(maths.log(near_one), expected, rtol=4.0 * rounding(maths), atol=2e-3 * rounding(maths))


@FORMATS
def test_cube_root(maths: VectorMath) -> None:
    x = numbers(maths, np.exp(exponents(maths)))
    np.testing.assert_allclose(maths.cbrt(x), np.cbrt(x.astype(float)), rtol=9.0 * rounding(maths))
    assert 0.0 <= float(maths.cbrt(numbers(maths, 0.0))) < 1.01 * maths.least ** (1.0 / 3.0)


@FORMATS
@pytest.mark.parametrize("exponent", [-1.36, 0.272, 0.293, 9.0 / 16.0, 2.0])
def test_power(maths: VectorMath, exponent: float) -> None:
    x = numbers(maths, np.exp(0.1 * exponents(maths)))
    np.testing.assert_allclose(maths.power(x, exponent), x.astype(float) ** exponent, rtol=90.0 * rounding(maths))
