"""Rods and fins of constant cross-section that lose heat along their length."""

import numpy as np

from geometries.numeric import Numeric


def conductance_infinite_rod(
    heat_transfer_coefficient: Numeric, perimeter: Numeric, conductivity: Numeric, cross_section: Numeric
) -> Numeric:
    """Conductance of an infinitely long rod, from its root to the surroundings.

    Parameters
    ----------
    heat_transfer_coefficient : float or (n,) array
        Along the rod. [W m-2 K-1]
    perimeter : float or (n,) array
        Of the cross-section, where it loses heat. [m]
    conductivity : float or (n,) array
        [W m-1 K-1]
    cross_section : float or (n,) array
        [m2]

    Returns
    -------
    float or (n,) array
        Heat flow per excess temperature of the root. [W K-1]

    Notes
    -----
    sqrt(h P k A).

    References
    ----------
    .. [1] Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, 6th ed., eq. 3.80.

    Examples
    --------
    >>> area = np.pi * 0.0025**2
    >>> round(float(conductance_infinite_rod(100.0, np.pi * 0.005, 398.0, area)) * 75.0, 2)
    8.31
    """
    return np.sqrt(heat_transfer_coefficient * perimeter * conductivity * cross_section)


def fin_length_scale(
    heat_transfer_coefficient: Numeric, perimeter: Numeric, conductivity: Numeric, cross_section: Numeric
) -> Numeric:
    """Length over which the excess temperature of a fin falls by a factor e.

    Parameters
    ----------
    heat_transfer_coefficient : float or (n,) array
        Along the fin, above zero. [W m-2 K-1]
    perimeter : float or (n,) array
        Of the cross-section, where it loses heat. [m]
    conductivity : float or (n,) array
        [W m-1 K-1]
    cross_section : float or (n,) array
        [m2]

    Returns
    -------
    float or (n,) array
        1/m = sqrt(k A / (h P)). [m]

    References
    ----------
    .. [1] Incropera et al., 6th ed., eq. 3.65.

    Examples
    --------
    >>> round(float(fin_length_scale(10.0, 1.0, 15.0, 0.0004)), 4)
    0.0245
    """
    return np.sqrt(conductivity * cross_section / (heat_transfer_coefficient * perimeter))


def conductance_fin_adiabatic_tip(
    heat_transfer_coefficient: Numeric,
    perimeter: Numeric,
    conductivity: Numeric,
    cross_section: Numeric,
    length: Numeric,
) -> Numeric:
    """Conductance of a fin whose tip loses nothing, from its root to the surroundings.

    Parameters
    ----------
    heat_transfer_coefficient : float or (n,) array
        Along the fin, above zero. [W m-2 K-1]
    perimeter : float or (n,) array
        Of the cross-section, where it loses heat. [m]
    conductivity : float or (n,) array
        [W m-1 K-1]
    cross_section : float or (n,) array
        [m2]
    length : float or (n,) array
        From root to tip. [m]

    Returns
    -------
    float or (n,) array
        Heat flow per excess temperature of the root. [W K-1]

    Notes
    -----
    sqrt(h P k A) tanh(m L), m = sqrt(h P / (k A)).

    References
    ----------
    .. [1] Incropera et al., 6th ed., eq. 3.76.

    Examples
    --------
    >>> round(float(conductance_fin_adiabatic_tip(10.0, 1.0, 15.0, 0.0004, 0.05)), 4)
    0.2368
    """
    strength = heat_transfer_coefficient * perimeter
    conduction = conductivity * cross_section
    return np.sqrt(strength * conduction) * np.tanh(np.sqrt(strength / conduction) * length)
