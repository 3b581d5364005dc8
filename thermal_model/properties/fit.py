"""Fit the property functions of water and moist air to CoolProp and write `coefficients.py`.

Run as `python -m thermal_model.properties.fit` whenever a range or a degree changes here. CoolProp carries
the reference equations: IAPWS R6-95 (water), R12-08 (its viscosity), R15-11 (its conductivity), Lemmon et al.
2000 and Lemmon and Jacobsen 2004 (dry air), Herrmann, Kretzschmar and Gatley 2009 (humid air). Each property
is sampled at Chebyshev nodes and fitted in Chebyshev polynomials, weighted by 1/value, which comes near the
least worst relative error; the polynomials are then written out in powers of a variable x from -1 to 1.
"""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.polynomial import chebyshev

from geometries.constants import ZERO_CELSIUS
from geometries.files import write_text
from geometries.numeric import Array
from thermal_model.physics.constants import GRAVITY, STANDARD_PRESSURE
from thermal_model.physics.vapour_transport import vapour_diffusivity_marrero_mason

TARGET = Path(__file__).with_name("coefficients.py")
NODE_COUNT = 161

WATER_RANGE = (266.15, 380.15)
"""Temperatures sampled for water [K], two kelvin wider than `water.py` promises: its edges stay sound."""

AIR_RANGE = (236.0, 404.0)
"""Temperatures sampled for dry air [K], four kelvin wider than what `moist_air.py` promises."""

FREEZING_POINT = ZERO_CELSIUS
BOILING_POINT = 373.1243
HUMID_AIR_LIMIT = 0.94
"""Largest mole fraction of vapour that CoolProp's humid air accepts; pure steam closes the gap above."""

HEADER = '''"""Coefficients of the fitted properties, highest power first.

Generated from CoolProp {version} by `python -m thermal_model.properties.fit`; not to be edited by hand. The
variables are WATER_SLOPE / T - WATER_OFFSET (water) and (T - centre) / half_width (air), with T in kelvin.
"""
'''

Coefficients = tuple[float, ...]


def chebyshev_nodes(low: float, high: float, count: int = NODE_COUNT) -> Array:
    """Return the Chebyshev nodes of an interval."""
    angles = np.pi * (np.arange(count) + 0.5) / count
    return np.asarray(0.5 * (low + high) + 0.5 * (high - low) * np.cos(angles))


def fit_powers(x: Array, values: Array, degree: int, weights: Array | float | None = None) -> Coefficients:
    """Fit values over x in [-1, 1], by default with the same relative weight; highest power first."""
    weights = 1.0 / np.abs(values) if weights is None else weights * np.ones_like(values)
    powers = chebyshev.cheb2poly(chebyshev.chebfit(x, values, degree, w=weights))
    return tuple(float(c) for c in powers[::-1])


def water_variable() -> tuple[float, float]:
    """Return slope and offset that map 1/T over the range of water onto -1 to 1."""
    cold, hot = 1.0 / WATER_RANGE[0], 1.0 / WATER_RANGE[1]
    return 2.0 / (cold - hot), (cold + hot) / (cold - hot)


def water_fits() -> Iterator[tuple[str, Coefficients | float]]:
    """Yield name and coefficients of each fit for liquid water and its saturation line."""
    slope, offset = water_variable()
    yield "WATER_SLOPE", slope
    yield "WATER_OFFSET", offset
    x = chebyshev_nodes(-1.0, 1.0)
    temperature = slope / (x + offset)
    yield "WATER_DENSITY", fit_powers(x, liquid_water("D", temperature), 8)
    yield from _enthalpy_fits(x, temperature)
    yield "WATER_CONDUCTIVITY", fit_powers(x, liquid_water("L", temperature), 6)
    yield "WATER_FLUIDITY", fit_powers(x, 1.0 / liquid_water("V", temperature), 7)
    pressure, latent_heat = saturated_water(temperature)
    yield "WATER_LOG_SATURATION_PRESSURE", fit_powers(x, np.log(pressure), 6, weights=1.0)
    yield "WATER_LATENT_HEAT", fit_powers(x, latent_heat, 6)
    yield from _water_film_fits(x, temperature)


def _water_film_fits(x: Array, temperature: Array) -> Iterator[tuple[str, Coefficients]]:
    density, capacity, conductivity, viscosity = (liquid_water(q, temperature) for q in "DCLV")
    inverse_group = viscosity * conductivity / (GRAVITY * density**2 * capacity)
    yield "WATER_INVERSE_BUOYANCY_GROUP", fit_powers(x, inverse_group, 7)
    yield "WATER_INVERSE_PRANDTL", fit_powers(x, conductivity / (viscosity * capacity), 6)


def _enthalpy_fits(x: Array, temperature: Array) -> Iterator[tuple[str, Coefficients]]:
    # With u = 1/T, dh = cp dT = -cp T^2 du: the enthalpy is the exact integral of a fit to cp T^2.
    slope, offset = water_variable()
    capacity = np.polynomial.Polynomial(fit_powers(x, liquid_water("C", temperature) * temperature**2, 9)[::-1])
    enthalpy = (-capacity / slope).integ()
    enthalpy -= enthalpy(slope / FREEZING_POINT - offset)
    yield "WATER_HEAT_CAPACITY_T2", tuple(float(c) for c in capacity.coef[::-1])
    yield "WATER_ENTHALPY", tuple(float(c) for c in enthalpy.coef[::-1])
    low, high = enthalpy(1.0), enthalpy(-1.0)
    centre, half_width = float(0.5 * (low + high)), float(0.5 * (high - low))
    yield "WATER_ENTHALPY_SCALE", (centre, half_width)
    y = (enthalpy(x) - centre) / half_width
    yield "WATER_TEMPERATURE", fit_powers(y, temperature, 8)


