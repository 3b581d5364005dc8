"""Derivatives written down as code: as those carried along with values, to rounding, and nothing held for long."""

import tracemalloc

import numpy as np
import pytest

from tests.thermal_model.solver.test_laws import CASES
from thermal_model.solver.derived import derived
from thermal_model.solver.tangents import value_and_slopes


@pytest.mark.parametrize("case", CASES)
def test_a_law_is_derived_as_with_derivatives_carried_along(case: str) -> None:
    law, parameters = CASES[case]
    values = [parameters[name] for name in law.parameters]
    first, second = np.random.default_rng(7).uniform(275.0, 370.0, (2, 200))
    found = derived(law.flow, 2 + len(values))(first, second, *values)
    for each, expected in zip(found, value_and_slopes(law.flow, first, second, *values), strict=True):
        expected = np.broadcast_to(expected, first.shape)
        np.testing.assert_allclose(np.broadcast_to(each, first.shape), expected, rtol=1e-11, atol=1e-13)


def test_what_depends_on_neither_has_no_slope() -> None:
    assert derived(lambda *values: values[2], 3)(1.0, 2.0, 3.0) == (3.0, 0.0, 0.0)


def test_an_argument_may_be_the_result() -> None:
    assert derived(lambda a, _: a, 2)(1.0, 2.0) == (1.0, 1.0, 0.0)


def test_an_infinite_number_may_stand_in_a_law() -> None:
    assert derived(lambda a, b: np.minimum(a * b, np.inf), 2)(2.0, 3.0) == (6.0, 3.0, 2.0)


def test_arrays_are_freed_once_they_are_no_longer_needed() -> None:
    def long(a: float, b: float) -> float:
        for _ in range(200):
            a = a * b + b
        return a

    function, ones = derived(long, 2), np.ones(10_000)
    tracemalloc.start()
    function(ones, 0.5 * ones)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 12 * ones.nbytes


def test_what_can_not_be_traced_is_derived_by_differences() -> None:
    cases = (lambda a, b: np.tanh(a - b), lambda a, b: np.asarray(a * b).clip(0.0, 9.0), lambda a, b: a if a > b else b)
    for function, expected in zip(cases, ((np.tanh(1.0), 0.42, -0.42), (2.0, 1.0, 2.0), (2.0, 1.0, 0.0)), strict=True):
        assert derived(function, 2)(2.0, 1.0) == pytest.approx(expected, abs=1e-3)
