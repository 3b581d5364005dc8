"""The laws that a link can carry: heat flow from the temperatures at its two ends.

Each law stands here once. It joins correlations of `physics` with property fits of `properties` into a heat flow
in watts, positive from the first temperature to the second, and works on floats and on arrays alike. A `_factor`
multiplies the heat transfer coefficient it is named after: it carries what a ruler can't see.
"""

import inspect
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geometries.numeric import Numeric
from thermal_model.physics import enclosed_layers, forced_convection, free_convection, radiation, rarefied_gas
from thermal_model.physics import vapour_transport as vapour
from thermal_model.physics.constants import GRAVITY, STANDARD_PRESSURE
from thermal_model.properties import moist_air, water


@dataclass(frozen=True)
class Law:
    """A heat flow law with its name and whether it is linear or carries vapour away."""

    flow: Callable[..., Numeric]
    is_linear: bool = False
    evaporates: bool = False

    @property
    def name(self) -> str:
        """Name of the law, as in the code."""
        return self.flow.__name__

    @cached_property
    def parameters(self) -> tuple[str, ...]:
        """Names of the parameters after the two temperatures."""
        return tuple(inspect.signature(self.flow).parameters)[2:]


def conduction(temperature_1: Numeric, temperature_2: Numeric, conductance: Numeric) -> Numeric:
    """Heat flow through a constant conductance [W K-1]. [W]"""
    return conductance * (temperature_1 - temperature_2)


def grey_exchange(temperature_1: Numeric, temperature_2: Numeric, exchange_area: Numeric) -> Numeric:
    """Radiation between grey surfaces; exchange_area is area times exchange factor [m2]. [W]"""
    return exchange_area * radiation.grey_heat_flux(temperature_1, temperature_2, 1.0)


