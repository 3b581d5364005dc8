"""Vapour beside psychrometry, de Vries, the pool formula and Epstein's regimes."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from tests.published.formulas import rayleigh_number
from thermal_model.physics.constants import GAS_CONSTANT, GRAVITY, STANDARD_PRESSURE
from thermal_model.physics.enclosed_layers import nusselt_layer_heated_below_hollands
from thermal_model.physics.forced_convection import nusselt_cross_flow_churchill_bernstein
from thermal_model.physics.free_convection import nusselt_horizontal_plate_hot_side_up
from thermal_model.physics.radiation import STEFAN_BOLTZMANN
from thermal_model.physics.vapour_transport import (
    LEAST_AIR_FRACTION,
    exchange_flow_through_level_slit,
    exchange_flow_through_opening_epstein,
    mass_fraction_from_pressure,
    stefan_flow_mass_flux,
    stefan_flow_potential,
    vapour_conductivity_saturated,
    vapour_diffusivity_marrero_mason,
)
from thermal_model.properties.moist_air import saturated_air_vapour_group


def saturation_pressure(temperature):
    return PropsSI("P", "T", temperature, "Q", 0, "Water")


def latent_heat(temperature):
    return PropsSI("H", "T", temperature, "Q", 1, "Water") - PropsSI("H", "T", temperature, "Q", 0, "Water")


def vapour_diffusivity(temperature):
    return vapour_diffusivity_marrero_mason(temperature, STANDARD_PRESSURE)


def evaporation_flux(film, surface, room, capacity, lewis_number):
    """Of a wet surface by the Lewis analogy, Incropera eq. 6.60: beta = h / (rho c_p Le^(2/3)); densities cancel."""
    fractions = (mass_fraction_from_pressure(pressure, STANDARD_PRESSURE) for pressure in (surface, room))
    return stefan_flow_mass_flux(film / (capacity * lewis_number ** (2.0 / 3.0)), 1.0, *fractions)


def air(temperature):
    """Conductivity, density, heat capacity and viscosity of dry air at one atmosphere, from CoolProp."""
    return (PropsSI(key, "T", temperature, "P", STANDARD_PRESSURE, "Air") for key in ("L", "D", "C", "V"))


def test_wet_bulb_of_a_ventilated_psychrometer():
    """A wet bulb that takes as much heat by convection as evaporation costs it.

    American Meteorological Society, Glossary, psychrometric formula (seen):
    e = e_s(T_w) - 6.60e-4 (1 + 0.00115 t_w) p (T - T_w). It is an average over instruments, whose bulbs also
    take heat by radiation and along the stem. For radiation a bulb of 4 mm at 4 m/s is taken (common
    practice, no source); the stem is left out: ours evaporates 7.6 % more than the formula, hence 10 %.
    """
    dry, wet = 293.15, 287.15
    conductivity, density, heat_capacity, viscosity = air(0.5 * (dry + wet))
    diffusivity = conductivity / (density * heat_capacity)
    reynolds = 4.0 * 0.004 * density / viscosity
    prandtl = viscosity * heat_capacity / conductivity
    convection = nusselt_cross_flow_churchill_bernstein(reynolds, prandtl) * conductivity / 0.004
    radiation = 4.0 * STEFAN_BOLTZMANN * 290.15**3
    printed = 6.60e-4 * (1.0 + 0.00115 * (wet - 273.15)) * STANDARD_PRESSURE
    room = saturation_pressure(wet) - printed * (dry - wet)
    lewis = diffusivity / vapour_diffusivity(0.5 * (dry + wet))
    flux = evaporation_flux(convection, saturation_pressure(wet), room, heat_capacity, lewis)
    assert flux * latent_heat(wet) == pytest.approx((convection + radiation) * (dry - wet), rel=0.10)


def test_humidity_ratio_of_saturated_air():
    # ASHRAE Fundamentals, saturated air at 20 C: 0.01476 kg per kg of dry air (from memory); ideal gases
    # without the enhancement factor stay 0.5 % below.
    w = mass_fraction_from_pressure(saturation_pressure(293.15), STANDARD_PRESSURE)
    assert w / (1.0 - w) == pytest.approx(0.01476, rel=0.006)


def test_vapour_conducts_as_well_as_water_near_sixty_degrees():
    # de Vries 1963, Krischer: at about 60 C the vapour in saturated air conducts as much as liquid water
    # (from memory). Ours gets there at 63 to 64 C; diffusivities of the literature differ by some 10 %.
    def apparent(temperature):
        return vapour_conductivity_saturated(
            temperature,
            STANDARD_PRESSURE,
            saturation_pressure(temperature),
            latent_heat(temperature),
            vapour_diffusivity(temperature),
        )

    assert apparent(273.15 + 55.0) < PropsSI("L", "T", 328.15, "P", STANDARD_PRESSURE, "Water")
    assert apparent(273.15 + 65.0) > PropsSI("L", "T", 338.15, "P", STANDARD_PRESSURE, "Water")


def test_vapour_conductivity_at_room_temperature():
    # Soil physics (Campbell 1985, from memory): some 0.07 W/mK at 20 C, three times still air.
    ours = vapour_conductivity_saturated(293.15, STANDARD_PRESSURE, 2339.3, 2.4535e6, vapour_diffusivity(293.15))
    assert ours == pytest.approx(0.07, rel=0.1)


def test_saturated_gap_is_the_small_difference_limit_of_stefan_flow():
    # Exact: diffusion over a gap L is beta = D / L; k dT / L must be the latent heat of its flux, here in
    # partial pressures, p / (R_v T) beta ln((p - p2) / (p - p1)).
    temperature, step, gap = 333.15, 0.01, 0.002
    pressures = saturation_pressure(temperature - step), saturation_pressure(temperature + step)
    beta = vapour_diffusivity(temperature) / gap
    specific = STANDARD_PRESSURE / (GAS_CONSTANT / 0.01801528 * temperature)
    flux = specific * beta * np.log((STANDARD_PRESSURE - pressures[0]) / (STANDARD_PRESSURE - pressures[1]))
    ours = vapour_conductivity_saturated(
        temperature,
        STANDARD_PRESSURE,
        saturation_pressure(temperature),
        latent_heat(temperature),
        vapour_diffusivity(temperature),
    )
    # Clausius-Clapeyron with an ideal vapour is 1 % off at 60 C.
    assert ours * 2.0 * step / gap == pytest.approx(flux * latent_heat(temperature), rel=0.015)


def test_stefan_flow_limits():
    thin = stefan_flow_mass_flux(0.01, 1.2, 1.002e-3, 1e-3)
    assert thin == pytest.approx(0.01 * 1.2 * 2e-6, rel=2e-3)
    assert stefan_flow_mass_flux(0.01, 1.2, 0.1, 0.1) == 0.0
    assert stefan_flow_mass_flux(0.01, 1.2, 0.3, 0.1) == pytest.approx(-stefan_flow_mass_flux(0.01, 1.2, 0.1, 0.3))
    boiling = stefan_flow_mass_flux(0.01, 1.2, 1.0, 0.0)
    assert boiling == pytest.approx(0.012 * np.log(1.0 / LEAST_AIR_FRACTION))


def test_diffusivity_of_vapour_in_air():
    # Incropera, table A.8: 0.26e-4 m2/s at 298 K. Massman 1998, Atmos. Environ. 32: 0.2178e-4 (T/273.15)^1.81 at one
    # atmosphere. Both from memory; the two fits differ by 3.4 % at most.
    assert vapour_diffusivity(298.0) == pytest.approx(0.26e-4, rel=0.05)
    temperatures = np.array([283.15, 323.15, 363.15])
    massman = 0.2178e-4 * (temperatures / 273.15) ** 1.81
    np.testing.assert_allclose(vapour_diffusivity(temperatures), massman, rtol=0.04)
    assert vapour_diffusivity_marrero_mason(300.0, 0.5 * STANDARD_PRESSURE) == pytest.approx(
        2.0 * vapour_diffusivity(300.0)
    )


def test_mass_fraction_ends():
    assert mass_fraction_from_pressure(0.0, 1e5) == 0.0
    assert mass_fraction_from_pressure(1e5, 1e5) == pytest.approx(1.0)
    assert mass_fraction_from_pressure(2e5, 1e5) == pytest.approx(1.0)


def test_evaporation_beside_the_pool_formula():
    """Warm water in a quiet room, 25 C under 28 C air of half humidity, by ASHRAE's formula (from memory).

    W = (0.089 + 0.0782 V) (p_w - p_a) / h_fg in kPa and kJ/kg for an active pool; an unoccupied one takes
    half of it, and Shah (2003, from memory) finds still less where water lies undisturbed. Convection is
    driven by the lighter moist air, over a 0.5 m square.
    """
    water, room = 298.15, 301.15
    p_w, p_a = saturation_pressure(water), 0.5 * saturation_pressure(room)
    conductivity, density, heat_capacity, viscosity = air(299.65)
    diffusivity = conductivity / (density * heat_capacity)
    moist = 0.378 * (p_w - p_a) / STANDARD_PRESSURE + (water - room) / 300.0
    rayleigh = rayleigh_number(moist * 300.0, 0.125, 1.0 / 300.0, viscosity / density, diffusivity)
    convection = nusselt_horizontal_plate_hot_side_up(rayleigh) * conductivity / 0.125
    lewis = diffusivity / vapour_diffusivity(299.65)
    flux = evaporation_flux(convection, p_w, p_a, heat_capacity, lewis)
    active = 0.089 * (p_w - p_a) / latent_heat(water)
    assert 0.25 * active < flux < 0.75 * active


def test_vapour_dominates_a_hot_headspace():
    """At 70 C, order 40 W/m2K with vapour against 10 without (common practice, no source): the order only.

    A closed headspace of 30 mm between water of 70 C and a lid's underside of 65 C: convection and vapour
    against convection and radiation.
    """
    water, lid, depth = 343.15, 338.15, 0.03
    mean = 0.5 * (water + lid)
    conductivity, density, heat_capacity, viscosity = air(mean)
    diffusivity = conductivity / (density * heat_capacity)
    rayleigh = rayleigh_number(water - lid, depth, 1.0 / mean, viscosity / density, diffusivity)
    dry = nusselt_layer_heated_below_hollands(rayleigh) * conductivity / depth
    low, high = (
        stefan_flow_potential(mass_fraction_from_pressure(saturation_pressure(at), STANDARD_PRESSURE))
        for at in (lid, water)
    )
    vapour = dry * saturated_air_vapour_group(mean) * (high - low) / (water - lid)
    radiation = 4.0 * STEFAN_BOLTZMANN * mean**3 * 0.9
    assert 5.0 < dry + radiation < 15.0
    assert 25.0 < dry + vapour < 100.0


@pytest.mark.parametrize(
    ("slenderness", "froude", "tolerance"),
    [
        # Epstein 1988, regimes from memory: 0.055; 0.147 x^(1/2); the peak, a little under 0.1, near x = 0.6;
        # 0.32 x^(-3/2). The four regimes, the peak and the range of L/D were seen in the abstract.
        (0.01, 0.055, 0.03),
        (0.3, 0.147 * 0.3**0.5, 0.10),
        (0.6, 0.095, 0.05),
        (10.0, 0.32 * 10.0**-1.5, 0.05),
    ],
)
def test_exchange_flow_regimes_of_epstein(slenderness, froude, tolerance):
    diameter, lift = 0.02, 0.1
    flow = exchange_flow_through_opening_epstein(diameter, slenderness * diameter, lift)
    assert flow / np.sqrt(GRAVITY * lift * diameter**5) == pytest.approx(froude, rel=tolerance)


def test_exchange_flow_peaks_and_stops():
    slenderness = np.logspace(-2, 1, 301)
    flow = exchange_flow_through_opening_epstein(0.02, slenderness * 0.02, 0.1)
    assert 0.4 < slenderness[np.argmax(flow)] < 0.8
    assert exchange_flow_through_opening_epstein(0.02, 0.02, 0.0) == 0.0
    assert exchange_flow_through_opening_epstein(0.02, 0.02, -0.1) == 0.0
    assert exchange_flow_through_opening_epstein(0.0, 0.02, 0.1) == 0.0


def test_flow_through_a_level_slit_is_the_core_flow_of_a_shallow_cavity():
    """Cormack, Leal, Imberger 1974: u = Gr (y^3/6 - y^2/4 + y/12), stream function Gr/384 at mid-height."""
    height, way, viscosity, difference = 0.0015, 0.006, 2e-5, 0.3
    y = np.linspace(0.0, 0.5, 20001)
    profile = y**3 / 6.0 - y**2 / 4.0 + y / 12.0
    one_way = np.trapezoid(profile, y)
    assert one_way == pytest.approx(1.0 / 384.0, rel=1e-6)
    # In their units a velocity is nu Gr (h/l) / h, with Gr = g drho h^3 / (rho nu^2).
    expected = GRAVITY * difference * height**4 / (viscosity * way) * one_way
    ours = exchange_flow_through_level_slit(1.0, height, way, difference, viscosity)
    assert ours == pytest.approx(expected, rel=1e-6)
    assert exchange_flow_through_level_slit(1.0, height, way, -difference, viscosity) == ours
    assert exchange_flow_through_level_slit(1.0, 0.0, way, difference, viscosity) == 0.0
