"""Liquid water at one atmosphere, and its saturation line.

The coefficients are fitted to CoolProp, which carries IAPWS R6-95 [1]_, R12-08 (viscosity) [2]_ and R15-11
(conductivity) [3]_; `tests/benchmarks/property_accuracy.py` prints how far each fit deviates. Below
273.15 K the liquid is supercooled, above 373.1243 K superheated: there the reference equations are
extrapolations themselves. Functions take kelvin, floats or arrays alike, and check nothing: their
`validity` says where they hold.

References
----------
.. [1] Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387-535, doi 10.1063/1.1461829.
.. [2] Huber et al., J. Phys. Chem. Ref. Data 38 (2009) 101-125, doi 10.1063/1.3088050.
.. [3] Huber et al., J. Phys. Chem. Ref. Data 41 (2012) 033102, doi 10.1063/1.4738955.
"""

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for
from thermal_model.properties.coefficients import (
    WATER_CONDUCTIVITY,
    WATER_DENSITY,
    WATER_ENTHALPY,
    WATER_ENTHALPY_SCALE,
    WATER_FLUIDITY,
    WATER_HEAT_CAPACITY_T2,
    WATER_INVERSE_BUOYANCY_GROUP,
    WATER_INVERSE_PRANDTL,
    WATER_LATENT_HEAT,
    WATER_LOG_SATURATION_PRESSURE,
    WATER_OFFSET,
    WATER_SLOPE,
    WATER_TEMPERATURE,
)
from thermal_model.properties.polynomial import horner

FREEZING_POINT = ZERO_CELSIUS
"""Ice point at one atmosphere [K]; zero of the enthalpies here."""

BOILING_POINT = 373.1243
"""Boiling point at one atmosphere [K], IAPWS R6-95."""

TEMPERATURE_RANGE = (268.15, 378.15)
"""Where the fits keep their accuracy [K], -5 to 105 C; they stay smooth some ten kelvin beyond."""


DENSEST = 277.13
"""Temperature of the liquid's greatest density, 3.98 C [K], IAPWS R6-95."""


def _variable(temperature: Numeric) -> Numeric:
    return WATER_SLOPE / temperature - WATER_OFFSET


*_BEYOND, GREATEST_DENSITY = np.poly1d(WATER_DENSITY)(np.poly1d([1.0, float(_variable(DENSEST))])).coeffs.tolist()
_DENSITY_BEYOND = tuple(_BEYOND)
"""The same polynomial by powers of the distance from where water is densest, without the value there."""


@valid_for(temperature=TEMPERATURE_RANGE)
def density(temperature: Numeric) -> Numeric:
    """Density of the liquid [kg m-3].

    >>> round(float(density(298.15)), 3)
    997.048
    """
    return horner(WATER_DENSITY, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def lightness(temperature: Numeric) -> Numeric:
    """By how much the liquid is lighter than where it is densest [kg m-3].

    Exact near there, where a difference of two densities would be rounding in single precision.

    >>> round(float(lightness(298.15)), 3)
    2.927
    """
    away = WATER_SLOPE * (DENSEST - temperature) / (temperature * DENSEST)
    return -horner(_DENSITY_BEYOND, away) * away


@valid_for(temperature=TEMPERATURE_RANGE)
def heat_capacity(temperature: Numeric) -> Numeric:
    """Isobaric specific heat capacity of the liquid [J kg-1 K-1].

    >>> round(float(heat_capacity(298.15)), 1)
    4181.3
    """
    return horner(WATER_HEAT_CAPACITY_T2, _variable(temperature)) / (temperature * temperature)


@valid_for(temperature=TEMPERATURE_RANGE)
def specific_enthalpy(temperature: Numeric) -> Numeric:
    """Specific enthalpy of the liquid, zero at 273.15 K: the exact integral of `heat_capacity` [J kg-1].

    >>> round(float(specific_enthalpy(298.15)), -1)
    104860.0
    """
    return horner(WATER_ENTHALPY, _variable(temperature))


@valid_for(specific_enthalpy=(-21200.0, 440700.0))
def temperature_from_enthalpy(specific_enthalpy: Numeric) -> Numeric:
    """Temperature of the liquid of a specific enthalpy [J kg-1], inverse of `specific_enthalpy` [K].

    A fit, then one Newton step.

    >>> round(float(temperature_from_enthalpy(specific_enthalpy(350.0))), 9)
    350.0
    """
    centre, half_width = WATER_ENTHALPY_SCALE
    temperature = horner(WATER_TEMPERATURE, (specific_enthalpy - centre) / half_width)
    x = _variable(temperature)
    excess = horner(WATER_ENTHALPY, x) - specific_enthalpy
    return temperature - excess * temperature * temperature / horner(WATER_HEAT_CAPACITY_T2, x)


@valid_for(temperature=TEMPERATURE_RANGE)
def conductivity(temperature: Numeric) -> Numeric:
    """Thermal conductivity of the liquid [W m-1 K-1].

    >>> round(float(conductivity(298.15)), 4)
    0.6065
    """
    return horner(WATER_CONDUCTIVITY, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def dynamic_viscosity(temperature: Numeric) -> Numeric:
    """Dynamic viscosity of the liquid [Pa s].

    >>> f"{dynamic_viscosity(298.15):.4e}"
    '8.9002e-04'
    """
    return 1.0 / horner(WATER_FLUIDITY, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def prandtl(temperature: Numeric) -> Numeric:
    """Prandtl number of the liquid [-].

    >>> round(float(prandtl(298.15)), 2)
    6.14
    """
    return 1.0 / horner(WATER_INVERSE_PRANDTL, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def buoyancy_group(temperature: Numeric) -> Numeric:
    """Rayleigh number per relative density difference and cubed length, g / (nu alpha) [m-3].

    >>> f"{buoyancy_group(298.15):.2e}"
    '7.55e+13'
    """
    return 1.0 / horner(WATER_INVERSE_BUOYANCY_GROUP, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def saturation_pressure(temperature: Numeric) -> Numeric:
    """Saturation pressure over the liquid, supercooled below 273.16 K [Pa].

    >>> round(float(saturation_pressure(293.15)), 1)
    2339.3
    """
    return np.exp(horner(WATER_LOG_SATURATION_PRESSURE, _variable(temperature)))


@valid_for(temperature=TEMPERATURE_RANGE)
def latent_heat(temperature: Numeric) -> Numeric:
    """Specific enthalpy of evaporation on the saturation line [J kg-1].

    >>> round(float(latent_heat(373.1243)), -2)
    2256500.0
    """
    return horner(WATER_LATENT_HEAT, _variable(temperature))