def vertical_face(
    surface: Numeric,
    room: Numeric,
    area: Numeric,
    height: Numeric,
    emissivity: Numeric,
    wind_film: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Outside of a wall: free convection (Churchill-Chu) with wind, and radiation to the room. [W]"""
    film = 0.5 * (surface + room)
    difference = surface - room
    rayleigh = moist_air.buoyancy_group(film) * np.abs(difference) * height * height * height
    nusselt = free_convection.nusselt_vertical_plate_churchill_chu(rayleigh, moist_air.prandtl(film))
    free = nusselt * moist_air.conductivity(film) / height
    convection = film_factor * forced_convection.combine_free_and_forced(free, wind_film)
    return area * (convection * difference + radiation.grey_heat_flux(surface, room, emissivity))


def horizontal_face(
    surface: Numeric,
    room: Numeric,
    area: Numeric,
    length: Numeric,
    emissivity: Numeric,
    facing: Numeric,
    wind_film: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Outside of a level face (facing +1 up, -1 down; length is area over perimeter), with radiation. [W]"""
    film = 0.5 * (surface + room)
    difference = surface - room
    rayleigh = moist_air.buoyancy_group(film) * np.abs(difference) * length * length * length
    nusselt = np.where(
        facing * difference > 0.0,
        free_convection.nusselt_horizontal_plate_hot_side_up(rayleigh),
        free_convection.nusselt_horizontal_plate_hot_side_down(rayleigh),
    )
    # Below a few thousand Ra the plate formulas vanish with the difference; still air conducts all the same.
    free = np.maximum(nusselt, 1.0) * moist_air.conductivity(film) / length
    convection = film_factor * forced_convection.combine_free_and_forced(free, wind_film)
    return area * (convection * difference + radiation.grey_heat_flux(surface, room, emissivity))


def gap_vertical(
    inner: Numeric,
    outer: Numeric,
    area: Numeric,
    exchange_factor: Numeric,
    free_molecule_300K: Numeric,
    conductivity_300K: Numeric,
    conductivity_exponent: Numeric,
    width: Numeric,
    height: Numeric,
) -> Numeric:
    """Across the upright gap between two walls: radiation, and gas from free molecules to convecting air. [W]"""
    mean = 0.5 * (inner + outer)
    difference = inner - outer
    # Convection scales with the square of gas density; at a pressure where it matters the gas is a continuum.
    rayleigh = moist_air.buoyancy_group(mean) * np.abs(difference) * width * width * width
    density_ratio = free_molecule_300K / (free_molecule_300K + FREE_MOLECULE_AT_ATMOSPHERE)
    nusselt = enclosed_layers.nusselt_layer_vertical(
        rayleigh * 4.0 * density_ratio * density_ratio, moist_air.prandtl(mean), height / width
    )
    gas = _gas_conductance(
        mean, free_molecule_300K, conductivity_300K, conductivity_exponent, width, nusselt
    )
    return area * (gas * difference + radiation.grey_heat_flux(inner, outer, exchange_factor))


def layer_horizontal(
    lower: Numeric,
    upper: Numeric,
    area: Numeric,
    exchange_factor: Numeric,
    free_molecule_300K: Numeric,
    conductivity_300K: Numeric,
    conductivity_exponent: Numeric,
    depth: Numeric,
    convects: Numeric,
    slices: Numeric,
) -> Numeric:
    """Across one of `slices` equal parts of a level layer of gas, from its lower to its upper side. [W]

    Heated from below it convects (Hollands) unless a honeycomb stops it (convects 0); from above it conducts.
    """
    mean = 0.5 * (lower + upper)
    difference = slices * (lower - upper)
    warm_below = np.maximum(difference, 0.0)
    rayleigh = convects * moist_air.buoyancy_group(mean) * warm_below * depth * depth * depth
    nusselt = enclosed_layers.nusselt_layer_heated_below_hollands(rayleigh)
    gas = _gas_conductance(
        mean, free_molecule_300K, conductivity_300K, conductivity_exponent, depth, nusselt
    )
    radiative = slices * radiation.grey_heat_flux(lower, upper, exchange_factor)
    return area * (gas * difference + radiative)


FREE_MOLECULE_AT_ATMOSPHERE = 1.1707 * STANDARD_PRESSURE
"""Free-molecule conductance of air at one atmosphere, 300 K, full accommodation [W m-2 K-1]."""


def _gas_conductance(
    mean: Numeric,
    free_molecule_300K: Numeric,
    conductivity_300K: Numeric,
    exponent: Numeric,
    width: Numeric,
    nusselt: Numeric,
) -> Numeric:
    ratio = mean / 300.0
    free_molecule = free_molecule_300K / np.sqrt(ratio)
    continuum = nusselt * conductivity_300K * ratio**exponent / width
    return rarefied_gas.gas_conductance_sherman(free_molecule, continuum)


def headspace_level(
    below: Numeric,
    above: Numeric,
    area: Numeric,
    depth: Numeric,
    is_wet_below: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Half of the headspace, between a level surface and the air and vapour in its middle. [W]

    Heated from below: convection (Hollands over the whole depth, twice the half's difference) driven by the
    density of saturated air, and vapour by the Lewis analogy with Stefan flow. Heated from above: still air.
    """
    mean = 0.5 * (below + above)
    rayleigh = _moist_rayleigh(2.0 * below - mean, 2.0 * above - mean, mean, depth)
    rayleigh = np.where(below > above, rayleigh, 0.0)
    nusselt = enclosed_layers.nusselt_layer_heated_below_hollands(rayleigh)
    film = film_factor * 2.0 * nusselt * moist_air.conductivity(mean) / depth
    return area * (film * (below - above) + is_wet_below * _vapour_heat_flux(film, below, above))


def headspace_wall(
    headspace: Numeric,
    wall: Numeric,
    area: Numeric,
    height: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """From the air and vapour of the headspace to an upright dry wall of a height. [W]"""
    mean = 0.5 * (headspace + wall)
    rayleigh = _moist_rayleigh(headspace, wall, mean, height)
    # Below a cold lid the air is mixed; under a warm one it lies in layers and only conducts.
    nusselt = np.where(
        headspace > wall,
        free_convection.nusselt_vertical_plate_laminar_churchill_chu(rayleigh, 0.71),
        1.0,
    )
    film = film_factor * nusselt * moist_air.conductivity(mean) / height
    return area * (film * (headspace - wall) + _vapour_heat_flux(film, headspace, wall))


def _moist_rayleigh(warm: Numeric, cold: Numeric, mean: Numeric, length: Numeric) -> Numeric:
    """Rayleigh number with the density difference of saturated air: moist air is lighter than dry."""
    density_warm = moist_air.saturated_air_density(warm, STANDARD_PRESSURE)
    density_cold = moist_air.saturated_air_density(cold, STANDARD_PRESSURE)
    relative = np.abs(density_cold - density_warm) / moist_air.density(mean)
    return moist_air.buoyancy_group(mean) * mean * relative * length * length * length


def _vapour_heat_flux(film: Numeric, wet: Numeric, cold: Numeric) -> Numeric:
    """Heat carried by vapour from a wet or saturated side to a colder one; none the other way. [W m-2]"""
    mean = 0.5 * (wet + cold)
    flux = _vapour_mass_flux(
        film, mean, water.saturation_pressure(wet), water.saturation_pressure(np.minimum(cold, wet))
    )
    return flux * water.latent_heat(mean)


def _vapour_mass_flux(
    film: Numeric, mean: Numeric, pressure_source: Numeric, pressure_sink: Numeric
) -> Numeric:
    density = moist_air.density(mean)
    transfer = vapour.mass_transfer_coefficient_lewis(
        film, density, moist_air.heat_capacity(mean), moist_air.lewis_number(mean)
    )
    return vapour.stefan_flow_mass_flux(
        transfer,
        density,
        vapour.mass_fraction_from_pressure(pressure_source, STANDARD_PRESSURE),
        vapour.mass_fraction_from_pressure(pressure_sink, STANDARD_PRESSURE),
    )


def annulus_vapour(
    lower: Numeric,
    upper: Numeric,
    area_per_length: Numeric,
    exchange_factor: Numeric,
) -> Numeric:
    """Along the annulus between plug and neck: air conducts, and vapour creeps up where it is warm below. [W]

    The exchange factor multiplies diffusion; it stands for the slow turnover that moist, light air makes.
    """
    mean = 0.5 * (lower + upper)
    creeping = np.where(lower > upper, exchange_factor, 0.0)
    conductivity = moist_air.conductivity(mean) + creeping * vapour.vapour_conductivity_saturated(
        mean,
        STANDARD_PRESSURE,
        water.saturation_pressure(mean),
        water.latent_heat(mean),
        moist_air.vapour_diffusivity(mean, STANDARD_PRESSURE),
    )
    return area_per_length * conductivity * (lower - upper)


def wetted_film(
    contents: Numeric,
    wall: Numeric,
    area: Numeric,
    length: Numeric,
    facing: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """From water to a wetted wall (facing 0 upright, +1 a floor, -1 a ceiling), by its density difference. [W]

    The density itself, not an expansion coefficient: near 4 C that coefficient changes sign.
    """
    mean = 0.5 * (contents + wall)
    density = water.density(mean)
    viscosity = water.dynamic_viscosity(mean) / density
    conductivity = water.conductivity(mean)
    diffusivity = conductivity / (density * water.heat_capacity(mean))
    lighter_at_wall = water.density(contents) - water.density(wall)
    relative = np.abs(lighter_at_wall) / density
    rayleigh = GRAVITY * relative * length * length * length / (viscosity * diffusivity)
    level = np.where(
        facing * lighter_at_wall > 0.0,
        free_convection.nusselt_horizontal_plate_hot_side_up(rayleigh),
        free_convection.nusselt_horizontal_plate_hot_side_down(rayleigh),
    )
    upright = free_convection.nusselt_vertical_plate_churchill_chu(rayleigh, viscosity / diffusivity)
    nusselt = np.maximum(np.where(facing == 0.0, upright, level), 1.0)
    return film_factor * area * nusselt * conductivity / length * (contents - wall)


def open_surface_evaporation(
    contents: Numeric,
    room: Numeric,
    area: Numeric,
    length: Numeric,
    relative_humidity: Numeric,
    wind_film: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Heat taken from open contents by evaporation (given to them by condensing room air, if colder). [W]"""
    film = 0.5 * (contents + room)
    room_pressure = relative_humidity * water.saturation_pressure(room)
    lighter = np.maximum(contents - room, 0.0)
    rayleigh = moist_air.buoyancy_group(film) * lighter * length * length * length
    nusselt = free_convection.nusselt_horizontal_plate_hot_side_up(rayleigh)
    free = np.maximum(nusselt, 1.0) * moist_air.conductivity(film) / length
    convection = film_factor * forced_convection.combine_free_and_forced(free, wind_film)
    flux = _vapour_mass_flux(convection, film, water.saturation_pressure(contents), room_pressure)
    return area * flux * water.latent_heat(contents)


def vent_exchange(
    headspace: Numeric,
    room: Numeric,
    diameter: Numeric,
    length: Numeric,
    relative_humidity: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Moist air out and room air in through one hole in the lid, by buoyancy (Epstein). [W]"""
    density_room = moist_air.density(room)
    density_headspace = moist_air.saturated_air_density(headspace, STANDARD_PRESSURE)
    lift = np.maximum(density_room - density_headspace, 0.0) / density_room
    flow = film_factor * vapour.exchange_flow_through_opening_epstein(diameter, length, lift)
    vapour_out = _vapour_density(headspace, water.saturation_pressure(headspace))
    vapour_in = _vapour_density(room, relative_humidity * water.saturation_pressure(room))
    latent = np.maximum(vapour_out - vapour_in, 0.0) * water.latent_heat(headspace)
    sensible = density_room * moist_air.heat_capacity(room) * (headspace - room)
    # Without lift the hole still conducts through the air that stands in it.
    still = moist_air.conductivity(room) * 0.25 * np.pi * diameter * diameter / length
    return flow * (sensible + latent) + still * (headspace - room)


def _vapour_density(temperature: Numeric, pressure: Numeric) -> Numeric:
    return pressure / (WATER_VAPOUR_GAS_CONSTANT * temperature)


WATER_VAPOUR_GAS_CONSTANT = 461.52
"""Specific gas constant of water vapour [J kg-1 K-1], R / 0.01801528 kg/mol."""

CONDUCTION = Law(conduction, is_linear=True)
GREY_EXCHANGE = Law(grey_exchange)
VERTICAL_FACE = Law(vertical_face)
HORIZONTAL_FACE = Law(horizontal_face)
GAP_VERTICAL = Law(gap_vertical)
LAYER_HORIZONTAL = Law(layer_horizontal)
HEADSPACE_LEVEL = Law(headspace_level)
HEADSPACE_WALL = Law(headspace_wall)
ANNULUS_VAPOUR = Law(annulus_vapour)
WETTED_FILM = Law(wetted_film)
OPEN_SURFACE_EVAPORATION = Law(open_surface_evaporation, evaporates=True)
VENT_EXCHANGE = Law(vent_exchange)
