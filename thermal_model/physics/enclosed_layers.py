"""Layers of fluid enclosed between two surfaces: level, upright, and the air layers of ISO 6946."""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for

SMALL_DIFFERENCE = 5.0
"""Temperature difference up to which ISO 6946 takes constant coefficients [K]."""


@valid_for(rayleigh=(0.0, 1e8))
def nusselt_layer_heated_below_hollands(rayleigh: Numeric) -> Numeric:
    """Nusselt number of a wide level layer of air, heated from below.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On the depth and the difference between the two surfaces. [-]

    Returns
    -------
    float or (n,) array
        On the depth; exactly 1 (conduction) up to Ra = 1708. [-]

    Notes
    -----
    Nu = 1 + 1.44 [1 - 1708/Ra]+ + [(Ra/5830)^(1/3) - 1]+, brackets counted where positive. For gases; side
    walls closer than some five depths delay the onset, which the formula does not know.

    References
    ----------
    .. [1] Hollands, Unny, Raithby, Konicek, Free convective heat transfer across inclined air layers, J.
       Heat Transfer 98 (1976) 189-193, doi:10.1115/1.3450517.

    Examples
    --------
    >>> round(float(nusselt_layer_heated_below_hollands(1e4)), 3)
    2.391
    """
    onset = 1.0 - 1708.0 / np.maximum(rayleigh, 1.0)
    turbulence = np.cbrt(rayleigh / 5830.0) - 1.0
    return 1.0 + 1.44 * np.maximum(onset, 0.0) + np.maximum(turbulence, 0.0)


@valid_for(rayleigh=(1.7e3, 1e7))
def nusselt_layer_heated_below_holman_gas(rayleigh: Numeric) -> Numeric:
    """Nusselt number of a level gas layer heated from below, by Holman's table.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On the depth. [-]

    Returns
    -------
    float or (n,) array
        On the depth, at least 1. [-]

    Notes
    -----
    0.059 Ra^0.4 to 7000, 0.212 Ra^(1/4) to 3.2e5, 0.061 Ra^(1/3) above, with the table's steps of up to 5
    %. Kept for comparison; the model uses `nusselt_layer_heated_below_hollands`.

    References
    ----------
    .. [1] Holman, Heat Transfer, 10th ed., table 7-3.

    Examples
    --------
    >>> round(float(nusselt_layer_heated_below_holman_gas(3046.0)), 2)
    1.46
    """
    creeping = 0.059 * rayleigh**0.4
    laminar = 0.212 * np.sqrt(np.sqrt(rayleigh))
    turbulent = 0.061 * np.cbrt(rayleigh)
    moving = np.where(rayleigh < 7000.0, creeping, np.where(rayleigh < 3.2e5, laminar, turbulent))
    return np.maximum(moving, 1.0)


@valid_for(rayleigh=(1.7e3, 1e9))
def nusselt_layer_heated_below_holman_liquid(rayleigh: Numeric) -> Numeric:
    """Nusselt number of a level liquid layer heated from below, by Holman's table.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On the depth. [-]

    Returns
    -------
    float or (n,) array
        On the depth, at least 1. [-]

    Notes
    -----
    0.012 Ra^0.6 to 6000, 0.375 Ra^0.2 to 37000, 0.13 Ra^0.3 to 1e8, 0.057 Ra^(1/3) above; Pr 1 to 400.

    References
    ----------
    .. [1] Holman, Heat Transfer, 10th ed., table 7-3.

    Examples
    --------
    >>> round(float(nusselt_layer_heated_below_holman_liquid(2.755e5)), 2)
    5.57
    """
    steps = [
        (6000.0, 0.012 * rayleigh**0.6),
        (37000.0, 0.375 * rayleigh**0.2),
        (1e8, 0.13 * rayleigh**0.3),
    ]
    moving = 0.057 * np.cbrt(rayleigh)
    for end, value in reversed(steps):
        moving = np.where(rayleigh < end, value, moving)
    return np.maximum(moving, 1.0)


@valid_for(rayleigh=(0.0, 1e7), prandtl=(1e-2, 2e4), aspect_ratio=(10.0, 40.0))
def nusselt_layer_vertical(rayleigh: Numeric, prandtl: Numeric, aspect_ratio: Numeric) -> Numeric:
    """Nusselt number of an upright layer between walls at different temperatures, any fluid.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On the width and the difference between the walls. [-]
    prandtl : float or (n,) array
        [-]
    aspect_ratio : float or (n,) array
        Height over width. [-]

    Returns
    -------
    float or (n,) array
        On the width, at least 1 (conduction). [-]

    Notes
    -----
    Nu = 0.42 Ra^(1/4) Pr^0.012 (H/W)^-0.3, for Ra 1e4 to 1e7; below that, the larger of it and conduction.
    For air, `nusselt_layer_vertical_elsherbiny` rests on finer measurements and covers taller layers.

    References
    ----------
    .. [1] MacGregor, Emery, Free convection through vertical plane layers: moderate and high Prandtl number
       fluids, J. Heat Transfer 91 (1969) 391-403.
    .. [2] Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., eq. 9.53.

    Examples
    --------
    >>> round(float(nusselt_layer_vertical(1.05e4, 0.7344, 40.0)), 2)
    1.4
    """
    moving = 0.42 * np.sqrt(np.sqrt(rayleigh)) * prandtl**0.012 * aspect_ratio**-0.3
    return np.maximum(moving, 1.0)


