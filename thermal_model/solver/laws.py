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
from thermal_model.physics import (
    enclosed_layers,
    evaporation,
    forced_convection,
    free_convection,
    radiation,
    rarefied_gas,
)
from thermal_model.physics import vapour_transport as vapour
from thermal_model.physics.constants import GAS_CONSTANT, GRAVITY, STANDARD_PRESSURE
from thermal_model.properties import moist_air, water


@dataclass(frozen=True)
class Law:
    """A heat flow law with its name and whether it carries vapour away."""

    flow: Callable[..., Numeric]
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


def sheet_conduction(
    temperature_1: Numeric, temperature_2: Numeric, conductance_300K: Numeric, relative_slope: Numeric
) -> Numeric:
    """Heat flow along a wall whose conductivity changes linearly with temperature (slope in K-1). [W]"""
    mean = 0.5 * (temperature_1 + temperature_2)
    return conductance_300K * (1.0 + relative_slope * (mean - 300.0)) * (temperature_1 - temperature_2)


def grey_exchange(temperature_1: Numeric, temperature_2: Numeric, exchange_area: Numeric) -> Numeric:
    """Radiation between grey surfaces; exchange_area is area times exchange factor [m2]. [W]"""
    return exchange_area * radiation.grey_heat_flux(temperature_1, temperature_2, 1.0)


