"""Free convection from surfaces to an open fluid."""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for


@valid_for(rayleigh=(1e-1, 1e12))
def nusselt_vertical_plate_churchill_chu(rayleigh: Numeric, prandtl: Numeric) -> Numeric:
    """Mean Nusselt number of an isothermal vertical plate, laminar and turbulent.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On the height. [-]
    prandtl : float or (n,) array
        [-]

    Returns
    -------
    float or (n,) array
        On the height; 0.68 (0.825 squared) in a fluid at rest. [-]

    Notes
    -----
    Nu = (0.825 + 0.387 Ra^(1/6) / (1 + (0.492/Pr)^(9/16))^(8/27))^2, any Prandtl number. A cylinder counts
    as a plate where D/H >= 35 / Gr^(1/4); else see `slender_cylinder_factor_popiel`.

    References
    ----------
    .. [1] Churchill, Chu, Int. J. Heat Mass Transfer 18 (1975) 1323-1329, doi:10.1016/0017-9310(75)90243-4.

    Examples
    --------
    >>> round(float(nusselt_vertical_plate_churchill_chu(1.813e9, 0.69)), 1)
    147.1
    """
    prandtl_function = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    root = 0.825 + 0.387 * np.cbrt(np.sqrt(rayleigh)) / prandtl_function
    return root * root


@valid_for(rayleigh=(0.0, 1e9))
def nusselt_vertical_plate_laminar_churchill_chu(rayleigh: Numeric, prandtl: Numeric) -> Numeric:
    """Mean Nusselt number of an isothermal vertical plate, laminar.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On the height. [-]
    prandtl : float or (n,) array
        [-]

    Returns
    -------
    float or (n,) array
        On the height; 0.68 in a fluid at rest. [-]

    Notes
    -----
    Nu = 0.68 + 0.670 Ra^(1/4) / (1 + (0.492/Pr)^(9/16))^(4/9), a little more exact than the formula for all
    Ra.

    References
    ----------
    .. [1] Churchill, Chu, Int. J. Heat Mass Transfer 18 (1975) 1323-1329, doi:10.1016/0017-9310(75)90243-4.

    Examples
    --------
    >>> round(float(nusselt_vertical_plate_laminar_churchill_chu(7.07e7, 0.71)), 1)
    47.8
    """
    prandtl_function = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (4.0 / 9.0)
    return 0.68 + 0.670 * np.sqrt(np.sqrt(rayleigh)) / prandtl_function


@valid_for(prandtl=(0.01, 100.0), grashof=(1e4, 1e9))
def slender_cylinder_factor_popiel(grashof: Numeric, prandtl: Numeric, slenderness: Numeric) -> Numeric:
    """Ratio of a vertical cylinder's laminar Nusselt number to that of a plate of its height.

    Parameters
    ----------
    grashof : float or (n,) array
        On the height. [-]
    prandtl : float or (n,) array
        [-]
    slenderness : float or (n,) array
        Height over diameter. [-]

    Returns
    -------
    float or (n,) array
        Factor above 1 on the plate's Nusselt number. [-]

    Notes
    -----
    1 + B (sqrt(32) Gr^(-1/4) H/D)^C with B and C functions of Pr. The bracket is capped at 20, the end of
    its data, so that a fluid at rest gives a finite factor. The range of Gr is a judgement: laminar
    boundary layers.

    References
    ----------
    .. [1] Popiel, Wojtkowiak, Bober, Exp. Therm. Fluid Sci. 32 (2007) 607-613,
       doi:10.1016/j.expthermflusci.2007.07.003.

    Examples
    --------
    >>> round(float(slender_cylinder_factor_popiel(2e7, 0.71, 0.20 / 0.075)), 3)
    1.076
    """
    B = 0.0571322 + 0.20305 * prandtl**-0.43
    C = 0.9165 - 0.0043 * np.sqrt(prandtl) + 0.01333 * np.log(prandtl) + 0.0004809 / prandtl
    fourth_root = np.sqrt(np.sqrt(np.maximum(grashof, 1e-12)))
    curvature = np.minimum(np.sqrt(32.0) * slenderness / fourth_root, 20.0)
    return 1.0 + B * curvature**C


@valid_for(rayleigh=(1e4, 1e11))
def nusselt_horizontal_plate_hot_side_up(rayleigh: Numeric) -> Numeric:
    """Mean Nusselt number of a hot plate facing up, or a cold one facing down.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On area over perimeter. [-]

    Returns
    -------
    float or (n,) array
        On area over perimeter; zero in a fluid at rest. [-]

    Notes
    -----
    The larger of 0.54 Ra^(1/4) (laminar) and 0.15 Ra^(1/3) (turbulent). Handbooks change at Ra = 1e7, where
    the two are 6 % apart; taking the larger changes where they meet, at 4.7e6, and has no jump.

    References
    ----------
    .. [1] Lloyd, Moran, J. Heat Transfer 96 (1974) 443-447; McAdams, Heat Transmission, 3rd ed., 1954.
    .. [2] Incropera et al., 6th ed., eqs. 9.30, 9.31.

    Examples
    --------
    >>> round(float(nusselt_horizontal_plate_hot_side_up(1.37e8)), 1)
    77.3
    """
    laminar = 0.54 * np.sqrt(np.sqrt(rayleigh))
    return np.maximum(laminar, 0.15 * np.cbrt(rayleigh))


@valid_for(rayleigh=(1e5, 1e10))
def nusselt_horizontal_plate_hot_side_down(rayleigh: Numeric) -> Numeric:
    """Mean Nusselt number of a hot plate facing down, or a cold one facing up.

    Parameters
    ----------
    rayleigh : float or (n,) array
        On area over perimeter. [-]

    Returns
    -------
    float or (n,) array
        On area over perimeter; zero in a fluid at rest. [-]

    Notes
    -----
    Nu = 0.27 Ra^(1/4).

    References
    ----------
    .. [1] McAdams, Heat Transmission, 3rd ed., 1954; Incropera et al., 6th ed., eq. 9.32.

    Examples
    --------
    >>> round(float(nusselt_horizontal_plate_hot_side_down(1.37e8)), 1)
    29.2
    """
    return 0.27 * np.sqrt(np.sqrt(rayleigh))
