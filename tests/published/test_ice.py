"""Ice against the IAPWS formulation of ice Ih and a handbook."""

import csv
from pathlib import Path

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from thermal_model.properties import ice, water

with (Path(__file__).parent / "ice_iapws06.csv").open() as file:
    lines = [line for line in file if not line.startswith("#")]
TABLE = [{key: float(value) for key, value in row.items()} for row in csv.DictReader(lines)]
FROM_TABLE = pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['T_C']:g}C")
ENTHALPY_AT_FREEZING = next(row["h_J_kg"] for row in TABLE if row["T_C"] == 0.0)


@FROM_TABLE
def test_density(row: dict[str, float]) -> None:
    assert ice.density(row["T_C"] + 273.15) == pytest.approx(row["rho_kg_m3"], rel=1e-4)


@FROM_TABLE
def test_heat_capacity(row: dict[str, float]) -> None:
    assert ice.heat_capacity(row["T_C"] + 273.15) == pytest.approx(row["cp_J_kgK"], rel=6e-4)


@FROM_TABLE
def test_enthalpy_below_freezing(row: dict[str, float]) -> None:
    below = ice.specific_enthalpy(row["T_C"] + 273.15) + ice.FUSION_ENTHALPY
    assert below == pytest.approx(row["h_J_kg"] - ENTHALPY_AT_FREEZING, rel=3e-4, abs=0.1)


def test_enthalpy_of_fusion() -> None:
    # IAPWS R10-06(2009), table 6: -333354.873637 J/kg for ice at 273.152519 K and one atmosphere (value
    # seen in several implementations' tests), against the liquid of IAPWS-95 in the same reference state.
    liquid = PropsSI("H", "T|liquid", 273.152519, "P", 101325.0, "Water")
    assert liquid + 333354.873637 == pytest.approx(ice.FUSION_ENTHALPY, abs=10.0)


def test_enthalpy_of_fusion_in_a_handbook() -> None:
    # CRC Handbook, section 6, Properties of Ice and Supercooled Water (seen): 333.6 J/g at 0 C.
    assert pytest.approx(333.6e3, rel=1e-3) == ice.FUSION_ENTHALPY


@pytest.mark.parametrize(("celsius", "expected", "digit"), [(0, 2.14, 0.01), (-10, 2.3, 0.1), (-20, 2.4, 0.1)])
def test_conductivity(celsius: float, expected: float, digit: float) -> None:
    # CRC Handbook, same table (seen): 0.0214, 0.023, 0.024 W/(cm K).
    assert ice.conductivity(celsius + 273.15) == pytest.approx(expected, abs=0.5 * digit)


@pytest.mark.parametrize(("celsius", "expected"), [(0, 2.11), (-10, 2.03), (-20, 1.96)])
def test_heat_capacity_in_a_handbook(celsius: float, expected: float) -> None:
    # CRC Handbook, same table (seen), J/(g K); older measurements than IAPWS R10-06, 0.6 % apart.
    assert ice.heat_capacity(celsius + 273.15) == pytest.approx(expected * 1e3, rel=7e-3)


def test_ice_in_tea() -> None:
    # A mixing sum by hand: 100 g of ice at -18 C in 400 g of water at 60 C. Heat to warm and melt the ice:
    # 0.1 (36548.7 + 333430) J = 37.00 kJ; the water gives 0.4 * 4184 (60 - t), the melt takes 0.1 * 4190 t.
    # Constant heat capacities (4184, 4190 J/(kg K), from memory) hold this sum to about 0.1 K.
    expected = (0.4 * 4184.0 * 60.0 - 0.1 * (36548.7 + 333430.0)) / (0.4 * 4184.0 + 0.1 * 4190.0)
    total = 0.4 * water.specific_enthalpy(333.15) + 0.1 * ice.specific_enthalpy(255.15)
    final = ice.temperature_from_mixture_enthalpy(total / 0.5) - 273.15
    assert final == pytest.approx(expected, abs=0.1)
    assert np.isclose(final, 30.3, atol=0.2)
