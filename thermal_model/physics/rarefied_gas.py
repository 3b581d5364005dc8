"""Heat conduction through a gas from hard vacuum to atmospheric pressure, and the gases a gap can hold."""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.constants import GAS_CONSTANT, GRAVITY
from thermal_model.physics.validity import valid_for

_TINY = 1e-300


@dataclass(frozen=True)
class Gas:
    """A gas in a gap.

    Attributes
    ----------
    molar_mass : float
        [kg mol-1]
    heat_capacity_ratio : float
        c_p over c_v at 300 K. [-]
    conductivity_300K : float
        At 300 K and pressures where mean free paths are short. [W m-1 K-1]
    conductivity_exponent : float
        Of the power law in temperature, 250 to 370 K. [-]
    viscosity_300K : float
        Dynamic, at 300 K. [Pa s]
    viscosity_exponent : float
        Of the power law in temperature, 250 to 370 K. [-]
    heat_capacity_exponent : float
        Of the power law of c_p in temperature, 250 to 370 K. [-]
    accommodation : float
        Thermal accommodation coefficient on technical metal surfaces at 300 K. [-]
    source : str
        Where the values come from.
    """

    molar_mass: float
    heat_capacity_ratio: float
    conductivity_300K: float  # noqa: N815 - K is the kelvin
    conductivity_exponent: float
    viscosity_300K: float  # noqa: N815
    viscosity_exponent: float
    heat_capacity_exponent: float
    accommodation: float
    source: str


_FITTED = "M, gamma, k, mu, c_p: CoolProp 8.0, as power laws over 250-370 K (within 0.7 %); "
_CORRUCCINI = "accommodation: Corruccini 1959 as reproduced in Barron, Cryogenic Systems (from memory)"
_HEAVY = "accommodation: as for air, a judgement (heavy molecules accommodate at least as well)"
_RARE = "k and mu: value and slope at 300 K of ISO 15099:2003 annex B (mu from memory); gamma 5/3; "

GASES: dict[str, Gas] = {
    "air": Gas(0.0289655, 1.400, 0.02638, 0.843, 1.854e-5, 0.778, 0.014, 0.87, _FITTED + _CORRUCCINI),
    "nitrogen": Gas(0.0280135, 1.400, 0.02597, 0.831, 1.789e-5, 0.771, 0.003, 0.87, _FITTED + _CORRUCCINI),
    "argon": Gas(0.039948, 1.667, 0.01784, 0.832, 2.274e-5, 0.831, 0.000, 0.87, _FITTED + _HEAVY),
    "krypton": Gas(0.083798, 1.667, 0.009422, 0.900, 2.554e-5, 0.913, 0.000, 0.87, _RARE + _HEAVY),
    "xenon": Gas(0.131293, 1.667, 0.005623, 0.919, 2.331e-5, 0.954, 0.000, 0.87, _RARE + _HEAVY),
    "hydrogen": Gas(0.0020159, 1.405, 0.1867, 0.770, 8.938e-6, 0.692, 0.070, 0.29, _FITTED + _CORRUCCINI),
    "helium": Gas(0.0040026, 1.667, 0.15597, 0.691, 1.993e-5, 0.684, 0.000, 0.29, _FITTED + _CORRUCCINI),
    "carbon_dioxide": Gas(0.0440098, 1.288, 0.01677, 1.366, 1.500e-5, 0.953, 0.331, 0.87, _FITTED + _HEAVY),
}
"""Gases by name. A getter leaves the noble ones; steel gives off hydrogen; glass lets helium through."""


def gas_conductivity(conductivity_300K: Numeric, conductivity_exponent: Numeric, temperature: Numeric) -> Numeric:
    """Thermal conductivity of a gas by a power law in temperature.

    Parameters
    ----------
    conductivity_300K : float or (n,) array
        Value at 300 K. [W m-1 K-1]
    conductivity_exponent : float or (n,) array
        Exponent of the power law. [-]
    temperature : float or (n,) array
        Mean gas temperature, 250 to 370 K for the values in `GASES`. [K]

    Returns
    -------
    float or (n,) array
        Conductivity where mean free paths are short. [W m-1 K-1]

    Notes
    -----
    k = k_300 (T / 300 K)^n.

    References
    ----------
    .. [1] Kennard, Kinetic Theory of Gases, 1938, ch. IV (power-law molecules).

    Examples
    --------
    >>> round(gas_conductivity(0.02638, 0.843, 330.0), 5)
    0.02859
    """
    return conductivity_300K * (temperature / 300.0) ** conductivity_exponent


