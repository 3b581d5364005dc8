"""Forced convection: wind across a cylinder, along a plate, and together with free convection."""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for


def _peclet(reynolds: Numeric, prandtl: Numeric) -> Numeric:
    return reynolds * prandtl


@valid_for({"peclet": _peclet}, reynolds=(1e2, 1e7), peclet=(0.2, np.inf))
def nusselt_cross_flow_churchill_bernstein(reynolds: Numeric, prandtl: Numeric) -> Numeric:
    """Mean Nusselt number of a cylinder in cross flow.

    Parameters
    ----------
    reynolds : float or (n,) array
        On the diameter and the free stream. [-]
    prandtl : float or (n,) array
        At the film temperature. [-]

    Returns
    -------
    float or (n,) array
        On the diameter; 0.3 without wind. [-]

    Notes
    -----
    Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) / (1 + (0.4/Pr)^(2/3))^(1/4) (1 + (Re/282000)^(5/8))^(4/5), for Re Pr
    > 0.2 (named `peclet` in the range). Its authors call it a lower bound; 20 % scatter.

    References
    ----------
    .. [1] Churchill, Bernstein, J. Heat Transfer 99 (1977) 300-306, doi:10.1115/1.3450685.

    Examples
    --------
    >>> round(float(nusselt_cross_flow_churchill_bernstein(6071.0, 0.70)), 1)
    40.6
    """
    prandtl_function = np.cbrt(prandtl) / np.sqrt(np.sqrt(1.0 + np.cbrt(0.4 / prandtl) ** 2))
    turbulence = (1.0 + (reynolds / 282000.0) ** 0.625) ** 0.8
    return 0.3 + 0.62 * np.sqrt(reynolds) * prandtl_function * turbulence


@valid_for(reynolds=(0.0, 5e5), prandtl=(0.6, 50.0))
def nusselt_plate_laminar(reynolds: Numeric, prandtl: Numeric) -> Numeric:
    """Mean Nusselt number of a plate in laminar parallel flow.

    Parameters
    ----------
    reynolds : float or (n,) array
        On the length along the flow. [-]
    prandtl : float or (n,) array
        At the film temperature. [-]

    Returns
    -------
    float or (n,) array
        On the length; zero without wind. [-]

    Notes
    -----
    Nu = 0.664 Re^(1/2) Pr^(1/3), from the boundary layer of Blasius and Pohlhausen.

    References
    ----------
    .. [1] Incropera et al., Fundamentals of Heat and Mass Transfer, 6th ed., eq. 7.30.

    Examples
    --------
    >>> round(float(nusselt_plate_laminar(9597.0, 0.687)), 1)
    57.4
    """
    return 0.664 * np.sqrt(reynolds) * np.cbrt(prandtl)


def combine_free_and_forced(free_coefficient: Numeric, forced_coefficient: Numeric) -> Numeric:
    """Heat transfer coefficient of free and forced convection together.

    Parameters
    ----------
    free_coefficient, forced_coefficient : float or (n,) array
        Each by itself. [W m-2 K-1]

    Returns
    -------
    float or (n,) array
        Never below the larger of the two. [W m-2 K-1]

    Notes
    -----
    h^3 = h_free^3 + h_forced^3, for assisting and transverse flow; wind across an upright container is
    transverse.

    References
    ----------
    .. [1] Churchill, A comprehensive correlating equation for laminar, assisting, forced and free convection,
       AIChE J. 23 (1977) 10-16; Incropera et al., 6th ed., eq. 9.64.

    Examples
    --------
    >>> round(float(combine_free_and_forced(4.0, 4.0)), 2)
    5.04
    """
    free = free_coefficient * free_coefficient * free_coefficient
    return np.cbrt(free + forced_coefficient * forced_coefficient * forced_coefficient)
