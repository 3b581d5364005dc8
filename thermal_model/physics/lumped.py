"""A body at one temperature that cools through one conductance: the exponential."""

import numpy as np

from geometries.numeric import Numeric


def lumped_time_constant(heat_capacity: Numeric, conductance: Numeric) -> Numeric:
    """Time constant of a lumped body.

    Parameters
    ----------
    heat_capacity : float or (n,) array
        Of the whole body. [J K-1]
    conductance : float or (n,) array
        To the surroundings, above zero. [W K-1]

    Returns
    -------
    float or (n,) array
        [s]

    Notes
    -----
    tau = C / UA. A body may be lumped where its Biot number is below 0.1.

    References
    ----------
    .. [1] Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, 6th ed., eq. 5.7.

    Examples
    --------
    >>> round(lumped_time_constant(2090.0, 0.052) / 3600.0, 2)
    11.16
    """
    return heat_capacity / conductance


def lumped_cooling_time(time_constant: Numeric, start: Numeric, end: Numeric, surroundings: Numeric) -> Numeric:
    """Time in which a lumped body goes from one temperature to another.

    Parameters
    ----------
    time_constant : float or (n,) array
        [s]
    start, end, surroundings : float or (n,) array
        Temperatures on one scale, the end between start and surroundings. [K]

    Returns
    -------
    float or (n,) array
        [s]

    Notes
    -----
    t = tau ln((T_start - T_s) / (T_end - T_s)); cooling and warming alike.

    References
    ----------
    .. [1] Incropera et al., 6th ed., eq. 5.5.

    Examples
    --------
    >>> round(float(lumped_cooling_time(2990.0, 723.15, 423.15, 373.15)), 0)
    5818.0
    """
    return time_constant * np.log((start - surroundings) / (end - surroundings))


def lumped_temperature(time: Numeric, time_constant: Numeric, start: Numeric, surroundings: Numeric) -> Numeric:
    """Temperature of a lumped body after some time.

    Parameters
    ----------
    time : float or (n,) array
        [s]
    time_constant : float or (n,) array
        [s]
    start, surroundings : float or (n,) array
        Temperatures on one scale. [K]

    Returns
    -------
    float or (n,) array
        [K]

    Notes
    -----
    T = T_s + (T_start - T_s) exp(-t / tau).

    References
    ----------
    .. [1] Incropera et al., 6th ed., eq. 5.6.

    Examples
    --------
    >>> round(float(lumped_temperature(5818.0, 2990.0, 723.15, 373.15)), 1)
    423.2
    """
    return surroundings + (start - surroundings) * np.exp(-time / time_constant)
