"""What a table takes up from a hot base, beside a fine grid of the half-space and Carslaw and Jaeger's limits."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import sparse
from scipy.linalg import expm
from scipy.sparse.linalg import splu

from geometries.design_file import load_container
from geometries.numeric import Array
from tests.thermal_model.runs import scenario
from thermal_model.assemble.build import assemble
from thermal_model.assemble.table import add_table, table_node
from thermal_model.prediction import predict
from thermal_model.scenario import TABLES, TableTop
from thermal_model.solver.network import ROOM

TIMES = np.array([300.0, 1200.0, 3600.0, 4 * 3600.0, 12 * 3600.0])
FILM = 18.0
"""Of 2 mm of air under a foot, radiation included. [W m-2 K-1]"""


class Taken:
    """Takes what `add_table` adds, in place of a whole network."""

    def __init__(self) -> None:
        self.unknowns, self.scenario = SimpleNamespace(base_film=1.0), scenario()
        self.body = load_container("single_wall_steel").body
        self.capacities: dict[str, float] = {"base": np.inf}
        self.links: list[tuple[str, str, float]] = []

    def node(self, name: str, capacity: float) -> str:
        self.capacities[name] = capacity
        return name

    def conductance(self, start: str, end: str, conductance: float, *, path: str = "") -> None:
        assert path in ("", "base")
        self.links.append((start, end, conductance))


def ours(radius: float, table: TableTop, film: float) -> Array:
    """Heat that the base, held 1 K warmer, has given by each of TIMES. [J]"""
    taken: Any = Taken()
    add_table(taken, "base", radius, 1.0 / (film * np.pi * radius**2), table, "base")
    capacities, links = taken.capacities, taken.links
    names = [*capacities, ROOM]
    rates = np.zeros((len(names) + 1, len(names) + 1))
    for start, end, conductance in links:
        i, j = names.index(start), names.index(end)
        for here, there in ((i, j), (j, i)):
            if names[here] in capacities and here:
                rates[here, here] -= conductance / capacities[names[here]]
                rates[here, there] += conductance / capacities[names[here]]
    first = next(value for start, _, value in links if start == "base")
    rates[-1, 0], rates[-1, 1] = first, -first
    begin = np.eye(len(names) + 1)[0]
    return np.array([(expm(rates * time) @ begin)[-1] for time in TIMES])


def growing(first: float, last: float) -> Array:
    count = int(np.ceil(np.log(1.0 + 0.15 * last / first) / np.log(1.15)))
    return np.asarray(first * (1.15 ** np.arange(count + 1) - 1.0) / 0.15, dtype=np.float64)


def theirs(radius: float, table: TableTop, film: float) -> Array:
    """The same, by finite volumes: a film on a disc, the rest of the table's top insulated; Alexander's scheme. [J]"""
    inner = radius - growing(radius / 200, radius)[::-1]
    r = np.concatenate([[0.0], inner[inner > 0.01 * radius], radius + growing(radius / 200, 25 * radius)[1:]])
    z = growing(radius / 200, 25 * radius)
    middle, depth, ring, height = 0.5 * (r[1:] + r[:-1]), 0.5 * (z[1:] + z[:-1]), np.pi * np.diff(r**2), np.diff(z)
    number = np.arange(len(height) * len(ring)).reshape(len(height), len(ring))
    down = table.conductivity * ring[None, :] / np.diff(depth)[:, None]
    across = 2.0 * np.pi * table.conductivity * height[:, None] / np.log(middle[1:] / middle[:-1])[None, :]
    first, second, value = (
        np.concatenate([one.ravel(), two.ravel()])
        for one, two in ((number[:-1], number[:, :-1]), (number[1:], number[:, 1:]), (down, across))
    )
    joined = sparse.coo_matrix((value, (first, second)), shape=(number.size,) * 2)
    joined = joined + joined.T
    top = np.zeros(number.size)
    top[number[0]] = np.where(middle < radius, ring / (1.0 / film + 0.5 * height[0] / table.conductivity), 0.0)
    matrix = sparse.diags(np.asarray(joined.sum(axis=1)).ravel() + top) - joined
    capacity = (table.volumetric_capacity * ring[None, :] * height[:, None]).ravel()
    state, gamma, found = np.zeros(number.size), 1.0 - np.sqrt(0.5), []
    for span in np.diff(TIMES, prepend=0.0):
        step = span / 12.0
        solver = splu((sparse.diags(capacity) + gamma * step * matrix).tocsc())
        for _ in range(12):
            one = solver.solve(top - matrix @ state)
            two = solver.solve(top - matrix @ (state + (1.0 - gamma) * step * one))
            state = state + step * ((1.0 - gamma) * one + gamma * two)
        found.append(float(capacity @ state))
    return np.array(found, dtype=np.float64)


@pytest.mark.parametrize("name", ["wood", "plastic", "glass", "stone"])
def test_a_table_takes_up_what_the_fine_grid_says(name: str) -> None:
    table = TABLES[name]
    assert table is not None
    np.testing.assert_allclose(ours(0.037, table, FILM) / theirs(0.037, table, FILM), 1.0, atol=0.06)


def test_at_rest_alone_wood_would_take_up_half_of_it() -> None:
    wood = TABLES["wood"]
    assert wood is not None
    resting = 1.0 / (1.0 / (FILM * np.pi * 0.037**2) + 1.0 / (4.0 * wood.conductivity * 0.037))
    share = resting * TIMES / theirs(0.037, wood, FILM)
    assert share[1] == pytest.approx(0.46, abs=0.02)
    assert share[2] == pytest.approx(0.57, abs=0.02)


def test_the_grid_starts_as_a_plane_and_ends_as_a_disc() -> None:
    """Carslaw and Jaeger: a half-space behind a film takes up sqrt(t) early, and 4 k a at rest."""
    metal = TableTop(1e5, 1e6)
    assert theirs(0.037, metal, FILM)[-1] == pytest.approx(TIMES[-1] / (1.0 / (FILM * np.pi * 0.037**2)), rel=0.01)
    slow = TableTop(0.14, 9e9)
    plane = 2.0 * np.sqrt(slow.conductivity * slow.volumetric_capacity * TIMES[-1] / np.pi) * np.pi * 0.037**2
    assert theirs(0.037, slow, 1e4)[-1] == pytest.approx(plane, rel=0.06)


def test_a_vacuum_in_the_base_or_long_use_leaves_no_table_to_warm() -> None:
    flask, bottle = load_container("slim_neck_double_seal"), load_container("single_wall_steel")
    assert table_node(0) not in assemble(flask, scenario()).names
    assert table_node(0) in assemble(bottle, scenario()).names
    assert table_node(0) not in assemble(bottle, scenario(stands_on="nothing")).names
    assert table_node(0) not in assemble(bottle, scenario(walls="preheated")).names


@pytest.mark.parametrize(("start", "until"), [("85 C", 333.15), ("3 C", 285.15)])
def test_a_warming_table_shortens_by_some_per_cent_and_leaves_the_loss_at_rest(
    start: str, until: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    bottle, case = load_container("single_wall_steel"), scenario(start=start, room="22 C")
    warming = predict(bottle, case, [until], draws=0)
    monkeypatch.setitem(TABLES, "wood", TableTop(0.14, 1.0))
    resting = predict(bottle, case, [until], draws=0)
    times = [prediction.hold_times[0].nominal or np.nan for prediction in (warming, resting)]
    assert 0.96 < times[0] / times[1] < 0.99
    assert warming.heat_loss_coefficient == pytest.approx(resting.heat_loss_coefficient, rel=1e-9)
