"""Enthalpy of water and ice: integral, inverse, melting."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermal_model.properties import ice, water

GAUSS_POINTS, GAUSS_WEIGHTS = np.polynomial.legendre.leggauss(20)


def integral(function, low: float, high: float) -> float:
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    return half * float(np.sum(GAUSS_WEIGHTS * function(middle + half * GAUSS_POINTS)))


@pytest.mark.parametrize("temperature", [268.15, 277.13, 300.0, 343.15, 378.15])
def test_enthalpy_of_water_is_the_integral_of_its_heat_capacity(temperature: float) -> None:
    expected = integral(water.heat_capacity, 273.15, temperature)
    assert water.specific_enthalpy(temperature) == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize("temperature", [233.15, 255.15, 272.15])
def test_enthalpy_of_ice_is_the_integral_of_its_heat_capacity(temperature: float) -> None:
    expected = integral(ice.heat_capacity, 273.15, temperature) - ice.FUSION_ENTHALPY
    assert ice.specific_enthalpy(temperature) == pytest.approx(expected, rel=1e-12)


def test_enthalpy_of_water_is_zero_at_freezing() -> None:
    assert abs(water.specific_enthalpy(water.FREEZING_POINT)) < 1e-9


@given(st.floats(min_value=268.15, max_value=378.15))
def test_temperature_of_water_from_its_enthalpy(temperature: float) -> None:
    found = water.temperature_from_enthalpy(water.specific_enthalpy(temperature))
    assert abs(found - temperature) < 1e-9


def test_temperature_from_enthalpy_holds_ten_kelvin_beyond_its_range() -> None:
    temperature = np.array([258.15, 388.15])
    found = water.temperature_from_enthalpy(water.specific_enthalpy(temperature))
    assert found == pytest.approx(temperature, abs=1e-6)


@given(st.floats(min_value=200.0, max_value=273.1499))
def test_temperature_of_ice_from_its_enthalpy(temperature: float) -> None:
    found = ice.temperature_from_mixture_enthalpy(ice.specific_enthalpy(temperature))
    assert abs(found - temperature) < 1e-9


@given(st.floats(min_value=273.1501, max_value=378.15))
def test_mixture_above_freezing_is_water(temperature: float) -> None:
    enthalpy = water.specific_enthalpy(temperature)
    assert abs(ice.temperature_from_mixture_enthalpy(enthalpy) - temperature) < 1e-9


@given(st.floats(min_value=0.0, max_value=1.0))
def test_melting_ice_is_exactly_at_freezing(fraction: float) -> None:
    enthalpy = -fraction * ice.FUSION_ENTHALPY
    assert ice.temperature_from_mixture_enthalpy(enthalpy) == 273.15


@given(st.lists(st.floats(min_value=-450e3, max_value=440e3), min_size=2, max_size=20))
def test_mixture_temperature_never_falls_with_enthalpy(enthalpies: list[float]) -> None:
    temperature = ice.temperature_from_mixture_enthalpy(np.sort(np.array(enthalpies)))
    assert np.all(np.diff(temperature) >= -1e-10)


def test_mixture_takes_a_batch_of_designs_and_single_floats() -> None:
    enthalpy = np.array([[-400e3, -200e3, 0.0], [1e-6, 100e3, 400e3]])
    temperature = ice.temperature_from_mixture_enthalpy(enthalpy)
    singles = [[ice.temperature_from_mixture_enthalpy(float(h)) for h in row] for row in enthalpy]
    assert temperature == pytest.approx(np.array(singles), abs=1e-12)
    assert np.ndim(singles[0][0]) == 0
