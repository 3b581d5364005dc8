"""Validity ranges are data beside the functions, and speak in plain sentences."""

import inspect

import numpy as np
import pytest

from tests.thermal_model.physics.test_array_rule import public_functions
from thermal_model.physics.free_convection import nusselt_vertical_plate_churchill_chu
from thermal_model.physics.validity import out_of_range, valid_for, validity


def test_the_function_itself_is_returned():
    def double(reynolds):
        return 2.0 * reynolds

    assert valid_for(reynolds=(1.0, 2.0))(double) is double
    assert validity(double) == {"reynolds": (1.0, 2.0)}
    assert inspect.unwrap(double) is double


def test_a_function_without_ranges_has_none():
    assert validity(len) == {}


def test_inside_the_range_there_is_nothing_to_say():
    assert out_of_range(nusselt_vertical_plate_churchill_chu, rayleigh=np.array([0.1, 1e6, 1e12])) == []


def test_both_ends_of_a_batch_are_named():
    sentences = out_of_range(nusselt_vertical_plate_churchill_chu, rayleigh=np.array([1e-3, 1e6, 3.1e13]))
    assert sentences == [
        "rayleigh 0.001 is below 0.1 (nusselt_vertical_plate_churchill_chu)",
        "rayleigh 3.1e+13 is above 1e+12 (nusselt_vertical_plate_churchill_chu)",
    ]


def test_not_a_number_is_out_of_range():
    (sentence,) = out_of_range(nusselt_vertical_plate_churchill_chu, rayleigh=np.nan)
    assert sentence == "rayleigh is not a number (nusselt_vertical_plate_churchill_chu)"


def test_a_value_without_a_range_is_refused():
    with pytest.raises(ValueError, match="no range for prandtl"):
        out_of_range(nusselt_vertical_plate_churchill_chu, prandtl=0.7)


def test_an_empty_range_is_refused():
    with pytest.raises(ValueError, match="the range of reynolds is empty: 2 to 1"):
        valid_for(reynolds=(2.0, 1.0))


def test_every_correlation_of_a_nusselt_number_has_a_range():
    bare = [f.__name__ for f in public_functions() if f.__name__.startswith("nusselt") and not validity(f)]
    assert bare == []