@valid_for(rayleigh=(0.0, 2e7), aspect_ratio=(5.0, 110.0))
def nusselt_layer_vertical_elsherbiny(rayleigh: Numeric, aspect_ratio: Numeric) -> Numeric:
    """Nusselt number of an upright air layer between walls at different temperatures.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On the width and the difference between the walls. [-]
    aspect_ratio : float or (n,) array
        Height over width. [-]

    Returns
    -------
    float or (n,) array
        On the width, at least 1 (conduction). [-]

    Notes
    -----
    The largest of 0.0605 Ra^(1/3), (1 + (0.104 Ra^0.293 / (1 + (6310/Ra)^1.36))^3)^(1/3) and
    0.242 (Ra W/H)^0.272; measured on air.

    References
    ----------
    .. [1] ElSherbiny, Raithby, Hollands, Heat transfer by natural convection across vertical and inclined
       air layers, J. Heat Transfer 104 (1982) 96-102.
    .. [2] Mills, Heat Transfer, 2nd ed. (coefficients as reprinted there).

    Examples
    --------
    >>> round(float(nusselt_layer_vertical_elsherbiny(9530.0, 100.0)), 2)
    1.28
    """
    safe = np.maximum(rayleigh, 1.0)
    transition = 0.104 * safe**0.293 / (1.0 + 6310.0**1.36 * safe**-1.36)
    tall = np.maximum(0.0605 * np.cbrt(rayleigh), np.cbrt(1.0 + transition * transition * transition))
    return np.maximum(tall, 0.242 * safe**0.272 * aspect_ratio**-0.272)


@valid_for(darcy_rayleigh=(0.0, 300.0))
def nusselt_slot_open_below(darcy_rayleigh: Numeric) -> Numeric:
    """Sherwood or Nusselt number along an upright narrow slot that is open to light fluid below.

    Parameters
    ----------
    darcy_rayleigh : float or (n,) array
        g (drho / rho) (width^2 / 12) length / (nu alpha): the slot as a Hele-Shaw cell, whose permeability is
        width^2 / 12. [-]

    Returns
    -------
    float or (n,) array
        On diffusion along the slot, at least 1. [-]

    Notes
    -----
    Nu = max(1, Ra / 27.1): convection starts at 27.1 in a porous layer with one open end and grows in proportion.
    The onset is from memory; between onset and ten times it, measured Nusselt numbers of porous layers scatter by
    about a third.

    References
    ----------
    .. [1] Nield, Onset of thermohaline convection in a porous medium, Water Resources Research 4 (1968) 553-560.
    .. [2] Elder, Steady free convection in a porous medium heated from below, J. Fluid Mech. 27 (1967) 29-48.

    Examples
    --------
    >>> float(nusselt_slot_open_below(10.0)), float(nusselt_slot_open_below(54.2))
    (1.0, 2.0)
    """
    return np.maximum(darcy_rayleigh / 27.1, 1.0)


@valid_for(rayleigh=(0.0, 1.1e7), aspect_ratio=(11.0, 42.0))
def nusselt_layer_vertical_jakob(rayleigh: Numeric, aspect_ratio: Numeric) -> Numeric:
    """Nusselt number of an upright gas layer, by Jakob's older fit.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On the width. [-]
    aspect_ratio : float or (n,) array
        Height over width. [-]

    Returns
    -------
    float or (n,) array
        On the width, at least 1 (conduction). [-]

    Notes
    -----
    0.197 Ra^(1/4) (H/W)^(-1/9), from 2e5 on 0.073 Ra^(1/3) (H/W)^(-1/9); here the larger of the two,
    without the step of 2 %. Kept for comparison.

    References
    ----------
    .. [1] Jakob, Heat Transfer, vol. 1, 1949; Holman, Heat Transfer, 10th ed., table 7-3.

    Examples
    --------
    >>> round(float(nusselt_layer_vertical_jakob(1.027e4, 0.5 / 0.015)), 3)
    1.343
    """
    strength = np.maximum(0.197 * np.sqrt(np.sqrt(rayleigh)), 0.073 * np.cbrt(rayleigh))
    return np.maximum(strength * aspect_ratio ** (-1.0 / 9.0), 1.0)


