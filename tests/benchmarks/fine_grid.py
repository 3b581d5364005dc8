"""Whole containers on a fine axisymmetric grid of finite volumes: a judge of the network that shares nothing with it.

Takes the inputs of a finite-element case (SI, films and conductivities constant) and answers with the same results.
Every edge of a material is a line of the grid, and cells are smallest beside the edges. It reproduces the published
cases within 1 % (`python -m tests.benchmarks.fine_grid`), so that it may judge cases which nobody has solved for us.
"""

import sys
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu

from tests.published.fem_cases import FemCase, fem_cases

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Links = tuple[IntArray, IntArray, FloatArray]
Part = tuple[slice, slice]
Rectangle = tuple[float, float, float, float, str]

SOLIDS = ("inner_wall", "outer_wall", "lid", "pocket", "core", "seal", "air", "foam")
VOIDS = ("liquid", "headspace", "annulus", "room", "under", "gap")
KINDS = SOLIDS + VOIDS


def seal_depths(i: Mapping[str, Any]) -> list[float]:
    """Centres of the seals below the mouth plane. [m]"""
    if i["seal_depths"]:
        return [float(depth) for depth in i["seal_depths"].split(";")]
    return [0.5 * i["t_seal"], i["plug_depth"] - 0.5 * i["t_seal"]][: int(i["seals"])]


def liquid_height(i: Mapping[str, Any]) -> float:
    """Height of the liquid over the floor. [m]"""
    volume, body = 1e-6 * i["fill_mL"], np.pi * i["Ri"] ** 2 * i["Hb"]
    if volume <= body:
        return float(volume / (np.pi * i["Ri"] ** 2))
    return float(i["Hb"] + (volume - body) / (np.pi * i["Rm"] ** 2))


def rectangles(i: Mapping[str, Any]) -> list[Rectangle]:
    """Return what fills the half plane, each (from radius, to radius, from height, to height, kind) over the last."""
    mouth, inner = i["Hb"] + i["Ln"], i["t_in"]
    side, base = _widths(i)
    parts: list[Rectangle] = [(0.0, 1.0, -1.0, -base, "under")]

    def hull(width: float, low: float, top: float, kind: str) -> None:
        parts.append((0.0, i["Ri"] + width, -low, i["Hb"] + width, kind))
        parts.append((0.0, i["Rm"] + width, i["Hb"], top, kind))

    if i["double_wall"]:
        hull(side, base, mouth, "outer_wall")
        between = "foam" if i["gap"] == "foam" else "gap"
        hull(inner + i["g"], inner + i["g_base"], mouth - i["t_lip"], between)
        parts.append((i["Rm"], i["Rm"] + side, mouth - i["t_lip"], mouth, "inner_wall"))
    hull(inner, inner, mouth, "inner_wall")
    level = liquid_height(i)
    parts.append((0.0, i["Ri"], 0.0, i["Hb"], "headspace"))
    parts.append((0.0, i["Rm"], 0.0, mouth, "headspace"))
    parts.append((0.0, i["Ri"], 0.0, min(level, i["Hb"]), "liquid"))
    parts.append((0.0, i["Rm"], 0.0, level, "liquid"))
    return [*parts, *_lid(i, mouth, side), *_plug(i, mouth)]


def _widths(i: Mapping[str, Any]) -> tuple[float, float]:
    if not i["double_wall"]:
        return i["t_in"], i["t_in"]
    return i["t_in"] + i["g"] + i["t_out"], i["t_in"] + i["g_base"] + i["t_out"]


def _lid(i: Mapping[str, Any], mouth: float, side: float) -> list[Rectangle]:
    radius = i["Rm"] + side + i["lid_overhang"]
    top = mouth + i["lid_t_bottom"] + i["lid_t_pocket"] + i["lid_t_top"]
    low = mouth + i["lid_t_bottom"]
    parts = [(0.0, radius, mouth, top, "lid")]
    if i["lid_t_pocket"]:
        parts.append((0.0, radius - i["lid_t_side"], low, low + i["lid_t_pocket"], "pocket"))
    return parts


