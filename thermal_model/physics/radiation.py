"""Thermal radiation between grey, diffuse surfaces: exchange factors, shields and view factors."""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for

STEFAN_BOLTZMANN = 5.670374419e-8
"""Stefan-Boltzmann constant [W m-2 K-4], CODATA 2018, exact."""

MOST_SHIELDS = 10
"""Largest number of shields that `exchange_factor_with_shields` counts."""

_TINY = 1e-300


def grey_heat_flux(temperature_1: Numeric, temperature_2: Numeric, exchange_factor: Numeric) -> Numeric:
    """Radiative heat flux from surface 1 to surface 2, per area of surface 1.

    Parameters
    ----------
    temperature_1, temperature_2 : float or (n,) array
        Surface temperatures. [K]
    exchange_factor : float or (n,) array
        Grey exchange factor on the area of surface 1. [-]

    Returns
    -------
    float or (n,) array
        Net heat flux, positive from 1 to 2. [W m-2]

    Notes
    -----
    q = F sigma (T1^4 - T2^4), factored so that equal temperatures give exactly zero.

    References
    ----------
    .. [1] Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, 6th ed., sec. 13.3.

    Examples
    --------
    >>> round(float(grey_heat_flux(800.0, 500.0, 0.153)), 0)
    3011.0
    """
    squares = temperature_1 * temperature_1 + temperature_2 * temperature_2
    difference = temperature_1 - temperature_2
    return exchange_factor * STEFAN_BOLTZMANN * squares * (temperature_1 + temperature_2) * difference


@valid_for(emissivity_1=(0.0, 1.0), emissivity_2=(0.0, 1.0))
def exchange_factor_parallel_plates(emissivity_1: Numeric, emissivity_2: Numeric) -> Numeric:
    """Grey exchange factor of two large parallel plates.

    Parameters
    ----------
    emissivity_1, emissivity_2 : float or (n,) array
        Emissivities, 0 < e <= 1. [-]

    Returns
    -------
    float or (n,) array
        Exchange factor on either area. [-]

    Notes
    -----
    F = 1 / (1/e1 + 1/e2 - 1).

    References
    ----------
    .. [1] Incropera et al., 6th ed., sec. 13.3, table 13.3.

    Examples
    --------
    >>> round(exchange_factor_parallel_plates(0.9, 0.9), 4)
    0.8182
    """
    return 1.0 / (1.0 / emissivity_1 + 1.0 / emissivity_2 - 1.0)


@valid_for(
    emissivity_inner=(0.0, 1.0),
    emissivity_outer=(0.0, 1.0),
    area_ratio=(0.0, 1.0),
    shields=(0.0, float(MOST_SHIELDS)),
    shield_emissivity=(0.0, 1.0),
)
def exchange_factor_with_shields(
    emissivity_inner: Numeric,
    emissivity_outer: Numeric,
    area_ratio: Numeric,
    shields: Numeric,
    shield_emissivity: Numeric,
) -> Numeric:
    """Grey exchange factor of concentric cylinders with shields between them, on the inner area.

    Parameters
    ----------
    emissivity_inner, emissivity_outer : float or (n,) array
        Emissivities of the walls, 0 < e <= 1. [-]
    area_ratio : float or (n,) array
        Inner area over outer area, at most 1; 1 for parallel plates. [-]
    shields : float or (n,) array
        Number of thin shields, 0 to `MOST_SHIELDS`, evenly spaced in radius. [-]
    shield_emissivity : float or (n,) array
        Emissivity of both faces of every shield. [-]

    Returns
    -------
    float or (n,) array
        Exchange factor on the inner area. [-]

    Notes
    -----
    Surface and space resistances in series: 1/F = 1/e_i + sum A_i/A_k (2/e_s - 1) + (A_i/A_o) (1/e_o - 1),
    with A_k growing with the radius of shield k. The shields don't touch and their edges exchange nothing.

    References
    ----------
    .. [1] Incropera et al., 6th ed., sec. 13.3.

    Examples
    --------
    >>> round(float(exchange_factor_with_shields(0.1, 0.1, 1.0, 1, 0.05)), 5)
    0.01724
    """
    resistance = 1.0 / emissivity_inner + area_ratio * (1.0 / emissivity_outer - 1.0)
    for shield in range(1, MOST_SHIELDS + 1):
        fraction = np.minimum(shield / (shields + 1.0), 1.0)
        inner_to_shield = area_ratio / (area_ratio + fraction * (1.0 - area_ratio))
        added = inner_to_shield * (2.0 / shield_emissivity - 1.0)
        resistance = resistance + np.where(shields >= shield, added, 0.0)
    return 1.0 / resistance


