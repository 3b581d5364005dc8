"""Evaporation from an open water surface into a room."""

from geometries.numeric import Numeric
from thermal_model.physics.validity import valid_for
from thermal_model.physics.vapour_transport import (
    mass_fraction_from_pressure,
    mass_transfer_coefficient_lewis,
    stefan_flow_mass_flux,
)


@valid_for(lewis_number=(0.5, 2.0))
def evaporation_flux_open_surface(
    heat_transfer_coefficient: Numeric,
    surface_vapour_pressure: Numeric,
    room_vapour_pressure: Numeric,
    total_pressure: Numeric,
    heat_capacity: Numeric,
    lewis_number: Numeric,
) -> Numeric:
    """Evaporation flux of an open water surface; negative where room air condenses on cold water.

    Parameters
    ----------
    heat_transfer_coefficient : float or (n,) array
        By convection alone, without radiation. [W m-2 K-1]
    surface_vapour_pressure : float or (n,) array
        Saturation pressure at the temperature of the surface. [Pa]
    room_vapour_pressure : float or (n,) array
        Relative humidity times saturation pressure of the room. [Pa]
    total_pressure : float or (n,) array
        [Pa]
    heat_capacity : float or (n,) array
        Of the moist air, at the film. [J kg-1 K-1]
    lewis_number : float or (n,) array
        Thermal diffusivity over vapour diffusivity; about 0.85 in air. [-]

    Returns
    -------
    float or (n,) array
        [kg m-2 s-1]

    Notes
    -----
    Lewis analogy with Stefan flow, m = h / (c_p Le^(2/3)) ln((1 - w_room) / (1 - w_surface)); the density
    of the air cancels.

    References
    ----------
    .. [1] As in `vapour_transport`: Chilton-Colburn analogy and Stefan flow.

    Examples
    --------
    >>> flux = evaporation_flux_open_surface(6.0, 47414.5, 1170.0, 101325.0, 1060.0, 0.85)
    >>> round(float(flux) * 3600.0, 1)
    9.7
    """
    density = 1.0  # cancels
    transfer = mass_transfer_coefficient_lewis(heat_transfer_coefficient, density, heat_capacity, lewis_number)
    return stefan_flow_mass_flux(
        transfer,
        density,
        mass_fraction_from_pressure(surface_vapour_pressure, total_pressure),
        mass_fraction_from_pressure(room_vapour_pressure, total_pressure),
    )
