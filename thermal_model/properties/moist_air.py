"""Dry air, water vapour in it, and air saturated with vapour.

Coefficients of dry air are fitted to CoolProp, which carries Lemmon et al. 2000 [1]_ and Lemmon and
Jacobsen 2004 [2]_; those of saturated air to its humid air after Herrmann, Kretzschmar and Gatley 2009 [3]_
at the mole fraction p_sat / p, and to saturated steam at 373.1243 K. How far each fit deviates is printed by
`tests/benchmarks/property_accuracy.py`. Functions take kelvin, floats or arrays alike, and check nothing:
their `validity` says where they hold.

References
----------
.. [1] Lemmon et al., J. Phys. Chem. Ref. Data 29 (2000) 331-385, doi 10.1063/1.1285884.
.. [2] Lemmon and Jacobsen, Int. J. Thermophys. 25 (2004) 21-69, doi 10.1023/B:IJOT.0000022327.04529.f3.
.. [3] Herrmann et al., HVAC&R Research 15 (2009) 961-986, doi 10.1080/10789669.2009.10390874.
.. [4] Marrero and Mason, J. Phys. Chem. Ref. Data 1 (1972) 3-118, doi 10.1063/1.3253094.
"""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.constants import GAS_CONSTANT, STANDARD_PRESSURE
from thermal_model.physics.validity import valid_for
from thermal_model.physics.vapour_transport import vapour_diffusivity_marrero_mason
from thermal_model.properties import water
from thermal_model.properties.coefficients import (
    AIR_CONDUCTIVITY,
    AIR_DENSITY_T,
    AIR_HEAT_CAPACITY,
    AIR_INVERSE_BUOYANCY_GROUP,
    AIR_PRANDTL,
    AIR_SCALE,
    AIR_THERMAL_DIFFUSIVITY,
    AIR_VISCOSITY,
    SATURATED_AIR_CONDUCTIVITY,
    SATURATED_AIR_INVERSE_BUOYANCY_GROUP,
    SATURATED_AIR_SCALE,
    SATURATED_AIR_VAPOUR_GROUP,
)
from thermal_model.properties.polynomial import horner

WATER_VAPOUR_GAS_CONSTANT = GAS_CONSTANT / 18.015268e-3
"""Specific gas constant of water vapour [J kg-1 K-1], molar mass of IAPWS R6-95."""

TEMPERATURE_RANGE = (240.0, 400.0)
"""Where the fits of dry air keep their accuracy [K]."""

SATURATED_RANGE = (268.15, water.BOILING_POINT)
"""Where saturated air at one atmosphere is defined [K]; above, the functions stay at saturated steam."""


def _variable(temperature: Numeric) -> Numeric:
    centre, half_width = AIR_SCALE
    return (temperature - centre) / half_width


def _saturated_variable(temperature: Numeric) -> Numeric:
    centre, half_width = SATURATED_AIR_SCALE
    return (np.minimum(temperature, water.BOILING_POINT) - centre) / half_width


@valid_for(temperature=TEMPERATURE_RANGE)
def density(temperature: Numeric, pressure: Numeric = STANDARD_PRESSURE) -> Numeric:
    """Density of dry air; in proportion to pressure [Pa], real gas at one atmosphere only [kg m-3].

    >>> round(float(density(293.15)), 4)
    1.2046
    """
    return horner(AIR_DENSITY_T, _variable(temperature)) * (pressure / STANDARD_PRESSURE) / temperature


