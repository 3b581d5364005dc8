"""Validity ranges are data beside the functions, and speak in plain sentences."""

import importlib
import inspect
import pkgutil
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

import numpy as np
import pytest

from tests.thermal_model.physics.test_array_rule import public_functions
from thermal_model import physics, properties
from thermal_model.physics.free_convection import nusselt_vertical_plate_churchill_chu
from thermal_model.physics.validity import broken_ranges, valid_for
from thermal_model.physics.vapour_transport import exchange_flow_through_opening_epstein


def validity(function):
    return getattr(function, "validity", {})


@valid_for(reynolds=(1.0, 2.0))
def double(reynolds, prandtl=0.7):
    """Twice a number."""
    return 2.0 * reynolds


def test_a_decorated_function_is_the_same_but_for_its_ranges():
    assert validity(double) == {"reynolds": (1.0, 2.0)}
    assert (double.__name__, double.__doc__) == ("double", "Twice a number.")
    assert list(inspect.signature(double).parameters) == ["reynolds", "prandtl"]
    assert double(9.0) == 18.0


def test_a_breach_is_collected_however_the_argument_is_given():
    with broken_ranges() as found:
        double(1.5)
        double(np.array([1.5, 0.0]))  # a zero stands for a flow that is not there
        double(reynolds=9.0)
        double(9.0)
    assert list(found) == ["reynolds 9 is above 2 (double)"]


def test_outside_a_block_nothing_is_collected():
    with broken_ranges() as found:
        pass
    double(9.0)
    assert not found


def test_an_inner_block_has_its_own_breaches():
    with broken_ranges() as outer:
        double(9.0)
        with broken_ranges() as inner:
            double(0.5)
        double(3.0)
    assert list(inner) == ["reynolds 0.5 is below 1 (double)"]
    assert list(outer) == ["reynolds 9 is above 2 (double)", "reynolds 3 is above 2 (double)"]


def test_a_block_that_fails_no_longer_collects():
    with pytest.raises(ZeroDivisionError), broken_ranges() as found:
        1 / 0  # noqa: B018
    double(9.0)
    assert not found


def test_threads_have_their_own_breaches():
    together = threading.Barrier(2, timeout=10.0)

    def breach(reynolds):
        with broken_ranges() as found:
            together.wait()
            double(reynolds)
            together.wait()
        return list(found)

    with ThreadPoolExecutor(2) as threads:
        one, other = threads.map(breach, (5.0, 7.0))
    assert one == ["reynolds 5 is above 2 (double)"]
    assert other == ["reynolds 7 is above 2 (double)"]


def decorated():
    """All functions of physics and properties that have ranges."""
    modules = [
        importlib.import_module(f"{package.__name__}.{entry.name}")
        for package in (physics, properties)
        for entry in pkgutil.iter_modules(package.__path__)
    ]
    return {f for module in modules for f in vars(module).values() if callable(f) and validity(f)}


@pytest.mark.parametrize("function", sorted(decorated(), key=lambda f: f.__name__), ids=lambda f: f.__name__)  # type: ignore[attr-defined]
def test_every_decorated_function_is_watched(function):
    parameters = inspect.signature(function).parameters.values()
    given = {p.name: 1.0 for p in parameters if p.default is p.empty}
    for name, (low, high) in validity(function).items():
        beyond = 2.0 * high + 1.0 if np.isfinite(high) else low - 0.1
        # With a diameter and a Prandtl number of 1.
        argument = {"length_to_diameter": "length", "peclet": "reynolds"}.get(name, name)
        with broken_ranges() as found, np.errstate(all="ignore"), suppress(ValueError):
            function(**given | {argument: beyond})
        assert any(line.startswith(f"{name} ") and line.endswith(f"({function.__name__})") for line in found), found


def test_a_range_that_can_not_be_watched_is_refused():
    with pytest.raises(ValueError, match="halved has no argument biot"):

        @valid_for(biot=(0.0, 0.1))
        def halved(number):
            return 0.5 * number


def test_a_derived_quantity_is_watched():
    with broken_ranges() as found:
        exchange_flow_through_opening_epstein(0.01, 0.2, 0.01)
        exchange_flow_through_opening_epstein(np.array([0.01, 0.0]), 0.05, 0.01)
    assert list(found) == ["length_to_diameter 20 is above 10 (exchange_flow_through_opening_epstein)"]


def told_of_plate(rayleigh):
    with broken_ranges() as found:
        nusselt_vertical_plate_churchill_chu(rayleigh, 0.7)
    return list(found)


def test_inside_the_range_there_is_nothing_to_say():
    assert told_of_plate(np.array([0.1, 1e6, 1e12])) == []


def test_both_ends_of_a_batch_are_named():
    assert told_of_plate(np.array([1e-3, 1e6, 3.1e13])) == [
        "rayleigh 0.001 is below 0.1 (nusselt_vertical_plate_churchill_chu)",
        "rayleigh 3.1e+13 is above 1e+12 (nusselt_vertical_plate_churchill_chu)",
    ]


def test_not_a_number_is_out_of_range():
    assert told_of_plate(np.nan) == ["rayleigh is not a number (nusselt_vertical_plate_churchill_chu)"]


def test_an_empty_range_is_refused():
    with pytest.raises(ValueError, match="the range of reynolds is empty: 2 to 1"):
        valid_for(reynolds=(2.0, 1.0))


def test_every_correlation_of_a_nusselt_number_has_a_range():
    bare = [f.__name__ for f in public_functions() if f.__name__.startswith("nusselt") and not validity(f)]
    assert bare == []
