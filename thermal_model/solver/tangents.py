"""Values that carry their derivatives by two variables along: what a law gives is differentiated exactly.

Forward differentiation: a function of numbers is called once with these in place of numbers, and every operation in it
derives by its own rule. It works over arrays, and over values that are traced.

References
----------
.. [1] A. Griewank, A. Walther, Evaluating Derivatives, 2nd ed., SIAM 2008, ch. 3.1 (forward mode).
"""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

Value = Any
"""An array, a number, or a value that is traced."""

SMALLEST = 1e-30
"""Below it a root's slope no longer grows: where a root begins, at no temperature difference, its slope is endless."""


class Tangent(NDArrayOperatorsMixin):
    """A value with its derivatives by two variables; a derivative that is the number 0 costs nothing."""

    def __init__(self, value: Value, by_first: Value, by_second: Value) -> None:
        self.value, self.slopes = value, (by_first, by_second)

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **_: Any) -> Any:
        """Do what a numpy function does, and derive it."""
        if method != "__call__":
            raise NotImplementedError(f"np.{ufunc.__name__}.{method} can't be differentiated")
        values = [each.value if isinstance(each, Tangent) else each for each in inputs]
        value = ufunc(*values)
        if ufunc.__name__ in STEPWISE:
            return value
        if ufunc.__name__ not in RULES:
            raise NotImplementedError(f"np.{ufunc.__name__} can't be differentiated")
        factors = RULES[ufunc.__name__](value, *values)
        return Tangent(value, *(self._slope(inputs, factors, side) for side in (0, 1)))

    @staticmethod
    def _slope(inputs: Sequence[Any], factors: Sequence[Callable[[], Value]], side: int) -> Value:
        slope: Value = 0.0
        for each, factor in zip(inputs, factors, strict=True):
            if isinstance(each, Tangent) and not is_zero(each.slopes[side]):
                slope = plus(slope, times(factor(), each.slopes[side]))
        return slope

    def __array_function__(self, function: Any, _: Any, arguments: Sequence[Any], options: Any) -> Any:
        """Derive `np.where`, by the value that is chosen; `np.all` asks for the value alone."""
        if function is np.all:
            return np.all(*(each.value if isinstance(each, Tangent) else each for each in arguments))
        if function is not np.where or options:
            raise NotImplementedError(f"np.{function.__name__} can't be differentiated")
        condition, *chosen = arguments
        pairs = [each if isinstance(each, Tangent) else Tangent(each, 0.0, 0.0) for each in chosen]
        slopes = [(pairs[0].slopes[side], pairs[1].slopes[side]) for side in (0, 1)]
        return Tangent(
            np.where(condition, pairs[0].value, pairs[1].value),
            *(0.0 if is_zero(a) and is_zero(b) else np.where(condition, a, b) for a, b in slopes),
        )


def is_zero(slope: Value) -> bool:
    """Tell whether a derivative is the number 0."""
    return isinstance(slope, (int, float)) and slope == 0.0


def plus(first: Value, second: Value) -> Value:
    """Return a sum of derivatives, what is 0 left out."""
    return second if is_zero(first) else first + second


def times(factor: Value, slope: Value) -> Value:
    """Return a derivative times a factor, what is 1 left out."""
    if isinstance(slope, (int, float)) and isinstance(factor, (int, float)):
        return factor * slope
    for one, other in ((factor, slope), (slope, factor)):
        if isinstance(one, (int, float)) and abs(one) == 1.0:
            return other if one > 0.0 else -other
    return factor * slope


def reciprocal(value: Value) -> Value:
    """Return 1 over a value, bounded where the value is zero."""
    return 1.0 / np.maximum(value, SMALLEST)


def plus_one() -> Value:
    """Return the slope of a value that is passed on."""
    return 1.0


def minus_one() -> Value:
    """Return the slope of a value that is taken away."""
    return -1.0


def one_where(condition: Value) -> Callable[[], Value]:
    """Return a slope that is 1 where a value is chosen, else 0."""
    return lambda: np.where(condition, 1.0, 0.0)


Rule = Callable[..., Sequence[Callable[[], Value]]]

RULES: dict[str, Rule] = {
    "add": lambda *_: (plus_one, plus_one),
    "subtract": lambda *_: (plus_one, minus_one),
    "multiply": lambda _, a, b: (lambda: b, lambda: a),
    "divide": lambda value, _, b: (lambda: 1.0 / b, lambda: -(value * (1.0 / b))),
    "negative": lambda *_: (minus_one,),
    "positive": lambda *_: (plus_one,),
    "maximum": lambda _, a, b: (one_where(a >= b), one_where(a < b)),
    "minimum": lambda _, a, b: (one_where(a <= b), one_where(a > b)),
    "absolute": lambda _, a: (lambda: np.where(a < 0.0, -1.0, 1.0),),
    "sqrt": lambda value, a: (lambda: 0.5 * value * reciprocal(a),),
    "cbrt": lambda value, a: (lambda: value * reciprocal(a) * (1.0 / 3.0),),
    "exp": lambda value, _: (lambda: value,),
    "log": lambda _, a: (lambda: reciprocal(a),),
    "power": lambda value, a, b: (lambda: b * value * reciprocal(a), lambda: value * np.log(np.maximum(a, SMALLEST))),
    "square": lambda _, a: (lambda: 2.0 * a,),
}
"""What the derivatives of a function's arguments are multiplied by, each found only when it is needed."""

STEPWISE = {"greater", "greater_equal", "less", "less_equal", "equal", "bitwise_and", "bitwise_or"}
"""Functions without a slope."""


def value_and_slopes(
    function: Callable[..., Value], first: Value, second: Value, *parameters: Value
) -> tuple[Value, Value, Value]:
    """Return what a function gives, and its derivatives by its first two arguments."""
    found = function(Tangent(first, 1.0, 0.0), Tangent(second, 0.0, 1.0), *parameters)
    if not isinstance(found, Tangent):
        return found, 0.0, 0.0
    return found.value, found.slopes[0], found.slopes[1]
