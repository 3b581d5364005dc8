"""Nodes of next to no heat capacity, such as air beside a plug, made slower for searches and maps.

Such a node is in balance with its neighbours within a millisecond; steps short enough to follow it tell nothing about
a hold time. It borrows a little heat capacity from the walls beside it, as if their skin belonged to the air: what all
nodes hold together stays the same.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.network import CONTENTS, LinkTable, Network

MOST_BORROWED = 0.3
"""Share of its capacity that a node gives away at most. [-]"""


def with_least_capacity(network: Network, least: float) -> Network:
    """Return a network in which no node has less than some heat capacity, as far as its neighbours can help out.

    Parameters
    ----------
    network : Network
    least : float
        0 leaves the network as it is. [J K-1]
    """
    capacities = network.capacities.copy()
    light = np.flatnonzero((capacities < least).any(axis=1))
    light = light[light != CONTENTS]
    if not len(light):
        return network
    neighbours = _neighbours(network.phases[0].links, network.node_count)
    spare = MOST_BORROWED * np.where(capacities > least, capacities - least, 0.0)
    for node in light:
        _borrow(node, neighbours.get(node, []), capacities, spare, least)
    return replace(network, capacities=capacities)


def _borrow(node: int, lenders: list[int], capacities: Array, spare: Array, least: float) -> None:
    """Take what a node lacks from others, each by what it can spare, in place."""
    lacking = np.maximum(least - capacities[node], 0.0)
    offered = spare[lenders]
    together = offered.sum(axis=0)
    share = np.minimum(lacking / np.where(together > 0.0, together, 1.0), 1.0)
    given = share * offered
    capacities[lenders] -= given
    spare[lenders] -= given
    capacities[node] += given.sum(axis=0)


def _neighbours(links: LinkTable, nodes: int) -> Mapping[int, list[int]]:
    """Return the numbers of the nodes that each node is linked with, contents and room left out."""
    found: dict[int, set[int]] = {}
    for start, end in zip(links.start.tolist(), links.end.tolist(), strict=True):
        if CONTENTS not in (start, end) and nodes not in (start, end):
            found.setdefault(start, set()).add(end)
            found.setdefault(end, set()).add(start)
    return {node: sorted(others) for node, others in found.items()}
