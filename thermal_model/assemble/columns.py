"""Where a lid is cut: three columns over the mouth and one over each part of the lip, and the names of the parts.

Over a plug the columns follow its core and its wall; else they crowd near the mouth's edge.
"""

from dataclasses import dataclass

import numpy as np

from geometries.container import lid_outer_radius, lip_inner_radius, plug_radius
from geometries.lid import Lid, Plug
from geometries.numeric import Array
from thermal_model.assemble.setup import Setup
from thermal_model.assemble.walls import LIP_CELLS, lip_radii

COLUMNS_OVER_MOUTH = 3
RING = COLUMNS_OVER_MOUTH
"""Number of the first of the columns that rest on the lip, one for each part of the lip."""

COLUMNS = COLUMNS_OVER_MOUTH + LIP_CELLS
EDGE = COLUMNS - 1
"""Number of the outermost column."""


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
        """Radius that halves each column's area, (COLUMNS, n). [m]"""
        return np.sqrt(0.5 * (self.edges[1:] ** 2 + self.edges[:-1] ** 2))


def lid_of(setup: Setup) -> Lid:
    """Return the lid, which must be there."""
    assert setup.container.lid is not None
    return setup.container.lid


def columns_of(setup: Setup) -> Columns:
    """Return the lid's columns: over a plug they follow its core and wall, else they crowd near the mouth's edge."""
    container, plug = setup.container, lid_of(setup).plug
    mouth = np.broadcast_to(lip_inner_radius(container), (setup.lanes,))
    if plug is None:
        inner = [0.6 * mouth, 0.87 * mouth]
    else:
        core = plug_core_radius(setup, plug)
        inner = [0.6 * core, core]
    outer = np.broadcast_to(lid_outer_radius(container), mouth.shape)
    return Columns(np.stack([np.zeros_like(mouth), *inner, mouth, *lip_radii(setup)[1:-1], outer]))


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
