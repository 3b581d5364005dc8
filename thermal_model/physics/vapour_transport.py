"""Water vapour in air: diffusion with Stefan flow, saturated gaps, exchange through an opening."""

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.numeric import Numeric
from thermal_model.physics.constants import GAS_CONSTANT, GRAVITY, STANDARD_PRESSURE
from thermal_model.physics.validity import valid_for

WATER_MOLAR_MASS = 0.01801528
"""Molar mass of water [kg mol-1], IAPWS."""

AIR_MOLAR_MASS = 0.0289655
"""Molar mass of dry air [kg mol-1]."""

WATER_GAS_CONSTANT = GAS_CONSTANT / WATER_MOLAR_MASS
"""Specific gas constant of water vapour [J kg-1 K-1]."""

LEAST_AIR_FRACTION = 1e-3
"""Least share of air that is counted beside vapour, so that flow from boiling water stays finite [-]."""


def mass_fraction_from_pressure(vapour_pressure: Numeric, total_pressure: Numeric) -> Numeric:
    """Mass fraction of water vapour in moist air.

    Parameters
    ----------
    vapour_pressure : float or (n,) array
        Partial pressure of the vapour; above the total it counts as the total. [Pa]
    total_pressure : float or (n,) array
        [Pa]

    Returns
    -------
    float or (n,) array
        Vapour per moist air, 0 to 1. [kg kg-1]

    Notes
    -----
    w = e p_v / (p - (1 - e) p_v), with e the ratio of the molar masses, 0.622; ideal gases.

    References
    ----------
    .. [1] ASHRAE Handbook of Fundamentals, Psychrometrics (specific humidity).

    Examples
    --------
    >>> round(float(mass_fraction_from_pressure(31200.9, 101325.0)), 4)
    0.2168
    """
    ratio = WATER_MOLAR_MASS / AIR_MOLAR_MASS
    vapour = np.minimum(vapour_pressure, total_pressure)
    return ratio * vapour / (total_pressure - (1.0 - ratio) * vapour)


@valid_for(temperature=(280.0, 450.0))
def vapour_diffusivity_marrero_mason(temperature: Numeric, total_pressure: Numeric) -> Numeric:
    """Diffusion coefficient of water vapour in air.

    Parameters
    ----------
    temperature : float or (n,) array
        [K]
    total_pressure : float or (n,) array
        [Pa]

    Returns
    -------
    float or (n,) array
        [m2 s-1]

    Notes
    -----
    D = 1.87e-10 T^2.072 / p, p in atmospheres.

    References
    ----------
    .. [1] Marrero, Mason, J. Phys. Chem. Ref. Data 1 (1972) 3-118, doi:10.1063/1.3253094.

    Examples
    --------
    >>> f"{vapour_diffusivity_marrero_mason(298.15, 101325.0):.2e}"
    '2.51e-05'
    """
    return 1.87e-10 * temperature**2.072 * (STANDARD_PRESSURE / total_pressure)


@valid_for(mass_fraction_source=(0.0, 1.0 - LEAST_AIR_FRACTION))
def stefan_flow_mass_flux(
    mass_transfer_coefficient: Numeric,
    density: Numeric,
    mass_fraction_source: Numeric,
    mass_fraction_sink: Numeric,
) -> Numeric:
    """Vapour flux from a wet surface through air that itself stays behind.

    Parameters
    ----------
    mass_transfer_coefficient : float or (n,) array
        At low rates of transfer. [m s-1]
    density : float or (n,) array
        Of the moist air. [kg m-3]
    mass_fraction_source, mass_fraction_sink : float or (n,) array
        Of vapour, at the wet surface and at the other end. [kg kg-1]

    Returns
    -------
    float or (n,) array
        Positive from source to sink. [kg m-2 s-1]

    Notes
    -----
    m = rho beta ln((1 - w_sink) / (1 - w_source)): diffusion and the flow that diffusion itself sets up.
    The share of air is never taken below `LEAST_AIR_FRACTION`.

    References
    ----------
    .. [1] Stefan 1874; Bird, Stewart, Lightfoot, Transport Phenomena, 2nd ed., sec. 18.2.
    .. [2] Mills, Mass Transfer, 2001 (mass-fraction form of the blowing factor).

    Examples
    --------
    >>> round(float(stefan_flow_mass_flux(0.004, 1.0, 0.2167, 0.1322)), 6)
    0.00041
    """
    potential = stefan_flow_potential(mass_fraction_source) - stefan_flow_potential(mass_fraction_sink)
    return density * mass_transfer_coefficient * potential


