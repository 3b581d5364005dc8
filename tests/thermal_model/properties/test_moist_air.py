"""Relations between the properties of air: definitions, pressure, limits."""

import numpy as np
import pytest

from thermal_model.physics.constants import GRAVITY
from thermal_model.physics.validity import broken_ranges
from thermal_model.properties import moist_air, water

TEMPERATURE = np.linspace(250.0, 390.0, 15)
SATURATED = np.linspace(274.0, 372.0, 15)


def test_fitted_groups_follow_their_definitions() -> None:
    density, capacity = moist_air.density(TEMPERATURE), moist_air.heat_capacity(TEMPERATURE)
    viscosity = moist_air.dynamic_viscosity(TEMPERATURE) / density
    diffusivity = moist_air.conductivity(TEMPERATURE) / (density * capacity)
    assert moist_air.kinematic_viscosity(TEMPERATURE) == pytest.approx(viscosity, rel=1e-12)
    assert moist_air.thermal_diffusivity(TEMPERATURE) == pytest.approx(diffusivity, rel=1e-5)
    assert moist_air.prandtl(TEMPERATURE) == pytest.approx(viscosity / diffusivity, rel=1e-5)
    group = GRAVITY / (TEMPERATURE * viscosity * diffusivity)
    assert moist_air.buoyancy_group(TEMPERATURE) == pytest.approx(group, rel=1e-5)


def test_half_the_pressure() -> None:
    half = 0.5 * 101325.0
    assert moist_air.density(300.0, half) == pytest.approx(0.5 * moist_air.density(300.0), rel=1e-14)
    for transport in (
        moist_air.kinematic_viscosity,
        moist_air.thermal_diffusivity,
        moist_air.vapour_diffusivity,
    ):
        assert transport(300.0, half) == pytest.approx(2.0 * transport(300.0), rel=1e-14)


def test_cold_saturated_air_is_nearly_dry_air() -> None:
    dry = moist_air.buoyancy_group(273.15) * 273.15
    assert moist_air.saturated_air_conductivity(273.15) == pytest.approx(moist_air.conductivity(273.15), rel=2e-3)
    assert moist_air.saturated_air_buoyancy_group(273.15) == pytest.approx(dry, rel=0.01)
    assert moist_air.saturated_air_density(273.15) == pytest.approx(moist_air.density(273.15), rel=3e-3)


def test_saturated_air_is_lighter_than_dry_air_and_lighter_still_when_hot() -> None:
    density = moist_air.saturated_air_density(SATURATED)
    assert np.all(density < moist_air.density(SATURATED))
    assert np.all(np.diff(density) < 0.0)


def test_beyond_boiling_there_is_steam_only() -> None:
    hot = np.array([374.0, 378.15])
    steam = 101325.0 / (moist_air.WATER_VAPOUR_GAS_CONSTANT * hot)
    assert moist_air.saturated_air_density(hot) == pytest.approx(steam, rel=1e-12)
    conductivity = moist_air.saturated_air_conductivity(hot)
    assert conductivity == pytest.approx(moist_air.saturated_air_conductivity(water.BOILING_POINT))


def test_a_property_outside_its_range_is_told_of() -> None:
    with broken_ranges() as found:
        moist_air.density(300.0)
        moist_air.density(500.0)
        water.conductivity(np.array([260.0, 300.0]))
    assert list(found) == ["temperature 500 is above 400 (density)", "temperature 260 is below 268 (conductivity)"]