def vertical_face(
    surface: Numeric,
    room: Numeric,
    area: Numeric,
    height: Numeric,
    diameter: Numeric,
    emissivity: Numeric,
    wind_film: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Outside of a wall: free convection (Churchill-Chu, Popiel) with wind, and radiation to the room. [W]"""
    film = 0.5 * (surface + room)
    difference = surface - room
    rayleigh = moist_air.buoyancy_group(film) * np.abs(difference) * height * height * height
    plate = free_convection.nusselt_vertical_plate_churchill_chu(rayleigh, AIR_PRANDTL)
    round_wall = free_convection.slender_cylinder_factor_popiel(rayleigh / AIR_PRANDTL, AIR_PRANDTL, height / diameter)
    free = plate * round_wall * moist_air.conductivity(film) / height
    return area * _outside_heat_flux(surface, room, free, emissivity, wind_film, film_factor)


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
    is_rising = facing * difference > 0.0
    # Each formula sees only the numbers that it is used for, so that what leaves its range is told of it alone.
    nusselt = np.where(
        is_rising,
        free_convection.nusselt_horizontal_plate_hot_side_up(np.where(is_rising, rayleigh, 0.0)),
        free_convection.nusselt_horizontal_plate_hot_side_down(np.where(is_rising, 0.0, rayleigh)),
    )
    # Below a few thousand Ra the plate formulas vanish with the difference; still air conducts all the same.
    free = np.maximum(nusselt, 1.0) * moist_air.conductivity(film) / length
    return area * _outside_heat_flux(surface, room, free, emissivity, wind_film, film_factor)


def _outside_heat_flux(
    surface: Numeric, room: Numeric, free: Numeric, emissivity: Numeric, wind_film: Numeric, film_factor: Numeric
) -> Numeric:
    """Heat from an outer face by free convection with wind, and by radiation. [W m-2]"""
    convection = film_factor * forced_convection.combine_free_and_forced(free, wind_film)
    return convection * (surface - room) + radiation.grey_heat_flux(surface, room, emissivity)


def gap_vertical(
    inner: Numeric,
    outer: Numeric,
    area: Numeric,
    exchange_factor: Numeric,
    free_molecule_300K: Numeric,
    conductivity_300K: Numeric,
    conductivity_exponent: Numeric,
    buoyancy_300K: Numeric,
    buoyancy_exponent: Numeric,
    width: Numeric,
    height: Numeric,
) -> Numeric:
    """Across the upright gap between two walls: radiation, and gas from free molecules to convecting gas. [W]"""
    mean = 0.5 * (inner + outer)
    difference = inner - outer
    rayleigh = _gas_buoyancy(mean, buoyancy_300K, buoyancy_exponent) * np.abs(difference) * width * width * width
    nusselt = enclosed_layers.nusselt_layer_vertical_elsherbiny(rayleigh, height / width)
    gas = _gas_conductance(mean, free_molecule_300K, conductivity_300K, conductivity_exponent, width, nusselt)
    return area * (gas * difference + radiation.grey_heat_flux(inner, outer, exchange_factor))


def layer_horizontal(
    first: Numeric,
    second: Numeric,
    area: Numeric,
    exchange_factor: Numeric,
    free_molecule_300K: Numeric,
    conductivity_300K: Numeric,
    conductivity_exponent: Numeric,
    buoyancy_300K: Numeric,
    buoyancy_exponent: Numeric,
    depth: Numeric,
    upward: Numeric,
    convects: Numeric,
    slices: Numeric,
) -> Numeric:
    """Across one of `slices` equal parts of a level layer of gas; upward is +1 if the first end is below. [W]

    Heated from below it convects (Hollands) unless a honeycomb stops it (convects 0); from above it conducts.
    """
    mean = 0.5 * (first + second)
    difference = slices * (first - second)
    warm_below = np.maximum(upward * difference, 0.0)
    buoyancy = convects * _gas_buoyancy(mean, buoyancy_300K, buoyancy_exponent)
    rayleigh = buoyancy * warm_below * depth * depth * depth
    nusselt = enclosed_layers.nusselt_layer_heated_below_hollands(rayleigh)
    gas = _gas_conductance(mean, free_molecule_300K, conductivity_300K, conductivity_exponent, depth, nusselt)
    radiative = slices * radiation.grey_heat_flux(first, second, exchange_factor)
    return area * (gas * difference + radiative)


def _gas_buoyancy(mean: Numeric, buoyancy_300K: Numeric, exponent: Numeric) -> Numeric:
    """Rayleigh number of the gas in a gap, at its pressure, per temperature difference and cubed width. [K-1 m-3]"""
    return buoyancy_300K * (mean / 300.0) ** exponent


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
    continuum = nusselt * rarefied_gas.gas_conductivity(conductivity_300K, exponent, mean) / width
    return rarefied_gas.gas_conductance_sherman(free_molecule, continuum)


def headspace_film(
    first: Numeric,
    second: Numeric,
    area: Numeric,
    size: Numeric,
    is_level: Numeric,
    water_activity: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Between the moist air in the middle of the headspace and the liquid below, a lid above, or a dry wall. [W]

    The first end is the lower one: liquid then headspace, or headspace then lid; for a wall the headspace. Warm
    below, saturated air convects: half of a cavity of depth `size` (Hollands, over twice the half's difference),
    or down an upright wall of height `size`; and vapour follows by the Lewis analogy with Stefan flow. Cold
    below, the air lies in layers and only conducts, and nothing evaporates. The water activity is the vapour
    pressure of the contents over that of water.
    """
    conductance = film_factor * moist_air.saturated_air_conductivity(0.5 * (first + second)) / size
    rising = _rising_moist_air(first, second, size, is_level, water_activity)
    lying = np.where(is_level > 0.0, 2.0, 1.0) * (first - second)
    return area * conductance * np.where(first > second, rising, lying)


def _rising_moist_air(
    warm: Numeric, cold: Numeric, size: Numeric, is_level: Numeric, water_activity: Numeric
) -> Numeric:
    """Return what saturated air carries up, with its vapour, over what it conducts for a kelvin. [K]"""
    mean = 0.5 * (warm + cold)
    warm_pressure = water_activity * water.saturation_pressure(warm)
    cold_pressure = water_activity * water.saturation_pressure(cold)
    warm_density, cold_density = _saturated_density(warm, warm_pressure), _saturated_density(cold, cold_pressure)
    relative = 2.0 * (cold_density - warm_density) / (warm_density + cold_density)
    group = moist_air.saturated_air_buoyancy_group(mean)
    rayleigh = group * np.maximum(relative, 0.0) * size * size * size
    nusselt = np.where(
        is_level > 0.0,
        2.0 * enclosed_layers.nusselt_layer_heated_below_hollands(2.0 * rayleigh),
        free_convection.nusselt_vertical_plate_laminar_churchill_chu(rayleigh, AIR_PRANDTL),
    )
    potential = _vapour_potential(warm_pressure) - _vapour_potential(cold_pressure)
    vapour_heat = moist_air.saturated_air_vapour_group(mean) * np.maximum(potential, 0.0) * _setting_in(warm - cold)
    return nusselt * (warm - cold + vapour_heat)


ONSET = 0.2
"""Temperature difference over which vapour sets in [K]: a law with a corner there, where it becomes a hundred times
steeper, traps a solver; no reading tells a fifth of a kelvin, and hold times move by 0.03 %."""


SHORT = 1.8e-4
"""Stretch of annulus below which vapour sets in over a larger difference [m]. A seal flush with a plug's foot leaves
cells of next to no length; each had a small part of ONSET across it, and the solver took two to eight times as many
steps. No design of the catalogue has one so short; hold times of one that has move by 0.1 %."""


def _setting_in(difference: Numeric) -> Numeric:
    """Share of the vapour that moves, by how much warmer it is below: 0 up to zero, 1 from ONSET, smooth between."""
    x = np.minimum(np.maximum(difference * (1.0 / ONSET), 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


AIR_PRANDTL = 0.71
"""Of air, dry or moist, between 0 and 100 C within 3 %; Nusselt numbers hardly see that. [-]"""


def _saturated_density(temperature: Numeric, vapour_pressure: Numeric) -> Numeric:
    """Density of saturated air from its vapour pressure, both gases ideal. [kg m-3]"""
    vapour_part = np.minimum(vapour_pressure, STANDARD_PRESSURE)
    light = vapour_part * (1.0 / DRY_AIR_GAS_CONSTANT - 1.0 / moist_air.WATER_VAPOUR_GAS_CONSTANT)
    return (STANDARD_PRESSURE / DRY_AIR_GAS_CONSTANT - light) / temperature


DRY_AIR_GAS_CONSTANT = GAS_CONSTANT / vapour.AIR_MOLAR_MASS
"""[J kg-1 K-1]"""


def _vapour_potential(vapour_pressure: Numeric) -> Numeric:
    return vapour.stefan_flow_potential(vapour.mass_fraction_from_pressure(vapour_pressure, STANDARD_PRESSURE))


def annulus_vapour(
    lower: Numeric,
    upper: Numeric,
    area: Numeric,
    length: Numeric,
    wall_resistance: Numeric,
    exchange_factor: Numeric,
    is_across: Numeric,
    water_activity: Numeric,
) -> Numeric:
    """Saturated air in the annulus between plug and neck: air conducts, and vapour carries heat to the cold side. [W]

    Along the annulus vapour moves only where it is warm below, `exchange_factor` times as fast as by diffusion;
    across it (is_across 1), to a wet wall, either way. `wall_resistance` [m2 K W-1] stands behind the air.
    """
    mean = 0.5 * (lower + upper)
    part = np.minimum(length * (1.0 / SHORT), 1.0)
    setting_in = _setting_in((lower - upper) * (part * part))
    moving = water_activity * exchange_factor * np.where(is_across > 0.0, 1.0, setting_in)
    by_vapour = vapour.vapour_conductivity_saturated(
        mean,
        STANDARD_PRESSURE,
        water.saturation_pressure(mean),
        water.latent_heat(mean),
        moist_air.vapour_diffusivity(mean),
    )
    conductivity = moist_air.conductivity(mean) + np.where(moving > 0.0, moving * by_vapour, 0.0)
    return area * conductivity / (length + wall_resistance * conductivity) * (lower - upper)


def wetted_film(
    contents: Numeric,
    wall: Numeric,
    area: Numeric,
    length: Numeric,
    facing: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """From water to a wetted wall (facing 0 upright, +1 a floor, -1 a ceiling), by its density differences. [W]

    Densities, not an expansion coefficient: near 4 C that changes sign. Where the densest water lies between the
    two temperatures, it is denser than both ends, and each difference drives its own part of the flow.
    """
    mean = 0.5 * (contents + wall)
    light_contents, light_wall = water.lightness(contents), water.lightness(wall)
    has_peak_between = (contents - water.DENSEST) * (wall - water.DENSEST) < 0.0
    least = np.where(has_peak_between, 0.0, np.minimum(light_contents, light_wall))
    bulk_lightness = _rounded(np.maximum(light_contents - least, 0.0))
    wall_lightness = _rounded(np.maximum(light_wall - least, 0.0))
    scale = water.buoyancy_group(mean) / (water.GREATEST_DENSITY - least) * length * length * length
    # Light water at a floor rises; at a ceiling what sinks is the dense water that lies over the contents.
    unstable = scale * np.where(facing > 0.0, wall_lightness, bulk_lightness)
    stable = scale * np.where(facing > 0.0, bulk_lightness, wall_lightness)
    level = free_convection.nusselt_horizontal_plate_hot_side_up(
        unstable
    ) + free_convection.nusselt_horizontal_plate_hot_side_down(stable)
    upright = free_convection.nusselt_vertical_plate_churchill_chu(unstable + stable, water.prandtl(mean))
    nusselt = np.maximum(np.where(facing == 0.0, upright, level), 1.0)
    return film_factor * area * nusselt * water.conductivity(mean) / length * (contents - wall)


TURNING = float(water.lightness(water.DENSEST + 0.1))
"""Lightness below which its part of a film is less than its law says [kg m-3]. Where the water at a wall is densest the
law has a cusp, at which the solver's steps stayed short. No reading tells a tenth of a kelvin."""


def _rounded(lightness: Numeric) -> Numeric:
    """Return a lightness that sets in with its third power, so that its fifth root, a film's, has a slope there."""
    square = lightness * lightness
    return lightness * square / (square + TURNING * TURNING)


def open_surface_evaporation(
    surface: Numeric,
    room: Numeric,
    area: Numeric,
    diameter: Numeric,
    depth: Numeric,
    relative_humidity: Numeric,
    water_activity: Numeric,
    air_speed: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Heat taken from open contents by evaporation (given to them by condensing room air, if colder). [W]

    The surface lies `depth` below the rim of a mouth of some `diameter`, in air that moves at `air_speed`.
    """
    pressures, velocity = _open_transfer(surface, room, diameter, depth, relative_humidity, water_activity, air_speed)
    densities = [p / (moist_air.WATER_VAPOUR_GAS_CONSTANT * t) for p, t in zip(pressures, (surface, room), strict=True)]
    # Without water in the contents there is nothing to evaporate, and what condenses is not followed.
    difference = np.where(water_activity > 0.0, densities[0] - densities[1], 0.0)
    return film_factor * area * velocity * difference * water.latent_heat(surface)


def open_surface_convection(
    surface: Numeric,
    room: Numeric,
    area: Numeric,
    diameter: Numeric,
    depth: Numeric,
    relative_humidity: Numeric,
    water_activity: Numeric,
    air_speed: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Heat from open contents to the air alone, in Lewis' ratio to `open_surface_evaporation`. [W]"""
    film = 0.5 * (surface + room)
    _, velocity = _open_transfer(surface, room, diameter, depth, relative_humidity, water_activity, air_speed)
    lewis = np.cbrt(moist_air.lewis_number(film))
    capacity = moist_air.density(film) * moist_air.heat_capacity(film)
    return film_factor * area * velocity * capacity * lewis * lewis * (surface - room)


def _open_transfer(
    surface: Numeric,
    room: Numeric,
    diameter: Numeric,
    depth: Numeric,
    relative_humidity: Numeric,
    water_activity: Numeric,
    air_speed: Numeric,
) -> tuple[tuple[Numeric, Numeric], Numeric]:
    """Return the vapour pressures at an open surface and in the room, and how fast vapour leaves. [Pa, m s-1]

    It leaves over the surface (Bower and Saylor), then out of the rim.

    Properties are those of dry air at the film temperature, with the mean density of surface and room. Where the air
    over the contents is the heavier, as over iced water, it lies on them and fills the rim.
    """
    surface_pressure = water_activity * water.saturation_pressure(surface)
    room_pressure = relative_humidity * water.saturation_pressure(room)
    film = 0.5 * (surface + room)
    surface_density = _saturated_density(surface, surface_pressure)
    room_density = _saturated_density(room, room_pressure)
    mean_density = 0.5 * (surface_density + room_density)
    lift = (room_density - surface_density) / mean_density
    viscosity = moist_air.dynamic_viscosity(film) / mean_density
    diffusivity = moist_air.vapour_diffusivity(film)
    schmidt = viscosity / diffusivity
    group = GRAVITY * diameter * diameter * diameter / (viscosity * diffusivity)
    rising = evaporation.sherwood_open_surface_bower_saylor(group * np.maximum(lift, 0.0), schmidt)
    # The plate's length is area over perimeter, a quarter of the diameter.
    resting = 4.0 * free_convection.nusselt_horizontal_plate_hot_side_down(group * np.maximum(-lift, 0.0) / 64.0)
    swept = forced_convection.nusselt_plate_laminar(air_speed * diameter / viscosity, schmidt)
    free = np.maximum(rising + resting, SHERWOOD_AT_REST)
    over = forced_convection.combine_free_and_forced(free, swept) * diffusivity / diameter
    out = evaporation.exchange_velocity_in_open_tube_epstein(depth, diameter, _smoothed_lift(lift))
    out = out + diffusivity / depth + RIM_VENTILATION * air_speed
    return (surface_pressure, room_pressure), over * out / (over + out)


def _smoothed_lift(lift: Numeric) -> Numeric:
    """Relative lift of the air below, zero where it is the heavier; its square root begins with a finite slope."""
    rising = np.maximum(lift, 0.0)
    return rising * rising / (rising + LEAST_LIFT)


LEAST_LIFT = 3e-4
"""Relative lift over which an exchange by buoyancy sets in, that of a tenth of a kelvin: its root has no slope at zero,
and where vapour crosses at no lift, a solver is trapped there. [-]"""

SHERWOOD_AT_REST = 8.0 / np.pi
"""Of a disc in the floor of still air, on its diameter: diffusion into a half space, 4 D r (Incropera et al.,
table 4.1, shape factor of a disc). [-]"""

RIM_VENTILATION = 0.03
"""Air that wind over a rim changes with the air inside, as a share of wind times section: some hundredths are found
for cavities below a stream; judgement. [-]"""


def vent_exchange(
    headspace: Numeric,
    room: Numeric,
    diameter: Numeric,
    length: Numeric,
    relative_humidity: Numeric,
    water_activity: Numeric,
    film_factor: Numeric,
) -> Numeric:
    """Moist air out and room air in through one hole in the lid, by buoyancy (Epstein). [W]"""
    density_room = moist_air.density(room)
    density_headspace = _saturated_density(headspace, water_activity * water.saturation_pressure(headspace))
    lift = _smoothed_lift((density_room - density_headspace) / density_room)
    flow = film_factor * vapour.exchange_flow_through_opening_epstein(diameter, length, lift)
    vapour_out = water_activity * moist_air.saturated_vapour_density(headspace)
    vapour_in = relative_humidity * moist_air.saturated_vapour_density(room)
    latent = np.maximum(vapour_out - vapour_in, 0.0) * water.latent_heat(headspace)
    sensible = density_room * moist_air.heat_capacity(room) * (headspace - room)
    # Without lift the hole still conducts through the air that stands in it.
    still = moist_air.conductivity(room) * 0.25 * np.pi * diameter * diameter / length
    return flow * (sensible + latent) + still * (headspace - room)


def unsealed_gap(
    inside: Numeric,
    room: Numeric,
    perimeter: Numeric,
    gap: Numeric,
    length: Numeric,
    relative_humidity: Numeric,
    water_activity: Numeric,
) -> Numeric:
    """Moist air through the gap between a lid without a seal and the lip: it diffuses, and it flows by buoyancy. [W]

    Colder contents take vapour in from the room. `length` is the way through the gap, both ends counted.
    """
    mean, area = 0.5 * (inside + room), perimeter * gap
    pressure_inside = water_activity * water.saturation_pressure(inside)
    pressure_room = relative_humidity * water.saturation_pressure(room)
    density_inside = _saturated_density(inside, pressure_inside)
    density_room = _saturated_density(room, pressure_room)
    diffusing = vapour.vapour_flow_through_gap_stefan(
        area,
        length,
        0.5 * (density_inside + density_room),
        moist_air.vapour_diffusivity(mean),
        vapour.mass_fraction_from_pressure(pressure_inside, STANDARD_PRESSURE),
        vapour.mass_fraction_from_pressure(pressure_room, STANDARD_PRESSURE),
    )
    exchange = vapour.exchange_flow_through_level_slit(
        perimeter, gap, length, density_room - density_inside, moist_air.dynamic_viscosity(mean)
    )
    flowing = exchange * (
        water_activity * moist_air.saturated_vapour_density(inside)
        - relative_humidity * moist_air.saturated_vapour_density(room)
    )
    # Without water in the contents nothing evaporates, and what condenses is not followed.
    latent = np.where(water_activity > 0.0, diffusing + flowing, 0.0) * water.latent_heat(mean)
    sensible = exchange * density_room * moist_air.heat_capacity(room)
    still = moist_air.conductivity(mean) * area / length
    return latent + (sensible + still) * (inside - room)


CONDUCTION = Law(conduction)
SHEET_CONDUCTION = Law(sheet_conduction)
GREY_EXCHANGE = Law(grey_exchange)
VERTICAL_FACE = Law(vertical_face)
HORIZONTAL_FACE = Law(horizontal_face)
GAP_VERTICAL = Law(gap_vertical)
LAYER_HORIZONTAL = Law(layer_horizontal)
HEADSPACE_FILM = Law(headspace_film)
ANNULUS_VAPOUR = Law(annulus_vapour)
WETTED_FILM = Law(wetted_film)
OPEN_SURFACE_EVAPORATION = Law(open_surface_evaporation, evaporates=True)
OPEN_SURFACE_CONVECTION = Law(open_surface_convection)
VENT_EXCHANGE = Law(vent_exchange)
UNSEALED_GAP = Law(unsealed_gap)

LAWS: tuple[Law, ...] = tuple(law for law in vars().values() if isinstance(law, Law))
"""Every law there is; its place is its number."""