def stefan_flow_potential(mass_fraction: Numeric) -> Numeric:
    """Potential whose difference drives vapour through air that stays behind: -ln(1 - w).

    Parameters
    ----------
    mass_fraction : float or (n,) array
        Of vapour; the share of air is never taken below `LEAST_AIR_FRACTION`. [kg kg-1]

    Returns
    -------
    float or (n,) array
        [-]

    References
    ----------
    .. [1] Bird, Stewart, Lightfoot, Transport Phenomena, 2nd ed., sec. 18.2.

    Examples
    --------
    >>> round(float(stefan_flow_potential(0.2167)), 4)
    0.2442
    """
    return -np.log(np.maximum(1.0 - mass_fraction, LEAST_AIR_FRACTION))


@valid_for(temperature=(ZERO_CELSIUS, 370.0))
def vapour_conductivity_saturated(
    temperature: Numeric,
    total_pressure: Numeric,
    vapour_pressure: Numeric,
    latent_heat: Numeric,
    vapour_diffusivity: Numeric,
) -> Numeric:
    """Apparent thermal conductivity of vapour that evaporates, diffuses and condenses in saturated air.

    Parameters
    ----------
    temperature : float or (n,) array
        Mean temperature. [K]
    total_pressure : float or (n,) array
        [Pa]
    vapour_pressure : float or (n,) array
        Saturation pressure at the temperature. [Pa]
    latent_heat : float or (n,) array
        [J kg-1]
    vapour_diffusivity : float or (n,) array
        Of water vapour in air. [m2 s-1]

    Returns
    -------
    float or (n,) array
        To be added to the conductivity of the air. [W m-1 K-1]

    Notes
    -----
    k = h_fg D / (R_v T) p / (p - p_v) dp_v/dT with Clausius-Clapeyron's dp_v/dT = h_fg p_v / (R_v T^2); the
    share of air is never taken below `LEAST_AIR_FRACTION`.

    References
    ----------
    .. [1] Krischer, Kast, Die wissenschaftlichen Grundlagen der Trocknungstechnik, 3rd ed., 1978.
    .. [2] de Vries, Thermal properties of soils, in van Wijk (ed.), Physics of Plant Environment, 1963.

    Examples
    --------
    >>> round(float(vapour_conductivity_saturated(333.15, 101325.0, 19946.4, 2.3577e6, 3.15e-5)), 2)
    0.55
    """
    slope = latent_heat * vapour_pressure / (WATER_GAS_CONSTANT * temperature * temperature)
    air = np.maximum(total_pressure - vapour_pressure, LEAST_AIR_FRACTION * total_pressure)
    diffusion = vapour_diffusivity / (WATER_GAS_CONSTANT * temperature) * total_pressure / air
    return latent_heat * diffusion * slope


def _length_to_diameter(length: Numeric, diameter: Numeric) -> Numeric:
    # Zero where there is no opening, and so nothing to watch.
    return length / np.where(np.greater(diameter, 0.0), diameter, np.inf)


@valid_for({"length_to_diameter": _length_to_diameter}, length_to_diameter=(0.01, 10.0))
def exchange_flow_through_opening_epstein(
    diameter: Numeric, length: Numeric, relative_density_difference: Numeric
) -> Numeric:
    """Volume flow each way through one round opening in a level partition, heavy air above light.

    Parameters
    ----------
    diameter : float or (n,) array
        Of the opening; zero lets nothing through. [m]
    length : float or (n,) array
        Of the opening, through the partition. [m]
    relative_density_difference : float or (n,) array
        Density difference over mean density; zero or below means no exchange. [-]

    Returns
    -------
    float or (n,) array
        Up, and as much down. [m3 s-1]

    Notes
    -----
    Q = Fr sqrt(g D^5 drho/rho) with, for x = L/D (named `length_to_diameter` in the range), Fr = 0.055 (1 +
    400 x^3)^(1/6) / (1 + 0.00527 (1 + 400 x^3)^(1/2) (x^6 + 117 x^2)^(3/4))^(1/3). Measured with brine and
    water; viscosity did not matter there. In a narrow vent (some millimetres) it slows air down, so take
    the result as an upper bound. The coefficients are from memory; they give back the paper's regimes
    0.055, 0.147 x^(1/2) and 0.32 x^(-3/2).

    References
    ----------
    .. [1] Epstein, Buoyancy-driven exchange flow through small openings in horizontal partitions, J. Heat
       Transfer 110 (1988) 885-893.

    Examples
    --------
    >>> flow = exchange_flow_through_opening_epstein(0.010, 0.006, 0.15)
    >>> round(float(flow) * 1e6, 2)
    1.15
    """
    slenderness = length / np.maximum(diameter, 1e-9)
    square = slenderness * slenderness
    short = np.sqrt(1.0 + 400.0 * square * slenderness)
    long = np.sqrt(square * square * square + 117.0 * square)
    froude = 0.055 * np.cbrt(short) / np.cbrt(1.0 + 0.00527 * short * long * np.sqrt(long))
    lift = GRAVITY * np.maximum(relative_density_difference, 0.0)
    return froude * diameter * diameter * np.sqrt(lift * diameter)