@valid_for(heat_capacity_ratio=(1.0, 5.0 / 3.0 + 1e-3))
def rayleigh_group_ideal_gas(
    molar_mass: Numeric,
    heat_capacity_ratio: Numeric,
    conductivity: Numeric,
    dynamic_viscosity: Numeric,
    pressure: Numeric,
    temperature: Numeric,
) -> Numeric:
    """Rayleigh number of an ideal gas per temperature difference and cubed length.

    Parameters
    ----------
    molar_mass : float or (n,) array
        [kg mol-1]
    heat_capacity_ratio : float or (n,) array
        c_p over c_v, above 1. [-]
    conductivity : float or (n,) array
        [W m-1 K-1]
    dynamic_viscosity : float or (n,) array
        [Pa s]
    pressure : float or (n,) array
        Zero in a perfect vacuum, where nothing convects. [Pa]
    temperature : float or (n,) array
        [K]

    Returns
    -------
    float or (n,) array
        g beta / (nu alpha), in proportion to the square of the pressure. [K-1 m-3]

    Notes
    -----
    beta = 1/T, rho = p M / (R T), c_p = g/(g - 1) R/M, so that g beta / (nu alpha) = g rho^2 c_p / (T mu k).

    References
    ----------
    .. [1] Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., eq. 9.25 (definition).

    Examples
    --------
    >>> f"{rayleigh_group_ideal_gas(0.0289655, 1.400, 0.02638, 1.854e-5, 101325.0, 300.0):.2e}"
    '9.30e+07'
    """
    density = pressure * molar_mass / (GAS_CONSTANT * temperature)
    heat_capacity = heat_capacity_ratio / (heat_capacity_ratio - 1.0) * GAS_CONSTANT / molar_mass
    return GRAVITY * density * density * heat_capacity / (temperature * dynamic_viscosity * conductivity)


@valid_for(heat_capacity_ratio=(1.0, 5.0 / 3.0 + 1e-3))
def free_molecule_coefficient(molar_mass: Numeric, heat_capacity_ratio: Numeric, temperature: Numeric) -> Numeric:
    """Free-molecule heat transfer coefficient per pressure, at full accommodation.

    Parameters
    ----------
    molar_mass : float or (n,) array
        [kg mol-1]
    heat_capacity_ratio : float or (n,) array
        c_p over c_v, above 1. [-]
    temperature : float or (n,) array
        Temperature of the gas where the pressure is measured. [K]

    Returns
    -------
    float or (n,) array
        To be multiplied by pressure and accommodation factor. [W m-2 K-1 Pa-1]

    Notes
    -----
    (g + 1)/(g - 1) sqrt(R / (8 pi M T)). Holds where the mean free path is long against the gap.

    References
    ----------
    .. [1] Corruccini, Gaseous heat conduction at low pressures and temperatures, Vacuum 7-8 (1959) 19-29.

    Examples
    --------
    >>> round(float(free_molecule_coefficient(0.0289652, 1.4, 300.0)), 3)
    1.171
    """
    modes = (heat_capacity_ratio + 1.0) / (heat_capacity_ratio - 1.0)
    return modes * np.sqrt(GAS_CONSTANT / (8.0 * np.pi * molar_mass * temperature))


@valid_for(inner=(0.0, 1.0), outer=(0.0, 1.0), area_ratio=(0.0, 1.0))
def accommodation_factor(inner: Numeric, outer: Numeric, area_ratio: Numeric) -> Numeric:
    """Accommodation factor of two concentric surfaces, on the inner area.

    Parameters
    ----------
    inner, outer : float or (n,) array
        Accommodation coefficients of the two surfaces, 0 < a <= 1. [-]
    area_ratio : float or (n,) array
        Inner area over outer area, at most 1; 1 for parallel plates. [-]

    Returns
    -------
    float or (n,) array
        Factor on the free-molecule conductance. [-]

    Notes
    -----
    1 / (1/a_i + (A_i/A_o) (1/a_o - 1)), for a convex inner surface.

    References
    ----------
    .. [1] Corruccini 1959, as in `free_molecule_coefficient`.

    Examples
    --------
    >>> round(accommodation_factor(0.87, 0.87, 1.0), 4)
    0.7699
    """
    return 1.0 / (1.0 / inner + area_ratio * (1.0 / outer - 1.0))


def gas_conductance_sherman(free_molecule_conductance: Numeric, continuum_conductance: Numeric) -> Numeric:
    """Conductance of a gas layer between the free-molecule and the continuum limit.

    Parameters
    ----------
    free_molecule_conductance : float or (n,) array
        Coefficient times accommodation factor times pressure; zero in a perfect vacuum. [W m-2 K-1]
    continuum_conductance : float or (n,) array
        Conductivity over gap width, times a Nusselt number if the gas convects. [W m-2 K-1]

    Returns
    -------
    float or (n,) array
        Conductance of the layer, never above either limit. [W m-2 K-1]

    Notes
    -----
    1/h = 1/h_fm + 1/h_c. It meets both limits and, for parallel plates, the temperature-jump law between
    them; measurements in the transition regime lie within some 5 % (from memory).

    References
    ----------
    .. [1] Sherman, A survey of experimental results and methods for the transition regime of rarefied gas
       dynamics, Rarefied Gas Dynamics (3rd symposium), vol. 2, 1963, 228-260.
    .. [2] Springer, Heat transfer in rarefied gases, Advances in Heat Transfer 7 (1971) 163-218.

    Examples
    --------
    >>> round(float(gas_conductance_sherman(0.01, 7.0)), 6)
    0.009986
    """
    both = np.maximum(free_molecule_conductance + continuum_conductance, _TINY)
    return free_molecule_conductance * continuum_conductance / both