@valid_for(temperature=TEMPERATURE_RANGE)
def heat_capacity(temperature: Numeric) -> Numeric:
    """Isobaric specific heat capacity of dry air at one atmosphere [J kg-1 K-1].

    >>> round(float(heat_capacity(300.0)), 1)
    1006.4
    """
    return horner(AIR_HEAT_CAPACITY, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def conductivity(temperature: Numeric) -> Numeric:
    """Thermal conductivity of dry air [W m-1 K-1].

    >>> round(float(conductivity(300.0)), 5)
    0.02638
    """
    return horner(AIR_CONDUCTIVITY, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def dynamic_viscosity(temperature: Numeric) -> Numeric:
    """Dynamic viscosity of dry air [Pa s].

    >>> f"{dynamic_viscosity(300.0):.3e}"
    '1.854e-05'
    """
    return horner(AIR_VISCOSITY, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def kinematic_viscosity(temperature: Numeric, pressure: Numeric = STANDARD_PRESSURE) -> Numeric:
    """Kinematic viscosity of dry air at a pressure [Pa] [m2 s-1].

    >>> f"{kinematic_viscosity(300.0):.3e}"
    '1.575e-05'
    """
    return dynamic_viscosity(temperature) / density(temperature, pressure)


@valid_for(temperature=TEMPERATURE_RANGE)
def thermal_diffusivity(temperature: Numeric, pressure: Numeric = STANDARD_PRESSURE) -> Numeric:
    """Thermal diffusivity of dry air, fitted for speed; inversely as the pressure [Pa] [m2 s-1].

    >>> f"{thermal_diffusivity(300.0):.3e}"
    '2.227e-05'
    """
    return horner(AIR_THERMAL_DIFFUSIVITY, _variable(temperature)) * (STANDARD_PRESSURE / pressure)


@valid_for(temperature=TEMPERATURE_RANGE)
def prandtl(temperature: Numeric) -> Numeric:
    """Prandtl number of dry air [-].

    >>> round(float(prandtl(300.0)), 3)
    0.707
    """
    return horner(AIR_PRANDTL, _variable(temperature))


@valid_for(temperature=TEMPERATURE_RANGE)
def buoyancy_group(temperature: Numeric) -> Numeric:
    """Rayleigh number of dry air at one atmosphere per temperature difference and cubed length [K-1 m-3].

    g beta / (nu alpha) with beta = 1 / T; in proportion to the square of the pressure.

    >>> f"{buoyancy_group(300.0):.3e}"
    '9.318e+07'
    """
    return 1.0 / horner(AIR_INVERSE_BUOYANCY_GROUP, _variable(temperature))


def vapour_pressure(temperature: Numeric, relative_humidity: Numeric) -> Numeric:
    """Partial pressure of water vapour at a relative humidity over liquid, 0 to 1 [Pa].

    >>> round(float(vapour_pressure(293.15, 0.5)), 1)
    1169.7
    """
    return relative_humidity * water.saturation_pressure(temperature)


def vapour_diffusivity(temperature: Numeric, pressure: Numeric = STANDARD_PRESSURE) -> Numeric:
    """Diffusion coefficient of water vapour in air at a pressure [Pa], after Marrero and Mason [4]_ [m2 s-1].

    >>> f"{vapour_diffusivity(298.15):.2e}"
    '2.51e-05'
    """
    return vapour_diffusivity_marrero_mason(temperature, pressure)


@valid_for(temperature=(280.0, 400.0))
def lewis_number(temperature: Numeric) -> Numeric:
    """Lewis number of a little water vapour in air: thermal diffusivity over diffusion coefficient [-].

    >>> round(float(lewis_number(300.0)), 2)
    0.88
    """
    return thermal_diffusivity(temperature) / vapour_diffusivity(temperature)


@valid_for(temperature=SATURATED_RANGE)
def saturated_air_density(temperature: Numeric, pressure: Numeric = STANDARD_PRESSURE) -> Numeric:
    """Density of air saturated with vapour, at a total pressure [Pa]: dry air plus ideal vapour [kg m-3].

    Below the real gas by 0.01 % at 30 C, 0.2 % at 70 C, 1.5 % at boiling. Where saturation would exceed the
    total pressure, vapour of that pressure alone.

    >>> round(float(saturated_air_density(343.15)), 3)
    0.909
    """
    vapour = np.minimum(water.saturation_pressure(temperature), pressure)
    return density(temperature, pressure - vapour) + saturated_vapour_density(temperature, pressure)


@valid_for(temperature=SATURATED_RANGE)
def saturated_vapour_density(temperature: Numeric, pressure: Numeric = STANDARD_PRESSURE) -> Numeric:
    """Mass of vapour per volume of saturated air at a total pressure [Pa], as an ideal gas [kg m-3].

    >>> round(float(saturated_vapour_density(293.15)), 4)
    0.0173
    """
    vapour = np.minimum(water.saturation_pressure(temperature), pressure)
    return vapour / (WATER_VAPOUR_GAS_CONSTANT * temperature)


@valid_for(temperature=SATURATED_RANGE)
def saturated_air_conductivity(temperature: Numeric) -> Numeric:
    """Thermal conductivity of saturated air at one atmosphere [W m-1 K-1].

    >>> round(float(saturated_air_conductivity(343.15)), 4)
    0.0281
    """
    return horner(SATURATED_AIR_CONDUCTIVITY, _saturated_variable(temperature))


@valid_for(temperature=SATURATED_RANGE)
def saturated_air_buoyancy_group(temperature: Numeric) -> Numeric:
    """Rayleigh number of saturated air per relative density difference and cubed length [m-3].

    g / (nu alpha) of the mixture at one atmosphere. Times |rho_1 - rho_2| / rho L^3, with densities by
    `saturated_air_density`, it gives the Rayleigh number of a headspace, where vapour drives more convection
    than temperature.

    >>> f"{saturated_air_buoyancy_group(343.15):.2e}"
    '1.96e+10'
    """
    return 1.0 / horner(SATURATED_AIR_INVERSE_BUOYANCY_GROUP, _saturated_variable(temperature))


@valid_for(temperature=SATURATED_RANGE)
def saturated_air_vapour_group(temperature: Numeric) -> Numeric:
    """Latent heat over c_p Le^(2/3) of saturated air at one atmosphere [K].

    By the Lewis analogy, a convective coefficient times this times the difference of
    `stefan_flow_potential` is the heat that vapour carries.

    >>> round(float(saturated_air_vapour_group(343.15)), -1)
    2310.0
    """
    return horner(SATURATED_AIR_VAPOUR_GROUP, _saturated_variable(temperature))
