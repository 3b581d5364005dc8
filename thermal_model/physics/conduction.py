"""Steady conduction through solids of simple shape."""

import numpy as np

from geometries.numeric import Numeric


def resistance_plane_wall(thickness: Numeric, conductivity: Numeric, area: Numeric) -> Numeric:
    """Conduction resistance of a plane wall.

    Parameters
    ----------
    thickness : float or (n,) array
        [m]
    conductivity : float or (n,) array
        [W m-1 K-1]
    area : float or (n,) array
        [m2]

    Returns
    -------
    float or (n,) array
        Temperature difference per heat flow. [K W-1]

    Notes
    -----
    R = t / (k A); steady, one-dimensional.

    References
    ----------
    .. [1] Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, 6th ed., eq. 3.6.

    Examples
    --------
    >>> resistance_plane_wall(0.01, 0.2, 0.005)
    10.0
    """
    return thickness / (conductivity * area)


def resistance_cylindrical_shell(
    inner_radius: Numeric, outer_radius: Numeric, length: Numeric, conductivity: Numeric
) -> Numeric:
    """Radial conduction resistance of a cylindrical shell.

    Parameters
    ----------
    inner_radius, outer_radius : float or (n,) array
        Radii of the shell, inner < outer. [m]
    length : float or (n,) array
        Axial length. [m]
    conductivity : float or (n,) array
        [W m-1 K-1]

    Returns
    -------
    float or (n,) array
        Temperature difference per heat flow. [K W-1]

    Notes
    -----
    R = ln(r_o / r_i) / (2 pi k L); steady, one-dimensional, no end losses.

    References
    ----------
    .. [1] Incropera et al., 6th ed., eq. 3.28.

    Examples
    --------
    >>> round(float(resistance_cylindrical_shell(0.033, 0.038, 0.20, 0.035)), 3)
    3.208
    """
    return np.log(outer_radius / inner_radius) / (2.0 * np.pi * conductivity * length)


def resistance_spherical_shell(inner_radius: Numeric, outer_radius: Numeric, conductivity: Numeric) -> Numeric:
    """Radial conduction resistance of a spherical shell.

    Parameters
    ----------
    inner_radius, outer_radius : float or (n,) array
        Radii of the shell, inner < outer. [m]
    conductivity : float or (n,) array
        [W m-1 K-1]

    Returns
    -------
    float or (n,) array
        Temperature difference per heat flow. [K W-1]

    Notes
    -----
    R = (1/r_i - 1/r_o) / (4 pi k).

    References
    ----------
    .. [1] Incropera et al., 6th ed., eq. 3.36.

    Examples
    --------
    >>> round(resistance_spherical_shell(0.25, 0.275, 0.0017), 2)
    17.02
    """
    return (1.0 / inner_radius - 1.0 / outer_radius) / (4.0 * np.pi * conductivity)


def resistance_isothermal_disc_on_half_space(radius: Numeric, conductivity: Numeric) -> Numeric:
    """Spreading resistance from an isothermal disc into a half-space.

    Parameters
    ----------
    radius : float or (n,) array
        [m]
    conductivity : float or (n,) array
        Of the half-space. [W m-1 K-1]

    Returns
    -------
    float or (n,) array
        Temperature difference per heat flow, to far away. [K W-1]

    Notes
    -----
    R = 1 / (4 k a): a container standing on a thick table, once the table is warm.

    References
    ----------
    .. [1] Carslaw, Jaeger, Conduction of Heat in Solids, 2nd ed., sec. 8.2; Incropera et al., 6th ed.,
       table 4.1 (shape factor 2 D).

    Examples
    --------
    >>> round(resistance_isothermal_disc_on_half_space(0.036, 0.15), 1)
    46.3
    """
    return 1.0 / (4.0 * conductivity * radius)


def biot_number(heat_transfer_coefficient: Numeric, characteristic_length: Numeric, conductivity: Numeric) -> Numeric:
    """Biot number: resistance inside a solid against that at its surface.

    Parameters
    ----------
    heat_transfer_coefficient : float or (n,) array
        [W m-2 K-1]
    characteristic_length : float or (n,) array
        Volume over area, for lumped bodies. [m]
    conductivity : float or (n,) array
        Of the solid. [W m-1 K-1]

    Returns
    -------
    float or (n,) array
        h L / k; a body below 0.1 (the range `biot`) may be lumped. [-]

    References
    ----------
    .. [1] Incropera et al., 6th ed., sec. 5.2.

    Examples
    --------
    >>> round(biot_number(10.0, 0.05 / 6.0, 35.0), 4)
    0.0024
    """
    return heat_transfer_coefficient * characteristic_length / conductivity
