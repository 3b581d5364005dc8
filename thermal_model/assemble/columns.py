"""Where a lid is cut into rings: over the mouth, over the lip and over what hangs out beyond it, and their names.

Over a plug the columns follow its core and its wall; else they crowd near the mouth's edge.
"""

from dataclasses import dataclass

import numpy as np

from geometries.container import lid_outer_radius, plug_radius
from geometries.lid import Lid, Plug
from geometries.numeric import Array, Numeric
from thermal_model.assemble.lip import LIP_CELLS, lip_radii
from thermal_model.assemble.setup import Setup

COLUMNS_OVER_MOUTH, COLUMNS_OVERHANGING = 3, 2
RING = COLUMNS_OVER_MOUTH
"""Number of the first of the columns that rest on the lip."""

OVERHANG = RING + LIP_CELLS
"""Number of the first of the columns beyond the lip."""

COLUMNS = OVERHANG + COLUMNS_OVERHANGING
EDGE = COLUMNS - 1
"""Number of the outermost column, whose nodes stand on the lid's rim."""

EDGE_EFFECT = 2e-3
"""Over the mouth columns grow from about this width inwards, away from the colder lip. [m]"""

LEAST_WIDTH = 1e-6
"""Of a column that is not there, such as that of no overhang. [m]"""


@dataclass(frozen=True)
class Columns:
    """Rings that a lid layer is cut into, from the axis outwards.

    Attributes
    ----------
    edges : (COLUMNS + 1, n) array
        Radii that divide the columns; the last is the lid's own. [m]
    """

    edges: Array

    @property
    def area(self) -> Array:
        """Level area of each column, (COLUMNS, n). [m2]"""
        return np.pi * np.diff(self.edges**2, axis=0)

    @property
    def radius(self) -> Array:
        """Radius of each column's nodes, (COLUMNS, n): that which halves its area, of the last the rim's. [m]"""
        middle = np.sqrt(0.5 * (self.edges[1:] ** 2 + self.edges[:-1] ** 2))
        return np.concatenate([middle[:-1], self.edges[-1:]])

    def area_between(self, low: Numeric, high: Numeric) -> Array:
        """Return how much of each column lies between two radii, (COLUMNS, n). [m2]"""
        return np.pi * np.diff(np.clip(self.edges, low, high) ** 2, axis=0)


def lid_of(setup: Setup) -> Lid:
    """Return the lid, which must be there."""
    assert setup.container.lid is not None
    return setup.container.lid


def columns_of(setup: Setup) -> Columns:
    """Return the lid's columns."""
    container, plug = setup.container, lid_of(setup).plug
    mouth = np.broadcast_to(container.body.mouth_radius, (setup.lanes,))
    if plug is None:
        shares = np.linspace(1.0, 0.0, COLUMNS_OVER_MOUTH + 1)[1:-1, None]
        inner = mouth - EDGE_EFFECT * ((1.0 + mouth / EDGE_EFFECT) ** shares - 1.0)
    else:
        core = plug_core_radius(setup, plug)
        inner = np.stack([0.6 * core, core])
    lip = lip_radii(setup)
    outer = np.maximum(np.broadcast_to(lid_outer_radius(container), mouth.shape), lip[-1] + LEAST_WIDTH)
    return Columns(np.stack([np.zeros_like(mouth), *inner, *lip, 0.5 * (lip[-1] + outer), outer]))


def plug_core_radius(setup: Setup, plug: Plug) -> Array:
    """Return the inside radius of a plug's wall; a solid plug is divided near its side, whatever its wall says. [m]"""
    radius = np.broadcast_to(plug_radius(setup.container), (setup.lanes,))
    if plug.kind == "solid":
        return SOLID_CORE * radius
    return np.maximum(radius - plug.wall_thickness, 0.2 * radius)


SOLID_CORE = 0.9
"""Where a solid plug is divided into a core and a ring, as a share of its radius [-]; where its nodes lie."""


def layer_node(layer: int, row: int, column: int) -> str:
    """Name of a part of a solid layer; rows count from its lower face to its upper one."""
    return f"lid_{layer}_{row}_{column}"


def underside_node(column: int) -> str:
    """Name of a part of the lid's lowest face."""
    return layer_node(0, 0, column)
