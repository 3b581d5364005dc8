"""The right-hand side: rates of change of a network, and their derivatives link by link.

The reference solver, the engine and the steady solution all integrate what stands here.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geometries.numeric import Array, Numeric
from thermal_model.properties import ice, water
from thermal_model.solver.derived import derived
from thermal_model.solver.network import CONTENTS, PATHS, Contents, LinkTable, Network
from thermal_model.solver.scatter import Indices, Scatter, sum_of_rows


def contents_temperature(contents: Contents, enthalpy: Numeric) -> Numeric:
    """Return the temperature of contents of a specific enthalpy [J kg-1]. [K]"""
    if contents.is_water and np.all(enthalpy > 0.0):
        return water.temperature_from_enthalpy(enthalpy)  # the same to the bit, without looking for ice
    if contents.is_water:
        return ice.temperature_from_mixture_enthalpy(enthalpy)
    return water.FREEZING_POINT + enthalpy / contents.heat_capacity


def contents_enthalpy(contents: Contents, temperature: Numeric) -> Numeric:
    """Return the specific enthalpy of liquid contents, zero at 0 C. [J kg-1]"""
    if contents.is_water:
        return water.specific_enthalpy(temperature)
    return contents.heat_capacity * (temperature - water.FREEZING_POINT)


def contents_temperature_slope(contents: Contents, enthalpy: Numeric, temperature: Numeric) -> Numeric:
    """Return dT/dh of the contents: zero while ice melts. [K kg J-1]"""
    if not contents.is_water:
        return 1.0 / (contents.heat_capacity + 0.0 * enthalpy)
    melting = (enthalpy <= 0.0) & (enthalpy >= -ice.FUSION_ENTHALPY)
    capacity = np.where(enthalpy > 0.0, water.heat_capacity(temperature), ice.heat_capacity(temperature))
    return np.where(melting, 0.0, 1.0 / capacity)


@dataclass(frozen=True)
class LinearRates:
    """The links at a state.

    Attributes
    ----------
    temperatures : (N + 1, n) array
        Of the nodes and, last, the room. [K]
    flows : (l, n) array
        [W]
    by_start, by_end : (l, n) array
        Derivatives of the flows by the temperatures at their ends. [W K-1]
    """

    temperatures: Array
    flows: Array
    by_start: Array
    by_end: Array


@dataclass(frozen=True)
class RightHandSide:
    """Rates of change of a network during one phase.

    The state z has shape (N + 1, n): specific enthalpy of the contents, temperatures of the other nodes and, in the
    last row, the heat given to the room since the start. [J kg-1, K, J]
    """

    network: Network
    links: LinkTable

    @cached_property
    def _scatter(self) -> Scatter:
        return Scatter.onto(np.concatenate([self.links.start, self.links.end]))

    @cached_property
    def _evaporating(self) -> Indices:
        flags = [np.full(len(g.start), g.law.evaporates) for g in self.links.groups]
        return np.flatnonzero(np.concatenate(flags))

    def temperatures(self, state: Array, room: Array) -> Array:
        """Return (N + 1, n) temperatures of the nodes and, last, the room. [K]"""
        temperatures = state.copy()
        temperatures[CONTENTS] = contents_temperature(self.network.contents, state[CONTENTS])
        temperatures[-1] = room
        return temperatures

    def flows(self, temperatures: Array) -> Array:
        """Return (l, n) heat flows of all links. [W]"""
        return np.concatenate(
            [
                group.law.flow(temperatures[group.start], temperatures[group.end], *group.parameters)
                for group in self.links.groups
            ]
        )

    def heating(self, flows: Array) -> Array:
        """Return (N + 1, n) heat that links and sources bring to nodes; last, to the room. [W]"""
        size = self.network.node_count + 1
        heating = self._scatter.sum(np.concatenate([-flows, flows]), size)
        heating[:-1] += self.network.sources
        heating[-1] -= sum_of_rows(self.network.sources)
        return heating

    def capacities(self, mass: Array) -> Array:
        """Return (N + 1, n) what divides the heating: mass of the contents, heat capacities, 1 for the room."""
        capacities = np.ones((self.network.node_count + 1, self.network.lane_count))
        capacities[:-1] = self.network.capacities
        capacities[CONTENTS] = mass
        return capacities

    def linearised(self, state: Array, room: Array) -> "LinearRates":
        """Return flows and their derivatives at a state, each law called once for all three."""
        temperatures = self.temperatures(state, room)
        parts = []
        for group in self.links.groups:
            start, end = temperatures[group.start], temperatures[group.end]
            found = derived(group.law.flow, 2 + len(group.parameters))(start, end, *group.parameters)
            parts.append([np.broadcast_to(each, start.shape) for each in found])
        flows, by_start, by_end = (np.concatenate(part) for part in zip(*parts, strict=True))
        return LinearRates(temperatures, flows, by_start, by_end)

    def state_slopes(self, state: Array, temperatures: Array) -> Array:
        """Return (N + 1, n) derivatives of temperature by state: 1 but for the contents; 0 for the room."""
        slopes = np.ones_like(state)
        slopes[CONTENTS] = contents_temperature_slope(self.network.contents, state[CONTENTS], temperatures[CONTENTS])
        slopes[-1] = 0.0
        return slopes

    def evaporation_rate(self, flows: Array, temperatures: Array) -> Array:
        """Return the mass that open contents lose, (n,). [kg s-1]"""
        latent = water.latent_heat(temperatures[CONTENTS])
        return sum_of_rows(flows[self._evaporating]) / latent

    def path_flows(self, flows: Array) -> Array:
        """Return (len(PATHS), n) heat flow by path. [W]"""
        counted = np.flatnonzero(self.links.path >= 0)
        return Scatter.onto(self.links.path[counted]).sum(flows[counted], len(PATHS))