def _plug(i: Mapping[str, Any], mouth: float) -> list[Rectangle]:
    if not i["plug_depth"]:
        return []
    foot, radius, wall = mouth - i["plug_depth"], i["Rm"] - i["ann_gap"], i["plug_wall"]
    depths = seal_depths(i)
    lowest = max(depths, default=0.0)
    parts: list[Rectangle] = [
        (0.0, radius, foot, mouth, "lid"),
        (0.0, radius - wall, foot + wall, mouth, "lid" if i["plug_core"] == "solid" else "core"),
        (radius, i["Rm"], foot, mouth, "annulus"),
    ]
    if depths:
        parts.append((radius, i["Rm"], mouth - lowest, mouth, "air"))
    half = 0.5 * i["t_seal"]
    return [*parts, *[(radius, i["Rm"], mouth - depth - half, mouth - depth + half, "seal") for depth in depths]]


def graded(edges: list[float], smallest: float, growth: float) -> FloatArray:
    """Return lines of a grid through all edges, the cells growing away from each of them."""
    lines = [edges[0]]
    for low, high in pairwise(edges):
        steps, left = [], 0.5 * (high - low)  # type: ignore[var-annotated]
        step = min(smallest, 0.5 * left)
        while sum(steps) + 1.5 * step < left:
            steps.append(step)
            step *= growth
        steps.append(left - sum(steps))
        half = np.cumsum(steps)
        lines += [*(low + half), *(high - half[::-1][1:]), high]
    return np.array(lines)


@dataclass(frozen=True)
class Grid:
    """Lines of the grid, and the number of the kind that fills each cell, (rows, columns)."""

    r: FloatArray
    z: FloatArray
    kind: IntArray


def grid_of(i: Mapping[str, Any], smallest: float = 1e-4, growth: float = 1.25) -> Grid:
    """Cut a case into cells."""
    parts = rectangles(i)
    radius = max(part[1] for part in parts if part[4] in ("outer_wall", "inner_wall", "lid"))
    low, high = -_widths(i)[1], max(part[3] for part in parts)
    around = 2e-3
    r = {0.0, radius + around} | {x for part in parts for x in part[:2] if 0.0 < x <= radius}
    z = {low - around, high + around} | {x for part in parts for x in part[2:4] if low <= x <= high}
    r_lines, z_lines = (graded(_distinct(edges), smallest, growth) for edges in (r, z))
    r_mid, z_mid = 0.5 * (r_lines[1:] + r_lines[:-1]), 0.5 * (z_lines[1:] + z_lines[:-1])
    kind = np.full((z_mid.size, r_mid.size), KINDS.index("room"))
    for r0, r1, z0, z1, name in parts:
        kind[np.ix_((z_mid > z0) & (z_mid < z1), (r_mid > r0) & (r_mid < r1))] = KINDS.index(name)
    return Grid(r_lines, z_lines, kind)


def _distinct(values: set[float]) -> list[float]:
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > 1e-9:
            kept.append(value)
    return kept


@dataclass(frozen=True)
class Problem:
    """A case as conductances [W K-1] and capacities [J K-1] of its solid cells, with the liquid at 1 and the room at 0.

    `gap` holds, by path, what crosses it: from which cells, to which, and the conductance.
    """

    grid: Grid
    number: IntArray
    matrix: sparse.csc_matrix
    to_liquid: FloatArray
    to_room: FloatArray
    capacity: FloatArray
    gap: dict[str, Links]


def _conductivities(i: Mapping[str, Any]) -> FloatArray:
    outer = i["k_out"] or i["k_steel"]
    solid = [i["k_steel"], outer, i["k_pp"], i["k_pocket"], i["k_core"], i["k_seal"], i["k_ann"], i["k_foam"]]
    return np.array(solid + [0.0] * len(VOIDS))


def _capacities(i: Mapping[str, Any]) -> FloatArray:
    steel, plastic, air = i["rho_steel"] * i["c_steel"], i["rho_pp"] * i["c_pp"], i["rho_air"] * i["c_air"]
    foam = i["rho_foam"] * i["c_foam"]
    return np.array([steel, steel, plastic, air, air, plastic, air, foam] + [0.0] * len(VOIDS))