def air_fits() -> Iterator[tuple[str, Coefficients]]:
    """Yield name and coefficients of each fit for dry air at one atmosphere."""
    centre, half_width = 0.5 * sum(AIR_RANGE), 0.5 * (AIR_RANGE[1] - AIR_RANGE[0])
    yield "AIR_SCALE", (centre, half_width)
    x = chebyshev_nodes(-1.0, 1.0)
    temperature = centre + half_width * x
    density, capacity, conductivity, viscosity = dry_air(temperature)
    diffusivity = conductivity / (density * capacity)
    group = GRAVITY * density / (temperature * viscosity * diffusivity)
    yield "AIR_DENSITY_T", fit_powers(x, density * temperature, 5)
    yield "AIR_HEAT_CAPACITY", fit_powers(x, capacity, 5)
    yield "AIR_CONDUCTIVITY", fit_powers(x, conductivity, 4)
    yield "AIR_VISCOSITY", fit_powers(x, viscosity, 4)
    yield "AIR_THERMAL_DIFFUSIVITY", fit_powers(x, diffusivity, 4)
    yield "AIR_PRANDTL", fit_powers(x, viscosity * capacity / conductivity, 5)
    yield "AIR_INVERSE_BUOYANCY_GROUP", fit_powers(x, 1.0 / group, 5)


def saturated_air_fits() -> Iterator[tuple[str, Coefficients]]:
    """Yield name and coefficients of each fit for air saturated with vapour at one atmosphere."""
    low, high = WATER_RANGE[0], BOILING_POINT
    centre, half_width = 0.5 * (low + high), 0.5 * (high - low)
    yield "SATURATED_AIR_SCALE", (centre, half_width)
    temperature, (density, capacity, conductivity, viscosity) = saturated_air(chebyshev_nodes(low, high))
    x = (temperature - centre) / half_width
    diffusivity = conductivity / (density * capacity)
    inverse_group = viscosity * diffusivity / (density * GRAVITY)
    yield "SATURATED_AIR_CONDUCTIVITY", fit_powers(x, conductivity, 7)
    yield "SATURATED_AIR_INVERSE_BUOYANCY_GROUP", fit_powers(x, inverse_group, 7)
    lewis_number = diffusivity / vapour_diffusivity_marrero_mason(temperature, STANDARD_PRESSURE)
    vapour_group = saturated_water(temperature)[1] / (capacity * np.cbrt(lewis_number) ** 2)
    yield "SATURATED_AIR_VAPOUR_GROUP", fit_powers(x, vapour_group, 7)


def liquid_water(quantity: str, temperature: Array) -> Array:
    """Return a property of liquid water at one atmosphere, metastable where it would freeze or boil."""
    from CoolProp.CoolProp import PropsSI

    values = PropsSI(quantity, "T|liquid", temperature, "P", STANDARD_PRESSURE, "Water")
    return np.asarray(values, dtype=np.float64)


def saturated_water(temperature: Array) -> tuple[Array, Array]:
    """Return pressure and latent heat on the saturation line of liquid water [Pa, J kg-1]."""
    from CoolProp.CoolProp import PropsSI

    liquid, vapour = (PropsSI("H", "T", temperature, "Q", quality, "Water") for quality in (0, 1))
    return PropsSI("P", "T", temperature, "Q", 0, "Water"), vapour - liquid


def dry_air(temperature: Array) -> tuple[Array, ...]:
    """Return density, heat capacity, conductivity and viscosity of dry air at one atmosphere."""
    from CoolProp.CoolProp import PropsSI

    return tuple(PropsSI(q, "T", temperature, "P", STANDARD_PRESSURE, "Air") for q in "DCLV")


def saturated_air(temperature: Array) -> tuple[Array, tuple[Array, ...]]:
    """Return temperatures, and the same four properties of saturated air, ending in saturated steam."""
    from CoolProp.CoolProp import HAPropsSI, PropsSI

    mole_fraction = saturated_water(temperature)[0] / STANDARD_PRESSURE
    is_humid = mole_fraction < HUMID_AIR_LIMIT
    inputs = ("T", temperature[is_humid], "P", STANDARD_PRESSURE, "psi_w", mole_fraction[is_humid])
    volume, *others = (HAPropsSI(q, *inputs) for q in ("Vha", "cp_ha", "K", "M"))
    steam = [PropsSI(q, "P", STANDARD_PRESSURE, "Q", 1, "Water") for q in "DCLV"]
    columns = (np.append(humid, dry) for humid, dry in zip((1.0 / volume, *others), steam, strict=True))
    return np.append(temperature[is_humid], BOILING_POINT), tuple(columns)


def render() -> str:
    """Return the text of `coefficients.py`."""
    import CoolProp

    lines = [HEADER.format(version=CoolProp.__version__)]
    for name, value in [*water_fits(), *air_fits(), *saturated_air_fits()]:
        if isinstance(value, float):
            lines.append(f"{name} = {value!r}")
        else:
            lines.append(f"{name} = (\n" + "".join(f"    {c!r},\n" for c in value) + ")")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    write_text(TARGET, render())
