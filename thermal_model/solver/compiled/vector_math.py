"""Exponential, logarithm, cube root and power as plain arithmetic, so that a compiler runs them on several lanes.

A processor's vector registers have no exponential; a call of the C library handles one lane after the other. These
take the number apart into exponent and fraction and sum a short series. A traced law has them written out in place
of numpy's; on arrays they run as they stand, and the tests hold each to numpy's.

References
----------
.. [1] J.-M. Muller, Elementary Functions, 3rd ed., Birkhauser 2016, ch. 11 (range reduction by two parts of ln 2).
.. [2] D. Goldberg, ACM Computing Surveys 23 (1991) 5-48 (adding 1.5 * 2^52 rounds to an integer).
.. [3] IEEE 754-2019, binary32 and binary64 (widths of fraction and exponent).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import factorial
from typing import Any

import numpy as np

Value = Any
"""An array, or a value of which a trace knows the name."""

LOG2_E, LN2 = 1.4426950408889634, 0.6931471805599453094

LOWERED = 0.0317
"""Taken off the exponent of a first guess of a root, so that it errs as much up as down. [-]"""


@dataclass(frozen=True)
class VectorMath:
    """The functions for one format of numbers.

    Attributes
    ----------
    dtype, bits_dtype : str
        Of numbers, and of their bits as an integer.
    fraction_bits, bias : int
        Of the format.
    least, greatest_exponent : float
        Positive numbers below count as this one; e is raised to no more.
    ln2_high, ln2_low : float
        The natural logarithm of two in two parts, of which the first leaves room for a factor.
    exponential_order, logarithm_order : int
        Of the series.
    root_steps : int
        Newton's, to a cube root: each doubles the digits.
    """

    dtype: str
    bits_dtype: str
    fraction_bits: int
    bias: int
    least: float
    greatest_exponent: float
    ln2_high: float
    ln2_low: float
    exponential_order: int
    logarithm_order: int
    root_steps: int

    @cached_property
    def round(self) -> float:
        """1.5 * 2^52 of a double: adding it leaves the nearest integer in a number's last bits."""
        return 1.5 * 2.0**self.fraction_bits

    @cached_property
    def round_bits(self) -> int:
        """Bits of that number."""
        return int(self.bits_of(np.array(self.round)))

    @cached_property
    def half_root_bits(self) -> int:
        """Bits of the root of 1/2: fractions lie between it and the root of 2."""
        return int(self.bits_of(np.array(0.5**0.5)))

    @cached_property
    def short(self) -> int:
        """Bits that a guess can do without, so that the rest fit a number's fraction."""
        return 8 * np.dtype(self.dtype).itemsize - self.fraction_bits

    def bits_of(self, number: Value) -> Value:
        """Return the bits of a number as an integer."""
        return number.bits() if hasattr(number, "bits") else np.asarray(number, self.dtype).view(self.bits_dtype)

    def number_of(self, bits: Value) -> Value:
        """Return the number that has these bits."""
        return bits.number() if hasattr(bits, "number") else np.asarray(bits, self.bits_dtype).view(self.dtype)

    def exp(self, x: Value) -> Value:
        """Return e^x; beyond the greatest exponent that of the bound."""
        x = np.minimum(np.maximum(x, -self.greatest_exponent), self.greatest_exponent)
        shifted = x * LOG2_E + self.round
        power_of_two = shifted - self.round
        rest = (x - power_of_two * self.ln2_high) - power_of_two * self.ln2_low
        series = _series([1.0 / factorial(k) for k in range(self.exponential_order, -1, -1)], rest)
        return series * self.number_of((self.bits_of(shifted) + self.bias) << self.fraction_bits)

    def log(self, x: Value) -> Value:
        """Return the natural logarithm of a positive number; zero and below count as the least.

        The series is that of artanh(f) = f + f z (...), z = f^2 below 0.0295.
        """
        bits = self.bits_of(np.maximum(x, self.least))
        exponent = (bits - self.half_root_bits) >> self.fraction_bits
        fraction = self.number_of(bits - (exponent << self.fraction_bits))
        power_of_two = self.number_of(exponent + self.round_bits) - self.round
        f = (fraction - 1.0) / (fraction + 1.0)
        z = f * f
        series = _series([1.0 / k for k in range(self.logarithm_order, 1, -2)], z)
        return power_of_two * self.ln2_high + (2.0 * f + (2.0 * f * z * series + power_of_two * self.ln2_low))

    def power(self, x: Value, exponent: Value) -> Value:
        """Return x^exponent of a number that is not negative."""
        return self.exp(exponent * self.log(x))

    def cbrt(self, x: Value) -> Value:
        """Return the cube root of a number that is not negative; of zero, next to nothing.

        A number's bits are nearly its logarithm: a third of them, taken away, is a first guess of x^(-1/3).
        """
        x = np.maximum(x, self.least)
        logarithm = self.number_of((self.bits_of(x) >> self.short) + self.round_bits) - self.round
        seed = 4.0 / 3.0 * ((self.bias - LOWERED) * 2.0 ** (self.fraction_bits - self.short))
        guess = self.bits_of(seed - logarithm * (1.0 / 3.0) + self.round) - self.round_bits
        root = self.number_of(guess << self.short)
        for _ in range(self.root_steps):
            # Newton's way to a root of 1/r^3 = x.
            root = root * (4.0 / 3.0) - root * (root * root * root * (x * (1.0 / 3.0)))
        return x * root * root

    @cached_property
    def written_out(self) -> dict[str, Callable[..., Value]]:
        """The functions by numpy's names."""
        return {"exp": self.exp, "log": self.log, "cbrt": self.cbrt, "power": self.power}


def _series(coefficients: list[float], x: Value) -> Value:
    value = coefficients[0] * x + coefficients[1]
    for coefficient in coefficients[2:]:
        value = value * x + coefficient
    return value


DOUBLE = VectorMath(
    dtype="float64",
    bits_dtype="int64",
    fraction_bits=52,
    bias=1023,
    least=1e-300,
    greatest_exponent=700.0,
    ln2_high=0.6931471803691238,
    ln2_low=1.9082149292705877e-10,
    exponential_order=12,
    logarithm_order=21,
    root_steps=4,
)
SINGLE = VectorMath(
    dtype="float32",
    bits_dtype="int32",
    fraction_bits=23,
    bias=127,
    least=1e-37,
    greatest_exponent=87.0,
    ln2_high=0.693359375,
    ln2_low=LN2 - 0.693359375,
    exponential_order=7,
    logarithm_order=9,
    root_steps=3,
)