def view_factor_coaxial_discs(radius_1: Numeric, radius_2: Numeric, distance: Numeric) -> Numeric:
    """View factor from a disc to a parallel coaxial disc.

    Parameters
    ----------
    radius_1, radius_2 : float or (n,) array
        Radii, above zero. [m]
    distance : float or (n,) array
        Distance between the discs, zero or more. [m]

    Returns
    -------
    float or (n,) array
        Fraction of what leaves disc 1 that reaches disc 2. [-]

    Notes
    -----
    F12 = 2 r2^2 / (S + sqrt(S^2 - 4 r1^2 r2^2)) with S = r1^2 + r2^2 + L^2: the usual form, rationalised so
    that it neither cancels for far discs nor divides by zero for touching ones.

    References
    ----------
    .. [1] Howell, Catalog of Radiation Heat Transfer Configuration Factors, C-41.
    .. [2] Incropera et al., 6th ed., table 13.2.

    Examples
    --------
    >>> round(float(view_factor_coaxial_discs(0.03, 0.03, 0.03)), 5)
    0.38197
    """
    square_1, square_2 = radius_1 * radius_1, radius_2 * radius_2
    total = square_1 + square_2 + distance * distance
    root = np.sqrt(np.maximum(total * total - 4.0 * square_1 * square_2, 0.0))
    return 2.0 * square_2 / (total + root)


def view_factor_disc_to_cylinder_ring(radius: Numeric, near_distance: Numeric, far_distance: Numeric) -> Numeric:
    """View factor from a disc to a ring of the coaxial cylinder that stands on it.

    Parameters
    ----------
    radius : float or (n,) array
        Radius of disc and cylinder. [m]
    near_distance, far_distance : float or (n,) array
        Axial distances of the ring's edges from the disc, near <= far. [m]

    Returns
    -------
    float or (n,) array
        Fraction of what leaves the disc that reaches the ring's inside. [-]

    Notes
    -----
    What passes the near opening less what passes the far one.

    References
    ----------
    .. [1] Howell, Catalog of Radiation Heat Transfer Configuration Factors, C-41, and view factor algebra.

    Examples
    --------
    >>> round(float(view_factor_disc_to_cylinder_ring(0.03, 0.0, 0.03)), 5)
    0.61803
    """
    near = view_factor_coaxial_discs(radius, radius, near_distance)
    return near - view_factor_coaxial_discs(radius, radius, far_distance)


@valid_for(width=(1e-9, 10.0), distance=(0.0, 10.0))
def view_factor_parallel_strips(width: Numeric, distance: Numeric) -> Numeric:
    """View factor between two long strips of the same width that face each other.

    Parameters
    ----------
    width, distance : float or (n,) array
        Width above zero, distance zero or more. [m]

    Returns
    -------
    float or (n,) array
        Fraction of what leaves one that reaches the other. [-]

    Notes
    -----
    F = (sqrt(L^2 + w^2) - L) / w by crossed strings, rationalised so that it does not cancel for far strips.

    References
    ----------
    .. [1] Incropera et al., 6th ed., table 13.1 (parallel plates with midlines connected by a perpendicular).

    Examples
    --------
    >>> round(float(view_factor_parallel_strips(0.002, 0.002)), 4)
    0.4142
    """
    return width / (distance + np.sqrt(distance * distance + width * width))


@valid_for(view_factor=(0.0, 1.0), emissivity_1=(0.0, 1.0), emissivity_2=(0.0, 1.0))
def exchange_factor_reradiating(
    view_factor: Numeric, area_1: Numeric, area_2: Numeric, emissivity_1: Numeric, emissivity_2: Numeric
) -> Numeric:
    """Grey exchange factor of two surfaces joined by reradiating walls, on area 1.

    Parameters
    ----------
    view_factor : float or (n,) array
        View factor from surface 1 to surface 2; neither sees itself. [-]
    area_1, area_2 : float or (n,) array
        Areas. [m2]
    emissivity_1, emissivity_2 : float or (n,) array
        Emissivities, 0 < e <= 1. [-]

    Returns
    -------
    float or (n,) array
        Exchange factor on area 1. [-]

    Notes
    -----
    Radiation network of a three-surface enclosure whose third surface passes on all that it receives.

    References
    ----------
    .. [1] Incropera et al., 6th ed., ch. 13 (reradiating surfaces).
    .. [2] Holman, Heat Transfer, 10th ed., eq. 8-41.

    Examples
    --------
    >>> round(float(exchange_factor_reradiating(0.38197, 1.0, 1.0, 1.0, 1.0)), 5)
    0.69098
    """
    direct = area_1 * view_factor
    to_walls_1 = area_1 - direct
    to_walls_2 = area_2 - direct
    by_walls = to_walls_1 * to_walls_2 / np.maximum(to_walls_1 + to_walls_2, _TINY)
    space = area_1 / (direct + by_walls)
    return 1.0 / (1.0 / emissivity_1 - 1.0 + area_1 / area_2 * (1.0 / emissivity_2 - 1.0) + space)
