"""Steady conduction through solids of simple shape."""

import numpy as np

from geometries.numeric import Numeric

DISC_MEAN_TO_EDGE = 1.0 / (8.0 * np.pi)
"""From the mean of a disc that takes up heat evenly to its edge: over conductivity and thickness a resistance.

R^2 / 8k of heat a volume, out of R^2 / 4k at the centre (a cylinder with sources, Incropera et al., 6th ed., eq. 3.53);
so too for the core of a plug that follows the wall around it. [-]
"""


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


def bend_share(angle: Numeric) -> Numeric:
    """Share of its outer extra length by which a bent layer conducts across, on either side of the bend.

    Parameters
    ----------
    angle : float or (n,) array
        By which the layer turns; 0 where it is straight, pi/2 at a square corner. [rad]

    Returns
    -------
    float or (n,) array
        On either side of the bend the outer face is longer than the inner one by w tan(angle/2), w being the
        thickness. Across the layer heat flows as through the inner length and this share of the extra. [-]

    Notes
    -----
    A straight line between two exact values, 1/2 where the layer is straight and 1/2 - ln 2 / pi = 0.279 at a
    square corner, twice of which is the shape factor 0.559 of an edge (a textbook's 0.54). From the conformal map
    the share is (psi((1 + a)/2) - psi(1/2)) / (pi tan(pi a/2)) with a = angle/pi, within 0.003 of the line up to
    100 degrees and 0.017 up to 135.

    References
    ----------
    .. [1] Langmuir, Adams, Meikle, Trans. Am. Electrochem. Soc. 24 (1913) 53: 0.54 for an edge; from memory. Incropera
       et al., 6th ed., table 4.1 case 8.

    Examples
    --------
    >>> round(float(2.0 * bend_share(0.5 * np.pi)), 3)
    0.559
    """
    return 0.5 - 2.0 * np.log(2.0) / np.pi * (angle / np.pi)


def squares_of_square_corner(width_1: Numeric, width_2: Numeric) -> Numeric:
    """Resistance of a sheet's square corner between two strips, counted in squares from its inner corner.

    Parameters
    ----------
    width_1, width_2 : float or (n,) array
        Of the strips that meet. [m]

    Returns
    -------
    float or (n,) array
        Over conductivity and depth it is a resistance. [-]

    Notes
    -----
    (2/pi) [x atan(1/x) + atan(x)/x] + (1/pi) ln((1 + x^2)^2 / (16 x^2)) with x the ratio of the widths; exact, from the
    conformal map of the corner. Equal widths: 1 - (2/pi) ln 2.

    References
    ----------
    .. [1] Hall, Resistance calculations for thin film patterns, Thin Solid Films 1 (1968) 277: 0.559 squares of an
       equal corner; from memory. Recomputed by finite volumes (0.6436 for 2 to 1).

    Examples
    --------
    >>> round(float(squares_of_square_corner(0.4, 0.8)), 4)
    0.6435
    """
    x = width_1 / width_2
    angles = x * np.arctan2(1.0, x) + np.arctan(x) / x
    return 2.0 / np.pi * angles + np.log((1.0 + x * x) ** 2 / (16.0 * x * x)) / np.pi