def _films(i: Mapping[str, Any]) -> FloatArray:
    films = [i["h_liq"], i["h_head"], i["h_ann"], i["h_ext"], i["h_base"], i["h_gap"]]
    return np.array([0.0] * len(SOLIDS) + films)


def problem_of(i: Mapping[str, Any], smallest: float = 1e-4, growth: float = 1.25) -> Problem:
    """Set up the conductances of a case."""
    grid = grid_of(i, smallest, growth)
    is_solid = grid.kind < len(SOLIDS)
    number = np.full(grid.kind.shape, -1)
    number[is_solid] = np.arange(int(is_solid.sum()))
    builder = _Builder(grid.kind, number, _conductivities(i)[grid.kind], _films(i)[grid.kind])
    ring, height, r = np.pi * np.diff(grid.r**2), np.diff(grid.z)[:, None], grid.r[1:-1]
    middle = 0.5 * (grid.r[1:] + grid.r[:-1])
    shape = grid.kind.shape
    half = np.broadcast_to(0.5 * height, shape)
    builder.add_faces(np.s_[:-1, :], np.s_[1:, :], np.broadcast_to(ring, shape)[1:], half[:-1], half[1:])
    inward, outward = (np.broadcast_to(r * np.log(x), (shape[0], r.size)) for x in (r / middle[:-1], middle[1:] / r))
    builder.add_faces(np.s_[:, :-1], np.s_[:, 1:], 2.0 * np.pi * r * height, inward, outward)
    gap = _gap_links(i, grid, number) if i["double_wall"] and i["gap"] != "foam" else {}
    for inner, outer, conductance in gap.values():
        builder.join(inner, outer, conductance)
    capacity = (_capacities(i)[grid.kind] * ring * height)[is_solid]
    return Problem(grid, number, builder.matrix(), builder.to_liquid, builder.to_room, capacity, gap)


class _Builder:
    """Collects conductances between cells, and through films to liquid and room."""

    def __init__(self, kind: IntArray, number: IntArray, conductivity: FloatArray, film: FloatArray) -> None:
        self.kind, self.number, self.conductivity, self.film = kind, number, conductivity, film
        count = int(number.max()) + 1
        self.joints: list[tuple[IntArray, IntArray, FloatArray]] = []
        self.to_liquid, self.to_room = np.zeros(count), np.zeros(count)

    def join(self, first: IntArray, second: IntArray, conductance: FloatArray) -> None:
        self.joints.append((first, second, conductance))

    def add_faces(self, low: Part, high: Part, area: FloatArray, half_low: FloatArray, half_high: FloatArray) -> None:
        """Add conduction between neighbours, and films where a solid cell meets a void."""
        first, second, k = self.number[low], self.number[high], self.conductivity
        with np.errstate(divide="ignore", invalid="ignore"):
            through = area / (half_low / k[low] + half_high / k[high])
            both = (first >= 0) & (second >= 0)
            self.join(first[both], second[both], through[both])
            self._add_films(first, second, area, half_low / k[low], high)
            self._add_films(second, first, area, half_high / k[high], low)

    def _add_films(self, here: IntArray, there: IntArray, area: FloatArray, depth: FloatArray, void: Part) -> None:
        kind = self.kind[void]
        meets = (here >= 0) & (there < 0) & (kind != KINDS.index("gap"))
        conductance = (area / (depth + 1.0 / self.film[void]))[meets]
        is_cold = np.isin(kind[meets], [KINDS.index("room"), KINDS.index("under")])
        np.add.at(self.to_room, here[meets], np.where(is_cold, conductance, 0.0))
        np.add.at(self.to_liquid, here[meets], np.where(is_cold, 0.0, conductance))

    def matrix(self) -> sparse.csc_matrix:
        first, second, value = (np.concatenate(parts) for parts in zip(*self.joints, strict=True))
        off = sparse.coo_matrix((value, (first, second)), shape=(self.to_room.size,) * 2)
        off = off + off.T
        total = np.asarray(off.sum(axis=1)).ravel() + self.to_liquid + self.to_room
        return (sparse.diags(total) - off).tocsc()


