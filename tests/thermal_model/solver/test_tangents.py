"""Derivatives that go along with values: against textbook derivatives, and laws against differences of their flows.

The judge of a law is its own flow, a little warmer and a little colder at either end.
"""

from collections.abc import Callable

import numpy as np
import pytest

from geometries.numeric import Array
from tests.thermal_model.solver.test_laws import CASES
from thermal_model.solver.tangents import Value, value_and_slopes

KNOWN: dict[str, tuple[Callable[[Value, Value], Value], Callable[[float, float], tuple[float, float]]]] = {
    "product": (lambda a, b: a * b - 3.0 * a, lambda a, b: (b - 3.0, a)),
    "quotient": (lambda a, b: a / b, lambda a, b: (1.0 / b, -a / b**2)),
    "power": (lambda a, b: a**b, lambda a, b: (b * a ** (b - 1.0), a**b * np.log(a))),
    "power of a number": (lambda a, b: 2.0**a + b**0.25, lambda a, b: (2.0**a * np.log(2.0), 0.25 * b**-0.75)),
    "roots": (lambda a, b: np.sqrt(a) + np.cbrt(b), lambda a, b: (0.5 / np.sqrt(a), 1.0 / (3.0 * np.cbrt(b) ** 2))),
    "exponential": (lambda a, b: np.exp(a) * np.log(b), lambda a, b: (np.exp(a) * np.log(b), np.exp(a) / b)),
    "size": (lambda a, b: np.abs(a - b) + np.square(b), lambda a, b: (np.sign(a - b), -np.sign(a - b) + 2.0 * b)),
    "greater": (lambda a, b: np.maximum(a, 2.0 * b), lambda a, b: (1.0, 0.0) if a > 2.0 * b else (0.0, 2.0)),
    "less": (lambda a, b: np.minimum(3.0 * a, b), lambda a, b: (3.0, 0.0) if 3.0 * a < b else (0.0, 1.0)),
    "choice": (lambda a, b: np.where(a > b, a * a, +b), lambda a, b: (2.0 * a, 0.0) if a > b else (0.0, 1.0)),
}


@pytest.mark.parametrize("name", KNOWN)
@pytest.mark.parametrize(("first", "second"), [(1.5, 0.4), (0.4, 1.5), (2.0, 3.0)])
def test_derivatives_are_those_of_the_textbook(name: str, first: float, second: float) -> None:
    function, slopes = KNOWN[name]
    value, *found = value_and_slopes(function, first, second)
    assert value == function(first, second)
    np.testing.assert_allclose([float(each) for each in found], slopes(first, second), rtol=1e-13)


@pytest.mark.parametrize("case", CASES)
def test_a_law_changes_as_its_derivatives_say(case: str) -> None:
    law, parameters = CASES[case]
    values = [parameters[name] for name in law.parameters]
    generator = np.random.default_rng(7)
    first, second = generator.uniform(275.0, 370.0, (2, 200))
    apart = np.abs(first - second) > 0.5  # where vapour sets in a law bends within a fifth of a kelvin
    first, second = first[apart], second[apart]
    flow, by_first, by_second = value_and_slopes(law.flow, first, second, *values)
    np.testing.assert_array_equal(flow, law.flow(first, second, *values))

    def change(at_first: float, at_second: float) -> Array:
        step = 1e-3
        ahead = law.flow(first + at_first * step, second + at_second * step, *values)
        return np.asarray((ahead - law.flow(first - at_first * step, second - at_second * step, *values)) / (2 * step))

    for slope, judge in ((by_first, change(1.0, 0.0)), (by_second, change(0.0, 1.0))):
        # One of 200 pairs may lie on a bend of a law, such as where two formulas meet.
        off = np.abs(slope - judge) / (np.abs(judge) + 1e-3 * np.abs(judge).max())
        assert np.sort(off)[-3] < 1e-5


@pytest.mark.parametrize("case", CASES)
def test_derivatives_are_finite_where_nothing_flows(case: str) -> None:
    law, parameters = CASES[case]
    at = np.array([274.0, 277.13, 293.15, 363.15])
    for each in value_and_slopes(law.flow, at, at, *(parameters[name] for name in law.parameters)):
        assert np.isfinite(each).all()


def test_what_has_no_rule_is_refused_by_name() -> None:
    with pytest.raises(NotImplementedError, match=r"np\.tanh"):
        value_and_slopes(lambda a, b: np.tanh(a - b), 1.0, 2.0)
    with pytest.raises(NotImplementedError, match=r"np\.interp"):
        value_and_slopes(lambda a, b: np.interp(a, [0.0, 1.0], [0.0, 1.0]) + b, np.ones(1), np.ones(1))


def test_what_depends_on_neither_has_no_slope() -> None:
    assert value_and_slopes(lambda *values: values[2], 1.0, 2.0, 3.0) == (3.0, 0.0, 0.0)
