"""Rods and fins of constant cross-section that lose heat along their length."""

import numpy as np

from geometries.numeric import Numeric


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