def _gap_links(i: Mapping[str, Any], grid: Grid, number: IntArray) -> dict[str, Links]:
    """Return what crosses the gap, by path: from each face of the inner wall straight to the outer wall it looks at.

    The foot of the neck, which looks past the corner of the outer shoulder, counts for nothing, as in the published
    results, and the ring of shoulder beside it gives to the outer wall far off. With `neck_foot` among the inputs both
    go to that corner, and the conductance is one of the inner wall's whole area, which a shiny vacuum gap has. Foot and
    ring are mirror images of each other, so that what they give together lands evenly about the corner.
    """
    kind, dz = grid.kind, np.diff(grid.z)
    ring = np.pi * np.diff(grid.r**2)
    links: dict[str, list[tuple[int, int, float]]] = {"side": [], "base": []}
    gap, outer = KINDS.index("gap"), kind == KINDS.index("outer_wall")
    for j, c in np.argwhere(kind == KINDS.index("inner_wall")):
        if c + 1 < kind.shape[1] and kind[j, c + 1] == gap:
            row, out = j, c + 1 + int(np.argmax(outer[j, c + 1 :]))
            is_foot = grid.r[out] - grid.r[c + 1] > 1.01 * i["g"]
            if is_foot and i.get("neck_foot"):
                row, out = _outer_corner(i, grid, j)
            if not is_foot or i.get("neck_foot"):
                area = 2.0 * np.pi * grid.r[c + 1] * dz[j]
                links["side"].append((number[j, c], number[row, out], i["h_gap"] * area))
        if kind[j - 1, c] == gap and grid.z[j] < 0.0:
            out = j - 1 - int(np.argmax(outer[:j, c][::-1]))
            links["base"].append((number[j, c], number[out, c], i["h_gap"] * ring[c]))
        if j + 1 < kind.shape[0] and kind[j + 1, c] == gap:
            above = outer[j + 1 :, c]
            # Under the lip lies the shoulder's innermost ring.
            if above.any():
                there = (j + 1 + int(np.argmax(above)), c)
            elif i.get("neck_foot"):
                there = _outer_corner(i, grid, j + 1)
            else:
                there = (j + 1, c + int(np.argmax(outer[j + 1, c:])))
            links["side"].append((number[j, c], number[there], i["h_gap"] * ring[c]))
    return {path: _packed(part) for path, part in links.items()}


def _outer_corner(i: Mapping[str, Any], grid: Grid, row: int) -> tuple[int, int]:
    """Return the cell of the outer wall at the corner of neck and shoulder, above a row of the gap."""
    out = int(np.searchsorted(grid.r, i["Rm"] + i["t_in"] + i["g"] + 1e-9))
    return row + int(np.argmax(grid.kind[row:, out] == KINDS.index("outer_wall"))), out


def _packed(links: list[tuple[int, int, float]]) -> Links:
    first, second, conductance = zip(*links, strict=True)
    return np.array(first), np.array(second), np.array(conductance)


def paths_of(i: Mapping[str, Any], smallest: float = 1e-4, growth: float = 1.25) -> dict[str, float]:
    """Return UA and its split, by the names of the published cases. [W K-1]"""
    s = problem_of(i, smallest, growth)
    theta = splu(s.matrix).solve(s.to_liquid)
    out = s.to_room * theta
    height = np.broadcast_to(0.5 * (s.grid.z[1:] + s.grid.z[:-1])[:, None], s.number.shape)[s.number >= 0]
    lid, base = float(out[height > i["Hb"] + i["Ln"]].sum()), _base_flow(i, s, theta)
    if s.gap:
        side, base = (float((g * (theta[a] - theta[b])).sum()) for a, b, g in (s.gap["side"], s.gap["base"]))
    else:
        # Foam joins side and bridge: they are judged as one.
        side = 0.0 if i["double_wall"] else float(out[height < liquid_height(i)].sum()) - base
    total = float(out.sum())
    bridge = total - lid - side - base
    return {"UA": total, "UA_lid": lid, "UA_bridge": bridge, "UA_gap_side": side, "UA_gap_base": base}


