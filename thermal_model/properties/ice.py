"""Ice, and water that is partly ice, at one atmosphere.

Enthalpies are per kilogram of H2O, relative to the liquid at 273.15 K, as in `water`.

References
----------
.. [1] IAPWS R10-06(2009), Revised Release on the Equation of State 2006 for H2O Ice Ih; Feistel and Wagner,
   J. Phys. Chem. Ref. Data 35 (2006) 1021-1047, doi 10.1063/1.2183324.
.. [2] CRC Handbook of Chemistry and Physics, section 6, Properties of Ice and Supercooled Water.
"""

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for
from thermal_model.properties import water

FUSION_ENTHALPY = 333.43e3
"""Specific enthalpy of fusion at one atmosphere [J kg-1]: IAPWS-95 liquid less IAPWS R10-06 ice [1]_.

Older tables, and [2]_, give 333.55e3 to 333.6e3, 0.04 % more.
"""

HEAT_CAPACITY_AT_FREEZING = 2096.7
HEAT_CAPACITY_SLOPE = 7.33
"""Ice at 273.15 K [J kg-1 K-1] and its change per kelvin [J kg-1 K-2]: a line through [1]_, within 0.06 %."""

TEMPERATURE_RANGE = (233.15, ZERO_CELSIUS)
"""Where the lines below were compared with their sources [K]; the conductivity only from 253 K."""


@valid_for(temperature=TEMPERATURE_RANGE)
def density(temperature: Numeric) -> Numeric:
    """Density of ice, a line through [1]_ within 0.01 % [kg m-3].

    >>> round(float(density(273.15)), 2)
    916.72
    """
    return 916.72 - 0.1395 * (temperature - water.FREEZING_POINT)


@valid_for(temperature=TEMPERATURE_RANGE)
def heat_capacity(temperature: Numeric) -> Numeric:
    """Isobaric specific heat capacity of ice [J kg-1 K-1].

    >>> round(float(heat_capacity(263.15)), 1)
    2023.4
    """
    return HEAT_CAPACITY_AT_FREEZING + HEAT_CAPACITY_SLOPE * (temperature - water.FREEZING_POINT)


@valid_for(temperature=(253.15, ZERO_CELSIUS))
def conductivity(temperature: Numeric) -> Numeric:
    """Thermal conductivity of ice, a line through the three values of [2]_ from -20 to 0 C [W m-1 K-1].

    >>> round(float(conductivity(273.15)), 2)
    2.14
    """
    return 2.14 - 0.013 * (temperature - water.FREEZING_POINT)


@valid_for(temperature=TEMPERATURE_RANGE)
def specific_enthalpy(temperature: Numeric) -> Numeric:
    """Specific enthalpy of ice: the exact integral of `heat_capacity` [J kg-1].

    >>> round(float(specific_enthalpy(273.15)))
    -333430
    """
    below = temperature - water.FREEZING_POINT
    return below * (HEAT_CAPACITY_AT_FREEZING + 0.5 * HEAT_CAPACITY_SLOPE * below) - FUSION_ENTHALPY


def temperature_from_mixture_enthalpy(enthalpy: Numeric) -> Numeric:
    """Equilibrium temperature of water at a specific enthalpy [J kg-1]: ice, melting ice or liquid [K].

    >>> float(temperature_from_mixture_enthalpy(-100e3))
    273.15
    """
    liquid = water.temperature_from_enthalpy(np.maximum(enthalpy, 0.0))
    frozen = water.FREEZING_POINT + _kelvin_below_freezing(np.minimum(enthalpy + FUSION_ENTHALPY, 0.0))
    return np.where(enthalpy > 0.0, liquid, frozen)


def _kelvin_below_freezing(excess: Numeric) -> Numeric:
    # The root of the quadratic in `specific_enthalpy` that vanishes with the excess, without cancellation.
    capacity = HEAT_CAPACITY_AT_FREEZING
    discriminant = capacity * capacity + 2.0 * HEAT_CAPACITY_SLOPE * excess
    return 2.0 * excess / (capacity + np.sqrt(np.maximum(discriminant, 0.0)))
