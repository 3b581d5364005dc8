"""Water against tables and formulas of IAPWS and CIPM."""

import csv
from pathlib import Path

import numpy as np
import pytest

from thermal_model.properties import water

# Computed with IAPWS-95 and IF97 implementations, 0 to 100 C at one atmosphere (see the reference notes).
with (Path(__file__).parent / "water_properties_1atm.csv").open() as file:
    TABLE = [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]
FROM_TABLE = pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['T_C']:g}C")


def kelvin(row: dict[str, float]) -> float:
    return row["T_C"] + 273.15


@FROM_TABLE
def test_density_as_printed(row: dict[str, float]) -> None:
    # Half a printed digit (0.001) and the fit's own 3e-8.
    assert water.density(kelvin(row)) == pytest.approx(row["rho_IAPWS95"], abs=0.0005 + 3e-5)


@FROM_TABLE
def test_heat_capacity_as_printed(row: dict[str, float]) -> None:
    assert water.heat_capacity(kelvin(row)) == pytest.approx(row["cp_J_kgK"], abs=0.05 + 0.001)


@FROM_TABLE
def test_conductivity_as_printed(row: dict[str, float]) -> None:
    assert water.conductivity(kelvin(row)) == pytest.approx(row["k_W_mK"], abs=0.5e-5 + 3e-6)


@FROM_TABLE
def test_viscosity_as_printed(row: dict[str, float]) -> None:
    # Half a printed digit (0.01) and the fit's own 1e-6.
    assert water.dynamic_viscosity(kelvin(row)) == pytest.approx(row["mu_uPa_s"] * 1e-6, abs=5e-9 + 2e-9)


@FROM_TABLE
def test_saturation_pressure_as_printed(row: dict[str, float]) -> None:
    assert water.saturation_pressure(kelvin(row)) == pytest.approx(row["psat_Pa"], abs=0.06, rel=2e-6)


@FROM_TABLE
def test_latent_heat_as_printed(row: dict[str, float]) -> None:
    assert water.latent_heat(kelvin(row)) == pytest.approx(row["hfg_kJ_kg"] * 1e3, abs=51.0)


@FROM_TABLE
def test_industrial_formulation_agrees(row: dict[str, float]) -> None:
    # IF97 stands 2e-5 from IAPWS-95 in density and up to 6e-4 in heat capacity in this table.
    assert water.density(kelvin(row)) == pytest.approx(row["rho_IF97"], rel=2e-5)
    assert water.heat_capacity(kelvin(row)) == pytest.approx(row["cp_IF97"], rel=6e-4)


def test_density_after_iapws95_verification_table() -> None:
    # IAPWS R6-95(2018), table 7: 996.5560 kg/m3 at 300 K gives 0.0992418352 MPa (value seen in several
    # implementations' tests). The step to one atmosphere compresses by 4.5e-10 / Pa (from memory) times
    # 2083 Pa.
    expected = 996.5560 * (1.0 + 4.5e-10 * (101325.0 - 99241.8))
    assert water.density(300.0) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("celsius", np.linspace(0.0, 40.0, 9))
def test_density_after_tanaka(celsius: float) -> None:
    # CIPM formula: Tanaka et al., Metrologia 38 (2001) 301-309, doi 10.1088/0026-1394/38/4/3; coefficients
    # seen in several implementations. Its own uncertainty is about 1e-6; IAPWS-95 stands within 1.5e-6 of
    # it up to 40 C.
    squared = (celsius - 3.983035) ** 2 * (celsius + 301.797)
    expected = 999.974950 * (1.0 - squared / (522528.9 * (celsius + 69.34881)))
    assert water.density(celsius + 273.15) == pytest.approx(expected, rel=2e-6)


def test_density_maximum() -> None:
    # 3.983 C after Tanaka et al. 2001; 3.98 C by IAPWS-95.
    temperature = np.linspace(276.15, 278.15, 20001)
    maximum = temperature[np.argmax(water.density(temperature))] - 273.15
    assert maximum == pytest.approx(3.98, abs=0.01)


def test_saturation_pressure_after_if97() -> None:
    # IAPWS R7-97(2012), table 35, region 4: 3.53658941e3 Pa at 300 K (seen in several implementations'
    # tests). IAPWS-95, which is fitted here, stands 6e-5 above IF97.
    assert water.saturation_pressure(300.0) == pytest.approx(3.53658941e3, rel=7e-5)


def test_boiling_point_after_if97() -> None:
    # IAPWS R7-97(2012), table 36: 372.755919 K at 0.1 MPa (seen in several implementations' tests).
    assert water.saturation_pressure(372.755919) == pytest.approx(0.1e6, rel=1e-4)


def test_boiling_at_one_atmosphere() -> None:
    assert water.saturation_pressure(water.BOILING_POINT) == pytest.approx(101325.0, rel=2e-6)


def test_transport_after_iapws_verification_tables() -> None:
    # IAPWS R12-08 table 4: 889.735100 uPa s, R15-11 table 4: 607.712868 mW/(m K), both at 298.15 K and 998
    # kg/m3 (values seen in several implementations' tests). At one atmosphere the density is 997.05 kg/m3:
    # 0.1 % less, for which the viscosity changes by 0.03 % and the conductivity by 0.2 %.
    assert water.dynamic_viscosity(298.15) == pytest.approx(889.735100e-6, rel=5e-4)
    assert water.conductivity(298.15) == pytest.approx(607.712868e-3, rel=2.5e-3)


@pytest.mark.parametrize(("celsius", "grams_per_litre"), [(0.0, 999.8), (-10.0, 998.2)])
def test_supercooled_density(celsius: float, grams_per_litre: float) -> None:
    # CRC Handbook, section 6, Properties of Ice and Supercooled Water (seen). -10 C lies outside our range:
    # the extrapolation stays sound there.
    assert water.density(celsius + 273.15) == pytest.approx(grams_per_litre, abs=0.1)
