"""The table under the base: it takes up heat for hours before it only passes it on."""

from itertools import pairwise

import numpy as np

from geometries.numeric import Numeric
from thermal_model.assemble.setup import Setup
from thermal_model.physics import conduction
from thermal_model.scenario import TableTop, WallStart
from thermal_model.solver.network import ROOM

SHELLS = (1.0, 1.4, 3.0)
"""What divides the table into hemispherical shells, over the radius of the smallest [-].

As a hemisphere of 2/pi of its radius, a disc gives as much to a half-space at rest. With two shells the heat taken up
from 5 minutes to 12 hours after a hot base is set down on wood, plastic, glass or stone is within 6 % of a fine grid's.
"""

NODE_IN_SHELL = 0.32
"""How far out in its shell a node lies [-]: a disc touches more table than the hemisphere, which this makes up for."""


def table_node(shell: int) -> str:
    """Name of a shell of the table, counted from the base."""
    return f"table_{shell}"


def add_table(setup: Setup, base: str, radius: Numeric, air: Numeric, table: TableTop, path: str) -> None:
    """Add what lies between base and room: air under the foot, a resistance [K W-1], and the table.

    Behind a vacuum the table hardly warms (0.04 % of a hold time, 1 % once it is lost), and after long use it is warm:
    there it only conducts.
    """
    factor = setup.unknowns.base_film
    spreading = conduction.resistance_isothermal_disc_on_half_space(radius, table.conductivity)
    gap = setup.body.gap
    if setup.scenario.walls is WallStart.PREHEATED or (gap is not None and gap.kind == "vacuum"):
        setup.conductance(base, ROOM, factor / (air + spreading), path=path)
        return
    smallest = 2.0 / np.pi * radius
    below, place, before = base, SHELLS[0], air
    for shell, (low, high) in enumerate(pairwise(SHELLS)):
        volume = 2.0 / 3.0 * np.pi * (high**3 - low**3) * smallest**3
        node = setup.node(table_node(shell), volume * table.volumetric_capacity)
        here = low + NODE_IN_SHELL * (high - low)
        setup.conductance(below, node, factor / (before + spreading * (1.0 / place - 1.0 / here)))
        below, place, before = node, here, 0.0
    setup.conductance(below, ROOM, factor / (spreading / place), path=path)
