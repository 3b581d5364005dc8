"""A thermal network as plain arrays: nodes that store heat, links that carry it, one boundary, the room.

The network knows no container. It can be printed, drawn, pinned, perturbed and batched: every number carries a
last axis of lanes, one lane a design. State of node 0, the contents, is a specific enthalpy, so that ice melts
at its temperature and evaporation takes its share; every other node's state is its temperature.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array, Numeric
from thermal_model.solver.laws import Law
from thermal_model.solver.scatter import Indices

CONTENTS = 0
"""The node of the contents is always the first."""

PATHS = ("lid", "steel_bridge", "gap_side", "base", "vent")
"""Ways heat takes out of the contents; each link belongs to one of them or to none."""


@dataclass(frozen=True)
class LinkGroup:
    """All links of one law: `flow = law.flow(T[start], T[end], *parameters)`, positive from start to end.

    Attributes
    ----------
    law : Law
    start, end : (k,) int array
        Node numbers; the number of nodes stands for the room.
    parameters : (p, k, n) array
        In the order of `law.parameters`. [SI]
    path : (k,) int array
        Number in PATHS of the path the flow is counted to, -1 for none.
    """

    law: Law
    start: Indices
    end: Indices
    parameters: Array
    path: Indices


@dataclass(frozen=True)
class LinkTable:
    """The links in force during a phase, grouped by law."""

    groups: tuple[LinkGroup, ...]

    @cached_property
    def start(self) -> Indices:
        """(l,) start node of every link, in the order of the groups."""
        return np.concatenate([group.start for group in self.groups])

    @cached_property
    def end(self) -> Indices:
        """(l,) end node of every link."""
        return np.concatenate([group.end for group in self.groups])

    @cached_property
    def path(self) -> Indices:
        """(l,) path number of every link."""
        return np.concatenate([group.path for group in self.groups])

    def take_lanes(self, lanes: Indices) -> "LinkTable":
        """Return the table of some lanes only."""
        return LinkTable(tuple(replace(group, parameters=group.parameters[:, :, lanes]) for group in self.groups))


@dataclass(frozen=True)
class Contents:
    """What is inside: water (with or without ice), or a liquid of constant heat capacity.

    Attributes
    ----------
    is_water : bool
        Water and drinks that are nearly water: enthalpy and melting as of water.
    heat_capacity : float or (n,) array
        Used where `is_water` is false. [J kg-1 K-1]
    """

    is_water: bool
    heat_capacity: Numeric = 4186.0

    def of_each(self, lanes: int) -> "Contents":
        """Return the same with a heat capacity for each of so many lanes."""
        return replace(self, heat_capacity=np.full(lanes, self.heat_capacity))

    def take_lanes(self, lanes: Indices) -> "Contents":
        """Return some lanes only of what `of_each` returned."""
        return replace(self, heat_capacity=np.asarray(self.heat_capacity)[lanes])


@dataclass(frozen=True)
class Phase:
    """A stretch of time with one table of links.

    Attributes
    ----------
    start, end : (n,) array
        Times after the contents went in; end may be infinite. [s]
    links : LinkTable
    mass : (n,) array
        Contents during the phase; it drops where something is poured out. [kg]
    contents_enthalpy : (n,) array or None
        Specific enthalpy that the contents get at the start of the phase (a refill); None keeps it. [J kg-1]
    """

    start: Array
    end: Array
    links: LinkTable
    mass: Array
    contents_enthalpy: Array | None = None


@dataclass(frozen=True)
class RoomTemperature:
    """Room temperature: a level for each lane, and a common profile on top.

    Attributes
    ----------
    level : (n,) array
        The constant temperature, or what is added to the profile. [K]
    times, offsets : (m,) array
        Piecewise linear profile, held constant outside. [s, K]
    """

    level: Array
    times: Array = field(default_factory=lambda: np.zeros(1))
    offsets: Array = field(default_factory=lambda: np.zeros(1))

    def at(self, time: Array) -> Array:
        """Return the temperature at a time for each lane. [K]"""
        if len(self.times) == 1:
            return self.level + self.offsets[0]
        return self.level + np.interp(time, self.times, self.offsets)

    def take_lanes(self, lanes: Indices) -> "RoomTemperature":
        """Return some lanes only."""
        return replace(self, level=self.level[lanes])

    def slope(self, time: Array) -> Array:
        """Return the rate of change just after a time. [K s-1]"""
        if len(self.times) == 1:
            return np.zeros_like(self.level)
        rates = np.concatenate([[0.0], np.diff(self.offsets) / np.diff(self.times), [0.0]])
        return rates[np.searchsorted(self.times, time, side="right")]


@dataclass(frozen=True)
class Network:
    """Everything the solvers need.

    Attributes
    ----------
    names : tuple of str
        One a node.
    capacities : (N, n) array
        Heat capacity of each node; the row of the contents is unused. [J K-1]
    initial : (N, n) array
        Temperatures at the start; the row of the contents holds its specific enthalpy. [K, J kg-1]
    contents : Contents
    room : RoomTemperature
    phases : tuple of Phase
        One after the other, the last may be endless.
    sources : (N, n) array
        Heat put into nodes from outside, such as sunlight. [W]
    starts_at_rest : bool
        All but the contents start as after long use, instead of at the `initial` temperatures.
    known_until : float or (n,) array
        Up to when the phases say what happens; a lane that goes on longer can't be computed. [s]
    """

    names: tuple[str, ...]
    capacities: Array
    initial: Array
    contents: Contents
    room: RoomTemperature
    phases: tuple[Phase, ...]
    sources: Array
    starts_at_rest: bool = False
    known_until: Numeric = np.inf

    @property
    def node_count(self) -> int:
        """Number of nodes, the room not counted."""
        return len(self.names)

    @property
    def lane_count(self) -> int:
        """Number of designs in the batch."""
        return self.capacities.shape[1]

    def take_lanes(self, lanes: Indices) -> "Network":
        """Return the network of some lanes only."""
        tables: dict[int, LinkTable] = {}
        for phase in self.phases:
            tables.setdefault(id(phase.links), phase.links.take_lanes(lanes))
        return replace(
            self,
            capacities=self.capacities[:, lanes],
            initial=self.initial[:, lanes],
            sources=self.sources[:, lanes],
            contents=self.contents.of_each(self.lane_count).take_lanes(lanes),
            room=self.room.take_lanes(lanes),
            known_until=np.broadcast_to(self.known_until, (self.lane_count,))[lanes],
            phases=tuple(
                replace(
                    phase,
                    start=phase.start[lanes],
                    end=phase.end[lanes],
                    links=tables[id(phase.links)],
                    mass=phase.mass[lanes],
                    contents_enthalpy=None if phase.contents_enthalpy is None else phase.contents_enthalpy[lanes],
                )
                for phase in self.phases
            ),
        )

    def differs_from(self, lanes: Indices) -> NDArray[np.bool_]:
        """Return whether lanes differ at all from others, (n,), given by number, (n,): those that do not act alike."""
        numbers = [self.capacities, self.initial, self.sources, self.room.level]
        numbers.append(np.broadcast_to(self.contents.heat_capacity, (self.lane_count,)))
        for phase in self.phases:
            numbers += [phase.start, phase.end, phase.mass]
            numbers += [] if phase.contents_enthalpy is None else [phase.contents_enthalpy]
            numbers += [group.parameters for group in phase.links.groups]
        found = np.zeros(self.lane_count, dtype=bool)
        for one in numbers:
            found |= np.any((one != one[..., lanes]).reshape(-1, self.lane_count), axis=0)
        return found


class NetworkBuilder:
    """Collects nodes and links one by one; `build` packs them into arrays."""

    def __init__(self) -> None:
        self._capacities: list[Numeric] = []
        self._numbers: dict[str, int] = {}

    def node(self, name: str, capacity: Numeric) -> str:
        """Add a node with a heat capacity [J K-1] and return its name."""
        if name in self._numbers:
            raise ValueError(f"node {name} is there already")
        self._numbers[name] = len(self._numbers)
        self._capacities.append(capacity)
        return name

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the nodes so far, in order."""
        return tuple(self._numbers)

    def number(self, name: str) -> int:
        """Return the number of a node; the room comes after the last."""
        return len(self._numbers) if name == ROOM else self._numbers[name]

    def capacities(self, lanes: int) -> Array:
        """Return the heat capacities, (N, n). [J K-1]"""
        capacities = np.empty((len(self._capacities), lanes))
        _fill_rows(capacities, self._capacities)
        return capacities

    def table(self, links: "list[Link]", lanes: int) -> LinkTable:
        """Pack links into a table, grouped by law; links that carry nothing are left out."""
        by_law: dict[Law, list[Link]] = {}
        for link in links:
            by_law.setdefault(link.law, []).append(link)
        return LinkTable(tuple(self._group(law, members, lanes) for law, members in by_law.items()))

    def _group(self, law: Law, members: "list[Link]", lanes: int) -> LinkGroup:
        parameters = np.empty((len(law.parameters), len(members), lanes))
        for rows, name in zip(parameters, law.parameters, strict=True):
            _fill_rows(rows, [link.parameters[name] for link in members])
        return LinkGroup(
            law,
            np.array([self.number(link.start) for link in members]),
            np.array([self.number(link.end) for link in members]),
            parameters,
            np.array([PATHS.index(link.path) if link.path else -1 for link in members]),
        )


ROOM = "room"


@dataclass(frozen=True)
class Link:
    """One heat path element between two named nodes, before it is packed."""

    law: Law
    start: str
    end: str
    parameters: dict[str, Numeric]
    path: str = ""

    def __post_init__(self) -> None:
        """Refuse a link whose parameters are not those of its law."""
        if set(self.parameters) != set(self.law.parameters):
            raise ValueError(f"{self.law.name} takes {self.law.parameters}, got {tuple(self.parameters)}")


def _fill_rows(rows: Array, values: list[Numeric]) -> None:
    for row, value in zip(rows, values, strict=True):
        row[:] = value
