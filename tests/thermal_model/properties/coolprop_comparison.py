"""Each fitted property beside the same property asked of CoolProp directly (independent library)."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from CoolProp.CoolProp import HAPropsSI, PropsSI

from geometries.numeric import Array
from thermal_model.physics.vapour_transport import vapour_diffusivity_marrero_mason
from thermal_model.properties import moist_air, water

PRESSURE = 101325.0
POINTS = 401
Property = Callable[[Array], Array]


@dataclass(frozen=True)
class Comparison:
    """A fit, what it should be, where, and the relative deviation that it must stay within."""

    name: str
    fit: Property
    reference: Property
    span: tuple[float, float]
    limit: float

    def worst(self) -> tuple[float, float]:
        """Return the worst relative deviation and the temperature at which it occurs. [-, K]"""
        temperature = np.linspace(*self.span, POINTS)
        deviation = np.abs(self.fit(temperature) / self.reference(temperature) - 1.0)
        worst = int(np.argmax(deviation))
        return float(deviation[worst]), float(temperature[worst])


def liquid(quantity: str, temperature: Array) -> Array:
    return np.asarray(PropsSI(quantity, "T|liquid", temperature, "P", PRESSURE, "Water"))


def saturation(quantity: str, quality: float, temperature: Array) -> Array:
    return np.asarray(PropsSI(quantity, "T", temperature, "Q", quality, "Water"))


def lightness(temperature: Array) -> Array:
    return liquid("D", np.array([water.DENSEST])) - liquid("D", temperature)


def latent_heat(temperature: Array) -> Array:
    return saturation("H", 1.0, temperature) - saturation("H", 0.0, temperature)


def mean_heat_capacity(temperature: Array) -> Array:
    """Return CoolProp's enthalpy above 273.15 K over the temperature difference: sharper than their ratio."""
    zero = 273.15
    return (liquid("H", temperature) - liquid("H", np.array([zero]))) / (temperature - zero)


def fitted_mean_heat_capacity(temperature: Array) -> Array:
    return water.specific_enthalpy(temperature) / (temperature - 273.15)


def dry_air(quantity: str, temperature: Array) -> Array:
    return np.asarray(PropsSI(quantity, "T", temperature, "P", PRESSURE, "Air"))


def dry_air_diffusivity(temperature: Array) -> Array:
    capacity = dry_air("D", temperature) * dry_air("C", temperature)
    return dry_air("L", temperature) / capacity


def dry_air_group(temperature: Array) -> Array:
    viscosity = dry_air("V", temperature) / dry_air("D", temperature)
    return 9.80665 / (temperature * viscosity * dry_air_diffusivity(temperature))


def humid_air(quantity: str, temperature: Array) -> Array:
    """Return a property of humid air at the mole fraction p_sat / p, without the enhancement by air."""
    fraction = saturation("P", 0.0, temperature) / PRESSURE
    return np.asarray(HAPropsSI(quantity, "T", temperature, "P", PRESSURE, "psi_w", fraction))


def humid_air_diffusivity(temperature: Array) -> Array:
    return humid_air("K", temperature) * humid_air("Vha", temperature) / humid_air("cp_ha", temperature)


def humid_air_group(temperature: Array) -> Array:
    viscosity = humid_air("M", temperature) * humid_air("Vha", temperature)
    return 9.80665 / (viscosity * humid_air_diffusivity(temperature))


def saturated_density(temperature: Array) -> Array:
    """Return the density of saturated air as a real gas, with the enhancement that the air causes."""
    inputs = ("T", temperature, "P", PRESSURE, "R", 1.0)
    return 1.0 / np.asarray(HAPropsSI("Vha", *inputs))


def humid_air_vapour_group(temperature: Array) -> Array:
    """Return latent heat over c_p Le^(2/3), the diffusion of vapour after Marrero and Mason."""
    lewis = humid_air_diffusivity(temperature) / vapour_diffusivity_marrero_mason(temperature, PRESSURE)
    return np.asarray(latent_heat(temperature) / (humid_air("cp_ha", temperature) * lewis ** (2.0 / 3.0)))


WATER, AIR, HUMID = (268.15, 378.15), (240.0, 400.0), (273.17, 371.2)
"""What the modules promise; CoolProp's humid air ends at a mole fraction of vapour of 0.94."""

COMPARISONS = (
    Comparison("water density", water.density, partial(liquid, "D"), WATER, 1e-6),
    Comparison("water lightness", water.lightness, lightness, (285.15, 378.15), 2e-4),
    Comparison("water heat capacity", water.heat_capacity, partial(liquid, "C"), WATER, 1e-6),
    Comparison("water enthalpy", fitted_mean_heat_capacity, mean_heat_capacity, (273.2, 378.15), 1e-6),
    Comparison("water conductivity", water.conductivity, partial(liquid, "L"), WATER, 1e-5),
    Comparison("water viscosity", water.dynamic_viscosity, partial(liquid, "V"), WATER, 1e-5),
    Comparison("water Prandtl number", water.prandtl, partial(liquid, "PRANDTL"), WATER, 1e-5),
    Comparison("saturation pressure", water.saturation_pressure, partial(saturation, "P", 0.0), WATER, 1e-6),
    Comparison("latent heat", water.latent_heat, latent_heat, WATER, 2e-6),
    Comparison("air density", moist_air.density, partial(dry_air, "D"), AIR, 1e-6),
    Comparison("air heat capacity", moist_air.heat_capacity, partial(dry_air, "C"), AIR, 2e-6),
    Comparison("air conductivity", moist_air.conductivity, partial(dry_air, "L"), AIR, 1e-5),
    Comparison("air viscosity", moist_air.dynamic_viscosity, partial(dry_air, "V"), AIR, 1e-5),
    Comparison("air thermal diffusivity", moist_air.thermal_diffusivity, dry_air_diffusivity, AIR, 1e-5),
    Comparison("air Prandtl number", moist_air.prandtl, partial(dry_air, "PRANDTL"), AIR, 1e-5),
    Comparison("air buoyancy group", moist_air.buoyancy_group, dry_air_group, AIR, 1e-5),
    Comparison(
        "saturated air conductivity",
        moist_air.saturated_air_conductivity,
        partial(humid_air, "K"),
        HUMID,
        1e-3,
    ),
    Comparison(
        "saturated air vapour group",
        moist_air.saturated_air_vapour_group,
        humid_air_vapour_group,
        HUMID,
        1e-3,
    ),
    Comparison(
        "saturated air buoyancy group",
        moist_air.saturated_air_buoyancy_group,
        humid_air_group,
        HUMID,
        1e-3,
    ),
    Comparison(
        "saturated air density (real gas)",
        moist_air.saturated_air_density,
        saturated_density,
        HUMID,
        0.02,
    ),
)
