"""Steady conduction through solids of simple shape."""

from geometries.numeric import Numeric


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
