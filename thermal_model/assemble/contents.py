"""What is inside at the start: volume, mass and enthalpy of the contents, ice included; and what does not fit."""

import numpy as np

from geometries.checks import DimensionProblem, fill_problems
from geometries.container import Container, capacity_below
from geometries.numeric import Numeric
from thermal_model.properties import ice, water
from thermal_model.scenario import Scenario, contents_kind
from thermal_model.solver.network import Contents
from thermal_model.solver.rates import contents_enthalpy


def contents_of(scenario: Scenario) -> Contents:
    """Return what the engine wants to know of the contents."""
    kind, pins = contents_kind(scenario.contents), scenario.pins
    if pins.contents_heat_capacity is not None:
        return Contents(False, pins.contents_heat_capacity)
    return Contents(kind.is_water, kind.heat_capacity)


def contents_density(scenario: Scenario) -> Numeric:
    """Return the density of the contents as they are measured out, at the start. [kg m-3]"""
    kind, pins = contents_kind(scenario.contents), scenario.pins
    if pins.contents_density is not None:
        return pins.contents_density
    return water.density(scenario.start) if kind.is_water else kind.density


def filled_volume(container: Container, scenario: Scenario) -> Numeric:
    """Return the poured volume; if the scenario does not say, full but for some air under the lid. [m3]"""
    if scenario.fill is not None:
        return scenario.fill
    return capacity_below(container, scenario.air_under_lid) - melted_volume(scenario)


def melted_volume(scenario: Scenario) -> Numeric:
    """Return the volume that the ice melts to. [m3]"""
    return scenario.ice / water.density(water.FREEZING_POINT + 0.01)


def start_mass(container: Container, scenario: Scenario) -> Numeric:
    """Return the mass of the contents, ice included. [kg]"""
    return filled_volume(container, scenario) * contents_density(scenario) + scenario.ice


def start_enthalpy(container: Container, scenario: Scenario) -> Numeric:
    """Return the specific enthalpy of the contents, ice at 0 C mixed in. [J kg-1]"""
    liquid = contents_enthalpy(contents_of(scenario), scenario.start)
    share = scenario.ice / start_mass(container, scenario)
    return (1.0 - share) * liquid - share * ice.FUSION_ENTHALPY


def start_volume(container: Container, scenario: Scenario) -> Numeric:
    """Return the volume of the contents, of ice once it has melted. [m3]"""
    return start_mass(container, scenario) / contents_density(scenario)


def filling_problems(container: Container, scenario: Scenario) -> list[DimensionProblem]:
    """Return what of one run, or of lanes, does not fit under the lid; ice counts as the water it melts to."""
    liquid = filled_volume(container, scenario)
    is_ice_alone = np.asarray(np.less_equal(liquid, 0.0)) & (scenario.fill is None)
    alone = DimensionProblem("ice", "fills the container alone; take less", is_ice_alone)
    whole = np.where(np.greater(liquid, 0.0) | is_ice_alone, liquid + melted_volume(scenario), 0.0)
    return [*([alone] if is_ice_alone.any() else []), *fill_problems(container, whole)]
