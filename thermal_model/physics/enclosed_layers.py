"""Layers of fluid enclosed between two surfaces: level, upright, and the air layers of ISO 6946."""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for


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
    onset = 1.0 - 1708.0 / np.maximum(rayleigh, 1708.0)
    turbulence = np.cbrt(rayleigh / 5830.0) - 1.0
    return np.where(rayleigh > 1708.0, 1.0 + 1.44 * onset + np.maximum(turbulence, 0.0), 1.0)


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
    largest = np.maximum(tall, 0.242 * safe**0.272 * aspect_ratio**-0.272)
    return np.where(rayleigh > STILL, largest, 1.0)


STILL = 1.0
"""Rayleigh number below which an upright layer only conducts: its Nusselt number is 1 to the last digit. [-]"""


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
