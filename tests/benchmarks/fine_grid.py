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
        steps, left = [], 0.5 * (high - low)
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
class Solution:
    """The problem of a case as conductances between solid cells, the liquid (at 1) and the room (at 0)."""

    grid: Grid
    number: IntArray
    matrix: sparse.csc_matrix
    to_liquid: FloatArray
    to_room: FloatArray
    capacity: FloatArray
    gap: list[tuple[IntArray, IntArray, FloatArray, str]]


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


def problem_of(i: Mapping[str, Any], smallest: float = 1e-4, growth: float = 1.25) -> Solution:
    """Set up the conductances of a case."""
    grid = grid_of(i, smallest, growth)
    kind = grid.kind
    k, film = _conductivities(i)[kind], _films(i)[kind]
    number = np.full(kind.shape, -1)
    solid = kind < len(SOLIDS)
    number[solid] = np.arange(int(solid.sum()))
    dr, dz = np.diff(grid.r), np.diff(grid.z)
    ring = np.pi * np.diff(grid.r**2)
    middle = 0.5 * (grid.r[1:] + grid.r[:-1])
    builder = _Builder(number, int(solid.sum()))
    for axis in (0, 1):
        low, high = (np.s_[:-1, :], np.s_[1:, :]) if axis == 0 else (np.s_[:, :-1], np.s_[:, 1:])
        area = np.broadcast_to(ring, kind.shape)[low] if axis == 0 else 2.0 * np.pi * grid.r[1:-1] * dz[:, None]
        if axis == 0:
            half_low, half_high = (np.broadcast_to(0.5 * dz[:, None], kind.shape)[part] for part in (low, high))
        else:
            half_low = np.broadcast_to(grid.r[1:-1] * np.log(grid.r[1:-1] / middle[:-1]), kind[low].shape)
            half_high = np.broadcast_to(grid.r[1:-1] * np.log(middle[1:] / grid.r[1:-1]), kind[low].shape)
        builder.faces(kind, k, film, low, high, area, half_low, half_high)
    capacity = (_capacities(i)[kind] * ring * dz[:, None])[solid]
    gap = _gap_links(i, grid, number) if i["double_wall"] and i["gap"] != "foam" else []
    for inner, outer, conductance, _ in gap:
        builder.join(inner, outer, conductance)
    del dr
    return Solution(grid, number, builder.matrix(), builder.to_liquid, builder.to_room, capacity, gap)