@valid_for(thickness=(0.0, 0.3))
def iso6946_convective_coefficient_up(
    thickness: Numeric, temperature_difference: Numeric = SMALL_DIFFERENCE
) -> Numeric:
    """Conduction and convection coefficient of an unventilated air layer, heat flowing up.

    Parameters
    ----------
    thickness : float or (n,) array
        In the direction of heat flow, up to 0.3 m. [m]
    temperature_difference : float or (n,) array
        Across the layer; up to 5 K it does not matter. [K]

    Returns
    -------
    float or (n,) array
        [W m-2 K-1]

    Notes
    -----
    h_a = max(1.14 dT^(1/3), 0.025 W m-1 K-1 / d), which at 5 K is the standard's 1.95.

    References
    ----------
    .. [1] ISO 6946:2017, annex D (from memory).

    Examples
    --------
    >>> round(float(iso6946_convective_coefficient_up(0.025)), 2)
    1.95
    """
    moving = 1.14 * np.cbrt(np.maximum(temperature_difference, SMALL_DIFFERENCE))
    return np.maximum(moving, _iso6946_still_air(thickness))


@valid_for(thickness=(0.0, 0.3))
def iso6946_convective_coefficient_horizontal(
    thickness: Numeric, temperature_difference: Numeric = SMALL_DIFFERENCE
) -> Numeric:
    """Conduction and convection coefficient of an unventilated air layer, heat flowing sideways.

    Parameters
    ----------
    thickness : float or (n,) array
        In the direction of heat flow, up to 0.3 m. [m]
    temperature_difference : float or (n,) array
        Across the layer; up to 5 K it does not matter. [K]

    Returns
    -------
    float or (n,) array
        [W m-2 K-1]

    Notes
    -----
    h_a = max(0.73 dT^(1/3), 0.025 W m-1 K-1 / d), which at 5 K is the standard's 1.25.

    References
    ----------
    .. [1] ISO 6946:2017, annex D (from memory).

    Examples
    --------
    >>> round(float(iso6946_convective_coefficient_horizontal(0.025)), 2)
    1.25
    """
    moving = 0.73 * np.cbrt(np.maximum(temperature_difference, SMALL_DIFFERENCE))
    return np.maximum(moving, _iso6946_still_air(thickness))


@valid_for(thickness=(0.0, 0.3))
def iso6946_convective_coefficient_down(
    thickness: Numeric, temperature_difference: Numeric = SMALL_DIFFERENCE
) -> Numeric:
    """Conduction and convection coefficient of an unventilated air layer, heat flowing down.

    Parameters
    ----------
    thickness : float or (n,) array
        In the direction of heat flow, up to 0.3 m. [m]
    temperature_difference : float or (n,) array
        Across the layer; up to 5 K it does not matter. [K]

    Returns
    -------
    float or (n,) array
        [W m-2 K-1]

    Notes
    -----
    h_a = max(0.09 dT^0.187 d^-0.44, 0.025 W m-1 K-1 / d), which at 5 K is the standard's 0.12 d^-0.44.

    References
    ----------
    .. [1] ISO 6946:2017, annex D (from memory).

    Examples
    --------
    >>> round(float(iso6946_convective_coefficient_down(0.1)), 2)
    0.33
    """
    difference = np.maximum(temperature_difference, SMALL_DIFFERENCE)
    moving = 0.09 * difference**0.187 * np.maximum(thickness, 1e-9) ** -0.44
    return np.maximum(moving, _iso6946_still_air(thickness))


def _iso6946_still_air(thickness: Numeric) -> Numeric:
    return 0.025 / np.maximum(thickness, 1e-9)


@valid_for(emissivity_1=(0.0, 1.0), emissivity_2=(0.0, 1.0))
def iso6946_radiative_coefficient(emissivity_1: Numeric, emissivity_2: Numeric) -> Numeric:
    """Radiation coefficient of an air layer at a mean temperature of 10 C.

    Parameters
    ----------
    emissivity_1, emissivity_2 : float or (n,) array
        Of the two surfaces, 0 < e <= 1. [-]

    Returns
    -------
    float or (n,) array
        [W m-2 K-1]

    Notes
    -----
    h_r = 5.1 / (1/e1 + 1/e2 - 1); 5.1 W m-2 K-1 is the standard's black-body coefficient at 10 C.

    References
    ----------
    .. [1] ISO 6946:2017, annex D (from memory).

    Examples
    --------
    >>> round(iso6946_radiative_coefficient(0.9, 0.9), 2)
    4.17
    """
    return 5.1 / (1.0 / emissivity_1 + 1.0 / emissivity_2 - 1.0)
