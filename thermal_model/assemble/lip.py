"""The lip: the ring at the mouth that joins inner wall and outer shell, or the rim of a single wall."""

from itertools import pairwise

import numpy as np

from geometries.container import pocket_radius
from geometries.numeric import Array, Numeric
from thermal_model.assemble.setup import Setup, Solid
from thermal_model.assemble.stations import Sheet
from thermal_model.assemble.walls import is_double, shell_back, shell_node, wall_back, wall_node
from thermal_model.physics.conduction import squares_of_square_corner

LIP_CELLS = 4
"""Rings into which the lip is cut."""

LAST = LIP_CELLS - 1


def lip_node(cell: int) -> str:
    """Name of a part of the lip, counted from the mouth outwards."""
    return f"lip_{cell}"


def lip_radii(setup: Setup) -> Array:
    """Return the radii that divide the lip's ring, (LIP_CELLS + 1, n), one of them where a lid's pocket ends. [m]"""
    low = np.broadcast_to(setup.body.mouth_radius, (setup.lanes,))
    width = np.broadcast_to(setup.body.side_width, low.shape)
    middle = np.clip(pocket_radius(setup.container) - low, 0.25 * width, 0.75 * width)
    return low + np.stack([0.0 * width, 0.5 * middle, middle, 0.5 * (middle + width), width])


def add_lip(setup: Setup) -> None:
    """Add the ring, and join it to the inner wall below; of a single wall to its outer face too."""
    wall, cells, factor = setup.body.wall, setup.cells, setup.unknowns.wall_thickness
    solid, height = setup.wall_solid(wall.material), setup.body.lip_thickness * factor
    radii = lip_radii(setup)
    centres = 0.5 * (radii[1:] + radii[:-1])
    for k, area in enumerate(np.pi * np.diff(radii**2, axis=0)):
        setup.node(lip_node(k), area * height * solid.volumetric_capacity)
    for k, (low, high) in enumerate(pairwise(centres)):
        setup.sheet(lip_node(k), lip_node(k + 1), np.log(high / low) / (2.0 * np.pi), height, solid)
    top, thickness = wall_node(cells.count - 1), wall.inner_thickness * factor
    back = wall_back(setup, top)
    if not is_double(setup):
        _join_rim(setup, 0, top, cells.inner, 0.5 * thickness, solid)
        _join_rim(setup, LAST, back, cells.gap_side, 0.5 * thickness, solid)
        return
    inside = radii[0] + wall.inner_thickness
    _join_ring(setup, 0, (top, back), (cells.inner, cells.gap_side), thickness, inside, solid)


def join_lip_to_shell(setup: Setup) -> None:
    """Join the lip to the outer shell below it."""
    wall, cells = setup.body.wall, setup.cells
    solid = setup.wall_solid(wall.outer_material or wall.material)
    top, thickness = shell_node(cells.count - 1), wall.outer_thickness * setup.unknowns.wall_thickness
    nodes, faces = (top, shell_back(setup, top)), (cells.shell_inside, cells.outer)
    outside = lip_radii(setup)[-1] - wall.outer_thickness
    _join_ring(setup, LAST, nodes, faces, thickness, outside, solid, "steel_bridge")


def _join_ring(
    setup: Setup,
    cell: int,
    nodes: tuple[str, str],
    faces: tuple[Sheet, Sheet],
    thickness: Numeric,
    radius: Numeric,
    solid: Solid,
    path: str = "",
) -> None:
    """Join part of the ring to the top of a wall: round the corner they make, and on to the part's own radius."""
    radii, height = lip_radii(setup), setup.body.lip_thickness * setup.unknowns.wall_thickness
    along = np.log(0.5 * (radii[cell] + radii[cell + 1]) / radius) * (1.0 if cell == 0 else -1.0)
    corner = squares_of_square_corner(thickness, height) * thickness / radius
    shape = np.maximum(corner + along * thickness / height, 0.1 * corner) / (2.0 * np.pi)
    if nodes[0] == nodes[1]:
        middle = faces[0].midway(faces[1])
        setup.sheet(lip_node(cell), nodes[0], middle.to_top + shape, thickness, solid, path=path)
        return
    for node, face in zip(nodes, faces, strict=True):
        setup.sheet(lip_node(cell), node, face.to_top + shape, 0.5 * thickness, solid, path=path)


def _join_rim(setup: Setup, cell: int, node: str, sheet: Sheet, thickness: Numeric, solid: Solid) -> None:
    """Join part of a rim to the face of the single wall below."""
    half = 0.5 * setup.body.lip_thickness * setup.unknowns.wall_thickness
    setup.sheet(lip_node(cell), node, sheet.to_top + half / (2.0 * np.pi * sheet.top_radius), thickness, solid)