class _Builder:
    """Collects conductances between cells and films to liquid and room."""

    def __init__(self, number: IntArray, count: int) -> None:
        self.number, self.count = number, count
        self.rows: list[IntArray] = []
        self.columns: list[IntArray] = []
        self.values: list[FloatArray] = []
        self.to_liquid, self.to_room = np.zeros(count), np.zeros(count)

    def join(self, first: IntArray, second: IntArray, conductance: FloatArray) -> None:
        self.rows += [first, second, first, second]
        self.columns += [second, first, first, second]
        self.values += [-conductance, -conductance, conductance, conductance]

    def faces(self, kind, k, film, low, high, area, half_low, half_high) -> None:  # type: ignore[no-untyped-def]
        """Add conduction across inner faces, and films where a solid cell meets a void."""
        first, second = self.number[low], self.number[high]
        both = (first >= 0) & (second >= 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            through = area / (half_low / k[low] + half_high / k[high])
        self.join(first[both], second[both], through[both])
        for here, there, half, cells, other in (
            (first, second, half_low, k[low], high),
            (second, first, half_high, k[high], low),
        ):
            meets = (here >= 0) & (there < 0) & (kind[other] != KINDS.index("gap"))
            conductance = (area / (half / np.where(cells > 0.0, cells, 1.0) + 1.0 / np.maximum(film[other], 1e-30)))[
                meets
            ]
            is_cold = (kind[other][meets] == KINDS.index("room")) | (kind[other][meets] == KINDS.index("under"))
            np.add.at(self.to_room, here[meets], np.where(is_cold, conductance, 0.0))
            np.add.at(self.to_liquid, here[meets], np.where(is_cold, 0.0, conductance))

    def matrix(self) -> sparse.csc_matrix:
        rows, columns, values = (np.concatenate(parts) for parts in (self.rows, self.columns, self.values))
        shape = (self.count, self.count)
        return (
            sparse.coo_matrix((values, (rows, columns)), shape=shape) + sparse.diags(self.to_liquid + self.to_room)
        ).tocsc()


def _gap_links(i: Mapping[str, Any], grid: Grid, number: IntArray) -> list[tuple[IntArray, IntArray, FloatArray, str]]:
    """Return what crosses the gap, from each gap-side face of the inner wall straight to the outer wall it faces."""
    gap, inner, outer = (KINDS.index(name) for name in ("gap", "inner_wall", "outer_wall"))
    kind, dz = grid.kind, np.diff(grid.z)
    mouth = i["Hb"] + i["Ln"] - i["t_lip"]
    links = []

    def link(j: int, c: int, area: float, j_out: int, c_out: int, path: str) -> None:
        if number[j_out, c_out] < 0:
            raise ValueError("a face of the gap looks at nothing")
        links.append((number[j, c], number[j_out, c_out], i["h_gap"] * area, path))

    solid_out = kind == outer
    for j in range(kind.shape[0]):
        for c in range(kind.shape[1]):
            if kind[j, c] != inner:
                continue
            if c + 1 < kind.shape[1] and kind[j, c + 1] == gap and 0.5 * (grid.z[j] + grid.z[j + 1]) < mouth:
                out = int(np.argmax(solid_out[j, c + 1 :])) + c + 1
                if grid.r[out] - grid.r[c + 1] > 1.01 * i["g"]:
                    continue
                link(j, c, 2.0 * np.pi * grid.r[c + 1] * dz[j], j, out, "side")
            for step, path in ((1, "side"), (-1, "base")):
                if not 0 <= j + step < kind.shape[0] or kind[j + step, c] != gap:
                    continue
                if path == "base" and grid.z[j] > 0.0:
                    continue  # the lip's underside
                column = solid_out[j + step :, c] if step > 0 else solid_out[: j + step + 1, c][::-1]
                area = np.pi * (grid.r[c + 1] ** 2 - grid.r[c] ** 2)
                if column.any():
                    there = j + step * (1 + int(np.argmax(column)))
                    link(j, c, area, there, c, path)
                else:  # under the lip: what the shoulder's innermost ring faces is the neck's outside
                    out = int(np.argmax(solid_out[j + step, c:])) + c
                    link(j, c, area, j + step, out, path)
    by_path = {}
    for first, second, conductance, path in links:
        by_path.setdefault(path, []).append((first, second, conductance))
    return [
        (np.array([x[0] for x in part]), np.array([x[1] for x in part]), np.array([x[2] for x in part]), path)
        for path, part in by_path.items()
    ]


def paths_of(i: Mapping[str, Any], smallest: float = 1e-4, growth: float = 1.25) -> dict[str, float]:
    """Return UA and its split, by the names of the published cases. [W K-1]"""
    s = problem_of(i, smallest, growth)
    theta = splu(s.matrix).solve(s.to_liquid)
    out = s.to_room * theta
    z, r = (np.broadcast_to(x, s.grid.kind.shape)[s.number >= 0] for x in _middles(s.grid))
    mouth, kind = i["Hb"] + i["Ln"], s.grid.kind[s.number >= 0]
    lid = float(out[z > mouth].sum())
    total = float(out.sum())
    gap = {path: float((g * (theta[a] - theta[b])).sum()) for a, b, g, path in s.gap}
    low = s.grid.z[s.grid.z < -_widths(i)[1] + 1e-9].max()
    first_row = np.searchsorted(s.grid.z, low)
    bottom = np.zeros(s.number.shape, dtype=bool)
    bottom[first_row] = True
    base = _base_flow(i, s, theta)
    del bottom, kind, r
    if gap:
        side, base = gap["side"], gap["base"]
    else:
        level = liquid_height(i)
        side = float(out[(z < level)].sum()) - base if not i["double_wall"] else 0.0
    return {
        "UA": total,
        "UA_lid": lid,
        "UA_bridge": total - lid - side - base,
        "UA_gap_side": side,
        "UA_gap_base": base,
    }


def _middles(grid: Grid) -> tuple[FloatArray, FloatArray]:
    return 0.5 * (grid.z[1:] + grid.z[:-1])[:, None], 0.5 * (grid.r[1:] + grid.r[:-1])[None, :]


def _base_flow(i: Mapping[str, Any], s: Solution, theta: FloatArray) -> float:
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
        if names and not any(name in case.name for name in names):
            continue
        missed += _compare(case)
    return 1 if missed else 0


def _compare(case: FemCase) -> int:
    ours, missed = paths_of(case.inputs), 0
    for name, value in ours.items():
        error = 100.0 * (value / case.results[name] - 1.0)
        missed += abs(error) > 1.0
        print(f"{case.name:<26}{name:<12}{value:>12.6f}{case.results[name]:>12.6f}{error:>+8.2f} %")
    return missed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
