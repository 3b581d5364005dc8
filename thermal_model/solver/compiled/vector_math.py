"""Exponential, logarithm, cube root and power as plain arithmetic, so that a compiler runs them on several lanes.

A processor's vector registers have no exponential; a call of the C library handles one lane after the other. These
take the number apart into exponent and fraction and sum a short series. A traced law has them written out in place
of numpy's; on arrays they run as they stand, and the tests hold each to numpy's.

References
----------
.. [1] J.-M. Muller, Elementary Functions, 3rd ed., Birkhauser 2016, ch. 11 (range reduction by two parts of ln 2).
.. [2] D. Goldberg, ACM Computing Surveys 23 (1991) 5-48 (adding 1.5 * 2^52 rounds to an integer).
"""

from math import factorial
from typing import Any

import numpy as np

Value = Any
"""An array, or a value of which a trace knows the name."""

ROUND = 6755399441055744.0
"""1.5 * 2^52: adding it leaves the nearest integer in a number's last bits."""

ROUND_BITS = 0x4338000000000000
HALF_ROOT_BITS = 0x3FE6A09E667F3BCD
"""Bits of the root of 1/2: fractions lie between it and the root of 2."""

LOG2_E = 1.4426950408889634
LN2_HIGH, LN2_LOW = 0.6931471803691238, 1.9082149292705877e-10
EXPONENTIAL = tuple(1.0 / factorial(k) for k in range(12, -1, -1))
"""Of x^12 down to 1: below half of ln 2 the rest is less than rounding."""

INVERSE_TANH = tuple(1.0 / k for k in range(21, 1, -2))
"""Of z^9 down to 1, where artanh(f) = f + f z (...), z = f^2 below 0.0295."""


def bits_of(number: Value) -> Value:
    """Return the bits of a number as an integer."""
    return number.bits() if hasattr(number, "bits") else np.asarray(number, dtype=np.float64).view(np.int64)


def number_of(bits: Value) -> Value:
    """Return the number that has these bits."""
    return bits.number() if hasattr(bits, "number") else np.asarray(bits, dtype=np.int64).view(np.float64)


def _series(coefficients: tuple[float, ...], x: Value) -> Value:
    value = coefficients[0] * x + coefficients[1]
    for coefficient in coefficients[2:]:
        value = value * x + coefficient
    return value


def exp(x: Value) -> Value:
    """Return e^x; beyond -700 and 700 that of the bound."""
    x = np.minimum(np.maximum(x, -700.0), 700.0)
    shifted = x * LOG2_E + ROUND
    power_of_two = shifted - ROUND
    rest = (x - power_of_two * LN2_HIGH) - power_of_two * LN2_LOW
    return _series(EXPONENTIAL, rest) * number_of((bits_of(shifted) + 1023) << 52)


def log(x: Value) -> Value:
    """Return the natural logarithm of a positive number; zero and below count as 1e-300."""
    bits = bits_of(np.maximum(x, 1e-300))
    exponent = (bits - HALF_ROOT_BITS) >> 52
    fraction = number_of(bits - (exponent << 52))
    power_of_two = number_of(exponent + ROUND_BITS) - ROUND
    f = (fraction - 1.0) / (fraction + 1.0)
    z = f * f
    small = 2.0 * f * z * _series(INVERSE_TANH, z) + power_of_two * LN2_LOW
    return power_of_two * LN2_HIGH + (2.0 * f + small)


def power(x: Value, exponent: Value) -> Value:
    """Return x^exponent of a number that is not negative."""
    return exp(exponent * log(x))


def cbrt(x: Value) -> Value:
    """Return the cube root of a number that is not negative; of zero, something below 1e-99.

    A number's bits are nearly its logarithm: a third of them, taken away, is a first guess of x^(-1/3).
    """
    x = np.maximum(x, 1e-300)
    logarithm = number_of((bits_of(x) >> SHORT) + ROUND_BITS) - ROUND
    guess = bits_of(INVERSE_ROOT_SEED - logarithm * (1.0 / 3.0) + ROUND) - ROUND_BITS
    root = number_of(guess << SHORT)
    for _ in range(4):
        # Newton's way to a root of 1/r^3 = x; each step doubles the digits.
        root = root * (4.0 / 3.0) - root * (root * root * root * (x * (1.0 / 3.0)))
    return x * root * root


SHORT = 12
"""Bits that a guess can do without, so that the rest fit a number's fraction."""

INVERSE_ROOT_SEED = 4.0 / 3.0 * (1022.9683 * 2.0 ** (52 - SHORT))
"""Bits of 1 taken four thirds of, lowered a little so that the guess errs as much up as down."""
