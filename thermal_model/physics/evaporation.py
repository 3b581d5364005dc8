"""Evaporation from an open water surface into a room."""

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for
from thermal_model.physics.vapour_transport import (
    exchange_flow_through_opening_epstein,
)


@valid_for(rayleigh=(1e5, 1e9), schmidt=(0.4, 1.0))
def sherwood_open_surface_bower_saylor(rayleigh: Numeric, schmidt: Numeric) -> Numeric:
    """Sherwood number of warm water that evaporates into quiet air above it.

    Parameters
    ----------
    rayleigh : float or (n,) array
        g (drho / rho) L^3 / (nu D) with the density difference of the moist air at the surface and in the room,
        and the width or diameter L of the surface. [-]
    schmidt : float or (n,) array
        Kinematic viscosity over the diffusion coefficient of vapour. [-]

    Returns
    -------
    float or (n,) array
        On the width, for a flux D / L Sh (rho_v,surface - rho_v,room) in vapour densities; zero without lift. [-]

    Notes
    -----
    Sh = 0.230 Sc^(1/3) Ra^0.321, fitted to heated tanks of several widths. Formula and range are from memory; the
    range reaches down to the cups that `tests/benchmarks/open_evaporation.py` holds it to.

    References
    ----------
    .. [1] Bower, Saylor, A study of the Sherwood-Rayleigh relation for water undergoing natural convection-driven
       evaporation, Int. J. Heat Mass Transfer 52 (2009) 3055-3063, doi:10.1016/j.ijheatmasstransfer.2009.01.034.

    Examples
    --------
    >>> round(float(sherwood_open_surface_bower_saylor(2.6e6, 0.6)), 1)
    22.2
    """
    return 0.230 * np.cbrt(schmidt) * rayleigh**0.321


def exchange_velocity_in_open_tube_epstein(
    depth: Numeric, diameter: Numeric, relative_density_difference: Numeric
) -> Numeric:
    """Velocity at which light air above a liquid and heavy air of the room change places in the tube between.

    Parameters
    ----------
    depth : float or (n,) array
        Of the liquid's surface below the rim, above zero. [m]
    diameter : float or (n,) array
        Of the tube. [m]
    relative_density_difference : float or (n,) array
        Density difference over mean density; zero or below means no exchange. [-]

    Returns
    -------
    float or (n,) array
        Volume flow each way over the tube's section; without bound as the liquid comes up to the rim. [m s-1]

    Notes
    -----
    `exchange_flow_through_opening_epstein` from the slenderness of its greatest flow upwards. Below that an opening
    in a partition lets less through, but a vessel that is nearly full has no air space to exchange with: there the
    flow is taken inversely as the depth, a judgement that moves evaporation by a few percent.

    References
    ----------
    .. [1] Epstein, Buoyancy-driven exchange flow through small openings in horizontal partitions, J. Heat
       Transfer 110 (1988) 885-893.

    Examples
    --------
    >>> round(float(exchange_velocity_in_open_tube_epstein(0.08, 0.08, 0.25)), 3)
    0.05
    """
    least = GREATEST_EXCHANGE_SLENDERNESS * diameter
    flow = exchange_flow_through_opening_epstein(diameter, np.maximum(depth, least), relative_density_difference)
    return flow / (0.25 * np.pi * diameter * diameter) * np.maximum(least / depth, 1.0)


GREATEST_EXCHANGE_SLENDERNESS = 0.6
"""Length over diameter at which the most changes places through an opening, Epstein 1988 [-]."""
