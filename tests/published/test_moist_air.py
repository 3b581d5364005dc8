"""Air and vapour against handbook tables."""

import pytest

from thermal_model.properties import moist_air, water

# Cengel, Heat and Mass Transfer, table A-15, properties of air at 1 atm (table seen):
# T_C, rho, cp, k, alpha * 1e5, mu * 1e5, nu * 1e5, Pr.
CENGEL_A15 = [
    (-20, 1.394, 1005, 0.02211, 1.578, 1.630, 1.169, 0.7408),
    (0, 1.292, 1006, 0.02364, 1.818, 1.729, 1.338, 0.7362),
    (20, 1.204, 1007, 0.02514, 2.074, 1.825, 1.516, 0.7309),
    (40, 1.127, 1007, 0.02662, 2.346, 1.918, 1.702, 0.7255),
    (60, 1.059, 1007, 0.02808, 2.632, 2.008, 1.896, 0.7202),
    (80, 0.9994, 1008, 0.02953, 2.931, 2.096, 2.097, 0.7154),
    (100, 0.9458, 1009, 0.03095, 3.243, 2.181, 2.306, 0.7111),
    (120, 0.8977, 1011, 0.03235, 3.565, 2.264, 2.522, 0.7073),
]
FROM_CENGEL = pytest.mark.parametrize("row", CENGEL_A15, ids=lambda row: f"{row[0]}C")
Row = tuple[float, ...]


@FROM_CENGEL
def test_density_and_heat_capacity(row: Row) -> None:
    assert moist_air.density(row[0] + 273.15) == pytest.approx(row[1], rel=1.5e-3)
    assert moist_air.heat_capacity(row[0] + 273.15) == pytest.approx(row[2], rel=2.5e-3)


@FROM_CENGEL
def test_transport(row: Row) -> None:
    # The handbook's older conductivity runs up to 3.2 % below Lemmon and Jacobsen 2004 (at 300 K 0.0256 here,
    # 0.0263 in Incropera's table, 0.0264 by the fit); its viscosity agrees within 0.7 %.
    temperature = row[0] + 273.15
    assert moist_air.conductivity(temperature) == pytest.approx(row[3], rel=0.035)
    assert moist_air.thermal_diffusivity(temperature) == pytest.approx(row[4] * 1e-5, rel=0.035)
    assert moist_air.dynamic_viscosity(temperature) == pytest.approx(row[5] * 1e-5, rel=7e-3)
    assert moist_air.kinematic_viscosity(temperature) == pytest.approx(row[6] * 1e-5, rel=7e-3)
    assert moist_air.prandtl(temperature) == pytest.approx(row[7], rel=0.04)


@pytest.mark.parametrize(
    ("kelvin", "density", "viscosity", "conductivity", "prandtl"),
    [
        (250.0, 1.3947, 159.6e-7, 22.3e-3, 0.720),
        (300.0, 1.1614, 184.6e-7, 26.3e-3, 0.707),
        (350.0, 0.9950, 208.2e-7, 30.0e-3, 0.700),
    ],
)
def test_incropera(kelvin: float, density: float, viscosity: float, conductivity: float, prandtl: float) -> None:
    # Incropera, DeWitt, table A.4 (from memory), whose densities are at 1 bar rather than 1 atm (0.9869).
    assert moist_air.density(kelvin, 1e5) == pytest.approx(density, rel=2e-3)
    assert moist_air.dynamic_viscosity(kelvin) == pytest.approx(viscosity, rel=6e-3)
    assert moist_air.conductivity(kelvin) == pytest.approx(conductivity, rel=0.013)
    assert moist_air.prandtl(kelvin) == pytest.approx(prandtl, rel=0.01)


@pytest.mark.parametrize(("kelvin", "square_centimetres"), [(293.15, 0.242), (373.15, 0.399), (473.15, 0.638)])
def test_vapour_diffusivity(kelvin: float, square_centimetres: float) -> None:
    # CRC Handbook, section 6, Diffusion in Gases, H2O in a large excess of air (seen; from Marrero and
    # Mason 1972). At 473 K the one power law, valid to 450 K, runs 2 % high.
    rel = 0.002 if kelvin < 450.0 else 0.03
    assert moist_air.vapour_diffusivity(kelvin) == pytest.approx(square_centimetres * 1e-4, rel=rel)


@pytest.mark.parametrize("celsius", [10.0, 25.0, 40.0])
def test_vapour_diffusivity_after_massman(celsius: float) -> None:
    # Massman, Atmos. Environ. 32 (1998) 1111-1127: 0.2178 cm2/s (T / 273.15 K)^1.81 (coefficients from
    # memory), stated to 7 %.
    massman = 0.2178e-4 * ((celsius + 273.15) / 273.15) ** 1.81
    assert moist_air.vapour_diffusivity(celsius + 273.15) == pytest.approx(massman, rel=0.07)


@pytest.mark.parametrize(
    ("celsius", "volume", "humidity_ratio"),
    [(10, 0.8116, 0.007661), (20, 0.8498, 0.014758), (30, 0.8962, 0.027329), (50, 1.0425, 0.086858)],
)
def test_saturated_air(celsius: float, volume: float, humidity_ratio: float) -> None:
    # ASHRAE Fundamentals 2001, chapter 6, table 2: v_s in m3 and W_s in kg per kg of dry air at 101.325 kPa
    # (from memory; the chapter says that perfect gas relations err by less than 0.7 % up to 50 C, seen).
    temperature = celsius + 273.15
    expected_density = (1.0 + humidity_ratio) / volume
    assert moist_air.saturated_air_density(temperature) == pytest.approx(expected_density, rel=1e-3)
    vapour = moist_air.saturated_vapour_density(temperature)
    dry = moist_air.saturated_air_density(temperature) - vapour
    assert vapour / dry == pytest.approx(humidity_ratio, rel=7e-3)


@pytest.mark.parametrize(
    ("celsius", "volume", "humidity_ratio"), [(60, 1.175, 0.1535), (70, 1.404, 0.2791), (80, 1.879, 0.5529)]
)
def test_hot_saturated_air(celsius: float, volume: float, humidity_ratio: float) -> None:
    # v_s as printed in an online psychrometric table at 1 atm (seen, source unnamed there); W_s from memory
    # (Hyland and Wexler 1983).
    expected_density = (1.0 + humidity_ratio) / volume
    assert moist_air.saturated_air_density(celsius + 273.15) == pytest.approx(expected_density, rel=5e-3)


def test_lewis_number_of_room_air() -> None:
    # Common value 0.85 to 0.87 for water vapour in air (Incropera, alpha/D = 22.5/26.0; from memory); D
    # after Marrero and Mason is a little lower than Incropera's 26.0e-6 m2/s, so that ours lies at 0.88.
    assert moist_air.lewis_number(298.15) == pytest.approx(22.5 / 26.0, rel=0.03)


def test_vapour_pressure_of_a_room() -> None:
    # ASHRAE Fundamentals 2001, chapter 6: 2.3389 kPa at 20 C (from memory).
    assert moist_air.vapour_pressure(293.15, 0.5) == pytest.approx(0.5 * 2338.9, rel=5e-4)
    assert moist_air.vapour_pressure(293.15, 1.0) == water.saturation_pressure(293.15)