def _base_flow(i: Mapping[str, Any], s: Problem, theta: FloatArray) -> float:
    """Heat that leaves by the under side of the base."""
    row = int(np.searchsorted(s.grid.z, -_widths(i)[1] - 1e-9))
    cells = s.number[row]
    is_solid = cells >= 0
    height = s.grid.z[row + 1] - s.grid.z[row]
    k = _conductivities(i)[s.grid.kind[row]]
    area = np.pi * np.diff(s.grid.r**2)
    with np.errstate(divide="ignore"):
        conductance = area / (0.5 * height / k + 1.0 / i["h_base"])
    return float((conductance[is_solid] * theta[cells[is_solid]]).sum())


def cooling_time(i: Mapping[str, Any], walls: str, smallest: float = 1.5e-4, growth: float = 1.4) -> float:
    """Return the time from T0 to T1, the walls starting at rest ("preheated") or at the room's temperature. [s]

    Alexander's two-stage scheme (L-stable, second order), its steps longer and longer; the crossing by the exponential
    between two steps.
    """
    s = problem_of(i, smallest, growth)
    mass = i["rho_liq"] * 1e-6 * i["fill_mL"] * i["cp_liq"]
    matrix = sparse.bmat(
        [[s.matrix, -s.to_liquid[:, None]], [-s.to_liquid[None, :], np.array([[s.to_liquid.sum()]])]], format="csc"
    )
    capacity = np.append(s.capacity, mass)
    state = np.zeros(capacity.size)
    if walls == "preheated":
        state[:-1] = splu(s.matrix).solve(s.to_liquid)
    state[-1] = 1.0
    goal = (i["T1"] - i["T_amb"]) / (i["T0"] - i["T_amb"])
    gamma, time, step = 1.0 - np.sqrt(0.5), 0.0, 1.0
    while True:
        solver = splu((sparse.diags(capacity) + gamma * step * matrix).tocsc())
        for _ in range(40):
            first = -solver.solve(matrix @ state)
            second = -solver.solve(matrix @ (state + (1.0 - gamma) * step * first))
            new = state + step * ((1.0 - gamma) * first + gamma * second)
            if new[-1] <= goal:
                return float(time + step * np.log(state[-1] / goal) / np.log(state[-1] / new[-1]))
            state, time = new, time + step
        step *= 2.0


def main(names: list[str]) -> int:
    """Print how the grid compares with the published cases; 1 if a figure is off by more than 1 %."""
    missed = 0
    for case in fem_cases():
        if not names or any(name in case.name for name in names):
            missed += sum(_shown(f"{case.name} {name}", *values) for name, values in _figures(case).items())
    print(f"{missed} figures beyond {ALLOWED:g} %")
    return 1 if missed else 0


ALLOWED = 1.0
"""Difference from the published cases. [%]"""


def _figures(case: FemCase) -> dict[str, tuple[float, float]]:
    """Our figures beside the published ones: what is judged by itself, base and time."""
    ours, theirs = paths_of(case.inputs), case.results
    parts = {"UA": ("UA",), **case.paths, "UA_gap_base": ("UA_gap_base",)}
    figures = {name: (sum(ours[p] for p in names), sum(theirs[p] for p in names)) for name, names in parts.items()}
    time = cooling_time(case.inputs, "room") / 3600.0
    return figures | {"t_cool_tr_coldstart_h": (time, theirs["t_cool_tr_coldstart_h"])}


def _shown(name: str, ours: float, theirs: float) -> bool:
    error = 100.0 * (ours / theirs - 1.0)
    print(f"{name:<54}{ours:>12.6f}{theirs:>12.6f}{error:>+8.2f} %{'  MISSED' if abs(error) > ALLOWED else ''}")
    return abs(error) > ALLOWED


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
