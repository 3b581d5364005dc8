"""Small networks that the tests of the solvers share; no container in them."""

from collections.abc import Sequence

import numpy as np

from geometries.numeric import Array, Numeric
from thermal_model.solver.laws import CONDUCTION
from thermal_model.solver.network import ROOM, Contents, Link, Network, NetworkBuilder, Phase, RoomTemperature

FREEZING = 273.15
HEAT_CAPACITY = 4000.0


def lane(value: Numeric) -> Array:
    return np.atleast_1d(np.asarray(value, dtype=float))


def link(start: str, end: str, conductance: Numeric) -> Link:
    return Link(CONDUCTION, start, end, {"conductance": conductance})


def enthalpy(temperature: Numeric) -> Array:
    """Of contents of constant heat capacity. [J kg-1]"""
    return lane(HEAT_CAPACITY * (np.asarray(temperature) - FREEZING))


def network(
    links: Sequence[Link],
    nodes: dict[str, float] | None = None,
    *,
    mass: float = 0.5,
    start: Numeric = 363.15,
    initial: dict[str, float] | None = None,
    room: RoomTemperature | None = None,
    contents: Contents | None = None,
    contents_enthalpy: Numeric | None = None,
) -> Network:
    """Contents and `nodes` (name: heat capacity), which start at the room's temperature unless `initial` says."""
    builder = NetworkBuilder()
    builder.node("contents", 0.0)
    for name, capacity in (nodes or {}).items():
        builder.node(name, capacity)
    first = enthalpy(start) if contents_enthalpy is None else lane(contents_enthalpy)
    lanes = len(first)
    room = room or RoomTemperature(np.full(lanes, 293.15))
    state = np.broadcast_to(room.at(np.zeros(lanes)), (len(builder.names), lanes)).copy()
    state[0] = first
    for name, temperature in (initial or {}).items():
        state[builder.number(name)] = temperature
    phase = Phase(np.zeros(lanes), np.full(lanes, np.inf), builder.table(list(links), lanes), np.full(lanes, mass))
    return Network(
        names=builder.names,
        capacities=builder.capacities(lanes),
        initial=state,
        contents=contents or Contents(False, HEAT_CAPACITY),
        room=room,
        phases=(phase,),
        sources=np.zeros_like(state),
    )


def cup(conductance: Numeric = 0.5, *, mass: float = 0.5, start: Numeric = 363.15, room: float = 293.15) -> Network:
    """One node: contents of constant heat capacity behind a constant conductance."""
    lanes = len(lane(start))
    return network(
        [link("contents", ROOM, conductance)], mass=mass, start=start, room=RoomTemperature(np.full(lanes, room))
    )