@valid_for(gap=(0.0, 3e-3))
def exchange_flow_through_level_slit(
    width: Numeric, gap: Numeric, length: Numeric, density_difference: Numeric, dynamic_viscosity: Numeric
) -> Numeric:
    """Volume flow each way through a narrow level slit between two rooms of gas, light gas out above, heavy in below.

    Parameters
    ----------
    width : float or (n,) array
        Of the slit, along the two rooms. [m]
    gap : float or (n,) array
        Its height, some millimetres at most; zero lets nothing through. [m]
    length : float or (n,) array
        From one room to the other, much more than the height. [m]
    density_difference : float or (n,) array
        Between the rooms; the flow does not ask which is the heavier. [kg m-3]
    dynamic_viscosity : float or (n,) array
        [Pa s]

    Returns
    -------
    float or (n,) array
        Out, and as much in. [m3 s-1]

    Notes
    -----
    Q = drho g width gap^4 / (384 mu length): fully developed laminar counterflow between two plates, driven by a
    density that changes evenly along the slit (the core flow of a shallow cavity, whose stream function is 1/384 of
    the Grashof number at mid-height). Without the resistance of the two ends it is an upper bound.

    References
    ----------
    .. [1] Cormack, Leal, Imberger, Natural convection in a shallow cavity with differentially heated end walls,
       part 1, J. Fluid Mech. 65 (1974) 209-229.
    .. [2] Bejan, Rossie, Natural convection in horizontal duct connecting two fluid reservoirs, J. Heat Transfer 103
       (1981) 108-113: measured, two streams in counterflow.

    Examples
    --------
    >>> flow = exchange_flow_through_level_slit(0.14, 0.001, 0.005, 0.3, 2e-5)
    >>> round(float(flow) * 1e9, 1)
    10.7
    """
    square = gap * gap
    lift = GRAVITY * np.abs(density_difference)
    return lift * width * square * square / (384.0 * dynamic_viscosity * length)


@valid_for(mass_fraction_inside=(0.0, 1.0 - LEAST_AIR_FRACTION), mass_fraction_outside=(0.0, 1.0))
def vapour_flow_through_gap_stefan(
    area: Numeric,
    length: Numeric,
    density: Numeric,
    diffusivity: Numeric,
    mass_fraction_inside: Numeric,
    mass_fraction_outside: Numeric,
) -> Numeric:
    """Vapour that diffuses through a gap filled with air that itself stays behind.

    Parameters
    ----------
    area, length : float or (n,) array
        Of the gap's section; of the way through it. [m2, m]
    density : float or (n,) array
        Of the moist air in the gap. [kg m-3]
    diffusivity : float or (n,) array
        Of vapour in air. [m2 s-1]
    mass_fraction_inside, mass_fraction_outside : float or (n,) array
        Of vapour, at the two ends. [kg kg-1]

    Returns
    -------
    float or (n,) array
        Positive from inside to outside. [kg s-1]

    Notes
    -----
    m = rho D A / L ln((1 - w_out) / (1 - w_in)): Stefan's tube, as `stefan_flow_mass_flux` with rho D / L.

    References
    ----------
    .. [1] Stefan 1874; Bird, Stewart, Lightfoot, Transport Phenomena, 2nd ed., sec. 18.2.

    Examples
    --------
    >>> flow = vapour_flow_through_gap_stefan(4.2e-5, 0.005, 1.0, 3.1e-5, 0.2167, 0.0073)
    >>> round(float(flow) * 1e9, 1)
    61.7
    """
    return stefan_flow_mass_flux(diffusivity * area / length, density, mass_fraction_inside, mass_fraction_outside)
