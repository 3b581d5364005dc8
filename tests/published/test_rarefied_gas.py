"""Rarefied gases beside Corruccini, Barron, the CRC Handbook, ISO 15099, Kennard and CoolProp."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from tests.published.check import read_rows
from tests.published.rarefied_gas_cases import (
    conductivity_checks,
    free_molecule_checks,
)
from thermal_model.physics.constants import GAS_CONSTANT
from thermal_model.physics.rarefied_gas import (
    GASES,
    accommodation_factor,
    free_molecule_coefficient,
    gas_conductance_sherman,
    gas_conductivity,
)

ALL_CHECKS = free_molecule_checks() + conductivity_checks()


@pytest.mark.parametrize("check", ALL_CHECKS, ids=lambda check: check.name)
def test_printed_figure(check):
    assert check.agrees, check


def test_no_free_molecule_row_is_left_out():
    assert len(free_molecule_checks()) == len(read_rows("free_molecule_coefficients.csv"))


@pytest.mark.parametrize(
    ("row", "names"), [("air/N2", ("air", "nitrogen")), ("He", ("helium",)), ("H2", ("hydrogen",))]
)
def test_accommodation_of_the_table(row, names):
    # Corruccini 1959 as reproduced in Barron, from memory.
    (printed,) = [r["300K"] for r in read_rows("accommodation.csv") if r["gas"] == row]
    assert [GASES[name].accommodation for name in names] == [float(printed)] * len(names)


def test_air_on_metals_lies_in_holmans_range():
    # Holman, table 7-4: air on metals 0.87 to 0.97.
    (printed,) = [r["300K"] for r in read_rows("accommodation.csv") if r["gas"] == "air on metals"]
    low, high = map(float, printed.split("-"))
    assert low <= GASES["air"].accommodation <= high


@pytest.mark.parametrize(
    ("name", "fluid"),
    [
        ("air", "Air"),
        ("nitrogen", "Nitrogen"),
        ("argon", "Argon"),
        ("hydrogen", "Hydrogen"),
        ("helium", "Helium"),
        ("carbon_dioxide", "CarbonDioxide"),
    ],
)
def test_gases_agree_with_coolprop(name, fluid):
    gas = GASES[name]
    temperatures = np.array([250.0, 270.0, 300.0, 330.0, 370.0])
    expected = [PropsSI("L", "T", t, "P", 101325.0, fluid) for t in temperatures]
    ours = gas_conductivity(gas.conductivity_300K, gas.conductivity_exponent, temperatures)
    np.testing.assert_allclose(ours, expected, rtol=0.006)
    assert gas.molar_mass == pytest.approx(PropsSI("M", fluid), rel=1e-4)
    ideal = PropsSI("Cp0mass", "T", 300.0, "P", 101325.0, fluid)
    assert gas.heat_capacity_ratio == pytest.approx(ideal / (ideal - GAS_CONSTANT / gas.molar_mass), rel=1e-3)


def test_sherman_meets_both_limits():
    assert gas_conductance_sherman(1e-6, 7.0) == pytest.approx(1e-6, rel=1e-6)
    assert gas_conductance_sherman(1e9, 7.0) == pytest.approx(7.0, rel=1e-6)
    assert gas_conductance_sherman(0.0, 7.0) == 0.0
    assert gas_conductance_sherman(0.0, 0.0) == 0.0


@pytest.mark.parametrize("pressure", [0.01, 1.0, 100.0, 1e4])
def test_sherman_is_the_temperature_jump_law_of_kennard(pressure):
    # Kennard, Kinetic Theory of Gases, 1938, from memory: q = k dT / (L + 2 g) with the jump
    # g = (2-a)/a 2 gamma/(gamma+1) lambda/Pr and Maxwell's path. For parallel plates it is the same law.
    gas, temperature, gap = GASES["air"], 300.0, 0.004
    viscosity, conductivity = 1.8537e-5, gas.conductivity_300K
    heat_capacity = 1.4 / 0.4 * GAS_CONSTANT / gas.molar_mass
    prandtl = viscosity * heat_capacity / conductivity
    path = viscosity / pressure * np.sqrt(np.pi * GAS_CONSTANT * temperature / (2.0 * gas.molar_mass))
    a = gas.accommodation
    jump = (2.0 - a) / a * 2.8 / 2.4 * path / prandtl
    free = pressure * free_molecule_coefficient(gas.molar_mass, 1.4, temperature) * accommodation_factor(a, a, 1.0)
    ours = gas_conductance_sherman(free, conductivity / gap)
    assert ours == pytest.approx(conductivity / (gap + 2.0 * jump), rel=1e-9)


def test_accommodation_of_a_small_inner_surface_is_its_own():
    assert accommodation_factor(0.3, 0.9, 1e-9) == pytest.approx(0.3)
    assert accommodation_factor(1.0, 1.0, 0.5) == 1.0


def test_gas_conduction_of_a_failed_vacuum_is_that_of_air():
    # Common practice, no source: above some 1 kPa a gap of millimetres conducts as at one atmosphere.
    gas = GASES["air"]
    coefficient = free_molecule_coefficient(gas.molar_mass, gas.heat_capacity_ratio, 300.0)
    continuum = gas.conductivity_300K / 0.004
    assert gas_conductance_sherman(1e3 * 0.77 * coefficient, continuum) > 0.97 * continuum
    assert gas_conductance_sherman(1e-2 * 0.77 * coefficient, continuum) < 0.01
