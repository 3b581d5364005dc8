"""Every container of the catalogue as a network: heat that adds up, pins, capacities, order, batches.

Expected numbers are exact or follow from the dimensions; orders between designs are physics, not values.
"""

from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from geometries.container import Container, wall_mass
from geometries.design_file import catalogue_names, load_container
from geometries.materials import material
from geometries.overrides import with_overrides, with_values
from tests.published.fem_cases import fem_cases
from tests.thermal_model.runs import (
    COARSE,
    follow,
    heat_loss_coefficient,
    hold_time,
    loss_at_rest,
    numeric_leaves,
    scenario,
)
from thermal_model.assemble.build import assemble
from thermal_model.follow import limit_enthalpies
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome, integrate
from thermal_model.solver.network import PATHS, Network

ALL = catalogue_names()
LIDDED = [name for name in ALL if load_container(name).lid is not None]
HOT, COLD = {"start": "90 C", "room": "20 C"}, {"start": "2 C", "room": "25 C"}


# --- heat paths --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("orientation", ["upright", "inverted"])
@pytest.mark.parametrize("options", [HOT, COLD], ids=["hot", "cold"])
@pytest.mark.parametrize("name", LIDDED)
def test_paths_add_up_to_what_the_contents_lose(name: str, options: dict[str, str], orientation: str) -> None:
    case = scenario(**options, orientation=orientation)
    loss, paths = loss_at_rest(assemble(load_container(name), case), case)
    assert np.sign(loss) == np.sign(case.start - case.room)
    assert paths.sum() == pytest.approx(loss, rel=1e-6)
    assert np.all(paths * np.sign(loss) >= -1e-9)


def test_paths_add_up_near_boiling_with_a_large_headspace() -> None:
    # Here a plain Newton method does not find the state of rest.
    for name in ("foam_jug", "night_watch_can_two_litre", "slim_neck_double_seal"):
        case = scenario(start="95 C", fill="200 mL")
        loss, paths = loss_at_rest(assemble(load_container(name), case), case)
        assert paths.sum() == pytest.approx(loss, rel=1e-6)


def test_heat_leaves_through_an_open_hole_only() -> None:
    tumbler, case = load_container("handled_tumbler_straw"), scenario(start="80 C", fill="600 mL")
    closed = with_overrides(tumbler, {"lid.openings.0.closed": True})
    vent = PATHS.index("vent")
    assert loss_at_rest(assemble(tumbler, case), case)[1][vent] > 0.3
    assert loss_at_rest(assemble(closed, case), case)[1][vent] == 0.0
    assert heat_loss_coefficient(closed, case) < heat_loss_coefficient(tumbler, case)


# --- pins --------------------------------------------------------------------------------------------------------

FEM = {case.name: case for case in fem_cases()}
PLUG, POCKET = FEM["07_m44_plug_2seal"], FEM["05_m44_pocket"]

RAISES_LOSS = [
    "exterior_film",
    "base_film",
    "headspace_film",
    "wetted_film",
    "annulus_film",
    "gap_conductance",
    "lid_contact",
    "pocket_conductivity",
    "layer_conductivity",
    "plug_core_conductivity",
    "seal_conductivity",
    "annulus_conductivity",
    "wall_conductivity",
]
ADDS_CAPACITY = ["wall_density", "wall_heat_capacity", "layer_density", "layer_heat_capacity"]
ADDS_CONTENTS = ["contents_density", "contents_heat_capacity"]
ACTS_ON = {"gap_conductance": "gap_side", "base_film": "base", "pocket_conductivity": "lid"}


def pinned(case: Scenario, name: str, factor: float) -> Scenario:
    pins = case.pins.model_copy(update={name: factor * getattr(case.pins, name)})
    return case.model_copy(update={"pins": pins})


def fem_of(pin: str) -> Any:
    return POCKET if pin == "pocket_conductivity" else PLUG


@pytest.mark.parametrize("pin", RAISES_LOSS)
def test_a_pin_on_a_path_acts_on_the_loss(pin: str) -> None:
    fem = fem_of(pin)
    low, high = (pinned(fem.scenario(), pin, factor) for factor in (0.5, 2.0))
    before, before_paths = loss_at_rest(assemble(fem.container, low), low)
    after, after_paths = loss_at_rest(assemble(fem.container, high), high)
    # A film in the liquid hardly matters, but it matters.
    assert after > before * (1.0 + 1e-6)
    if pin in ACTS_ON:
        changes = after_paths - before_paths
        assert PATHS[int(np.argmax(changes))] == ACTS_ON[pin]


@pytest.mark.parametrize("pin", ADDS_CAPACITY)
def test_a_pin_on_a_solid_acts_on_its_capacity_alone(pin: str) -> None:
    plain, heavy = PLUG.scenario(), pinned(PLUG.scenario(), pin, 2.0)
    first, second = assemble(PLUG.container, plain), assemble(PLUG.container, heavy)
    part = "lid" if pin.startswith("layer") else "wall"
    chosen = [k for k, name in enumerate(first.names) if name.startswith(f"{part}_") and "filling" not in name]
    solid = [k for k in chosen if not first.names[k].endswith("_rim")]
    np.testing.assert_allclose(second.capacities[solid], 2.0 * first.capacities[solid], rtol=1e-12)
    assert loss_at_rest(second, heavy)[0] == pytest.approx(loss_at_rest(first, plain)[0], rel=1e-9)


@pytest.mark.parametrize("pin", ADDS_CONTENTS)
def test_a_pin_on_the_contents_stretches_the_time(pin: str) -> None:
    plain, heavy = PLUG.scenario("preheated"), pinned(PLUG.scenario("preheated"), pin, 2.0)
    ratio = hold_time(PLUG.container, heavy, 343.15) / hold_time(PLUG.container, plain, 343.15)
    # Twice the contents, and the same walls, which hold a few percent.
    assert 1.85 < ratio < 2.0


def test_every_pin_is_tried() -> None:
    assert {*RAISES_LOSS, *ADDS_CAPACITY, *ADDS_CONTENTS} == set(type(PLUG.scenario().pins).model_fields)


@pytest.mark.parametrize("name", FEM)
def test_a_network_with_every_pin_is_linear(name: str) -> None:
    container, case = FEM[name].container, FEM[name].scenario()
    net = assemble(container, case)
    once, twice = (loss_at_rest(net, case, float(case.room) + difference)[0] for difference in (20.0, 40.0))
    assert twice == pytest.approx(2.0 * once, rel=1e-8)


def test_without_pins_it_is_not() -> None:
    container, case = load_container("thin_disc_lid"), scenario(**HOT)
    net = assemble(container, case)
    once, twice = (loss_at_rest(net, case, float(case.room) + difference)[0] for difference in (30.0, 60.0))
    assert twice > 2.05 * once


# --- the lumped limit --------------------------------------------------------------------------------------------


def test_a_copper_cup_follows_newton_s_law_of_cooling() -> None:
    """Films of 5 W/m2K outside, none to speak of inside: one exponential with UA = h A and all capacities. Exact."""
    cup = Container.model_validate(
        {
            "name": "copper_cup",
            "body": {
                "inside_diameter": "80 mm",
                "inside_depth": "100 mm",
                "wall": {"kind": "single", "inner_thickness": "1 mm"},
            },
            "lid": {"layers": [{"kind": "solid", "thickness": "20 mm"}], "seals": [{"depth": "0 mm"}]},
        }
    )
    perfect = {f"{name}_film": "1e6 W/m2K" for name in ("headspace", "wetted")}
    pins = perfect | {
        "exterior_film": "5 W/m2K",
        "base_film": "5 W/m2K",
        "lid_contact": "1e6 W/m2K",
        "layer_conductivity": "400 W/mK",
        "wall_conductivity": "400 W/mK",
        "wall_density": "8900 kg/m3",
        "wall_heat_capacity": "385 J/kgK",
        "layer_density": "8900 kg/m3",
        "layer_heat_capacity": "385 J/kgK",
        "contents_density": "1000 kg/m3",
        "contents_heat_capacity": "4200 J/kgK",
    }
    case = scenario(start="80 C", room="20 C", fill="400 mL", walls="preheated", pins=pins)
    radius, height = 0.041, 0.101
    area = 2.0 * np.pi * radius**2 + 2.0 * np.pi * radius * (height + 0.020)
    copper = 2.0 * np.pi * 0.0405 * 0.1 * 0.001 + np.pi * radius**2 * (0.001 + 0.020)
    capacity = 0.4 * 4200.0 + 8900.0 * 385.0 * copper
    for limit in (70.0, 50.0, 30.0):
        expected = capacity / (5.0 * area) * np.log(60.0 / (limit - 20.0))
        assert hold_time(cup, case, 273.15 + limit) == pytest.approx(expected, rel=1e-3)


# --- heat capacities ---------------------------------------------------------------------------------------------


def capacity_of(net: Network, *prefixes: str) -> float:
    return sum(float(net.capacities[k, 0]) for k, name in enumerate(net.names) if name.startswith(prefixes))


@pytest.mark.parametrize("name", ALL)
def test_walls_hold_what_their_mass_says(name: str) -> None:
    container = load_container(name)
    wall = container.body.wall
    inner, outer = (material(name) for name in (wall.material, wall.outer_material or wall.material))
    net = assemble(container, scenario(**HOT))
    # The lip is of the inner wall's material; a shell of another one is taken off both sides.
    ours, mass = capacity_of(net, "wall_", "floor", "shell", "lip_"), float(wall_mass(container))
    if outer is not inner:
        shell = capacity_of(net, "shell")
        ours, mass = ours - shell, mass - shell / float(outer.heat_capacity)
    assert ours == pytest.approx(mass * float(inner.heat_capacity), rel=0.03)


# --- order between designs ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "path", "values", "options"),
    [
        ("foam_jug", "body.gap.width", [0.005, 0.01, 0.02, 0.04], COLD),
        ("foam_jug", "lid.layers.1.depth", [0.01, 0.02, 0.04], COLD),
        ("thin_disc_lid", "lid.layers.0.thickness", [0.002, 0.004, 0.008, 0.016], HOT),
        ("three_layer_wall", "body.gap.pressure", [1e4, 10.0, 1.0, 0.1, 0.001], HOT),
        ("three_layer_wall", "body.gap.shields", [0, 1, 2, 3], HOT),
        ("thin_disc_lid", "body.neck.mouth_diameter", [0.060, 0.050, 0.040, 0.030], HOT),
        ("honeycomb_insert", "lid.layers.1.cell_size", [0.020, 0.012, 0.008], HOT),
    ],
)
def test_better_insulation_never_loses_more(name: str, path: str, values: list[Any], options: dict[str, str]) -> None:
    case = scenario(**options)
    losses = [heat_loss_coefficient(with_values(load_container(name), {path: value}), case) for value in values]
    assert all(better < worse * (1.0 + 1e-9) for worse, better in pairwise(losses)), losses


@pytest.mark.parametrize("name", ["slim_neck_double_seal", "thin_disc_lid", "foam_jug", "stoneware_cup"])
def test_full_holds_longer_than_half_full(name: str) -> None:
    # Common practice, no source: the heat goes with the volume, most of the loss does not.
    container = load_container(name)
    full = 0.9 * float(full_mass(container)) / 965.0
    times = [hold_time(container, scenario(**HOT, fill=f"{v * 1e6:.0f} mL"), 338.15) for v in (0.5 * full, full)]
    assert times[1] > 1.2 * times[0]


def test_many_pours_share_stretches_of_wall() -> None:
    # 40 pours: the wall is cut into fewer stretches than that, and what leaves with each pour is all there.
    case = scenario(
        **HOT, fill="600 mL", openings=[{"at": "5 min", "duration": "5 s", "pour": "10 mL", "every": "5 min"}]
    )
    net = assemble(load_container("thin_disc_lid"), case)
    masses = [float(phase.mass[0]) for phase in net.phases]
    assert net.node_count < 120
    assert masses == sorted(masses, reverse=True)
    assert len(set(masses)) > 50
    assert float(follow(load_container("thin_disc_lid"), case, 338.15).balance_error[0]) < 1e-6


def full_mass(container: Container) -> float:
    return float(assemble(container, scenario(**HOT)).phases[-1].mass[0])


def test_preheated_walls_hold_longer_than_cold_ones() -> None:
    container = load_container("thin_disc_lid")
    cold, warm = (hold_time(container, scenario(**HOT, walls=walls), 348.15) for walls in ("room", "preheated"))
    preheat = {"duration": "5 min", "temperature": "95 C"}
    between = hold_time(container, scenario(**HOT, preheat=preheat), 348.15)
    assert cold < between
    assert between == pytest.approx(warm, rel=0.05)


def test_wind_and_a_steel_table_take_more() -> None:
    container = load_container("single_wall_steel")
    losses = [
        heat_loss_coefficient(container, scenario(**HOT, **more))
        for more in ({"stands_on": "cork"}, {"stands_on": "steel"}, {"stands_on": "steel", "wind": "4 m/s"})
    ]
    assert losses[0] < losses[1] < 0.7 * losses[2]


# --- every design in every use -----------------------------------------------------------------------------------

USES: dict[str, tuple[dict[str, Any], float]] = {
    "hot": (HOT, 353.15),
    "cold": (COLD, 278.15),
    "ice": ({**COLD, "start": "5 C", "fill": "120 mL", "ice": "40 g"}, 276.15),
    "pours": (
        {**HOT, "openings": [{"at": f"{m} min", "duration": "15 s", "pour": "30 mL"} for m in (20, 40)]},
        353.15,
    ),
}


@pytest.mark.parametrize("use", USES)
@pytest.mark.parametrize("name", ALL)
def test_every_design_can_be_followed(name: str, use: str) -> None:
    options, limit = USES[use]
    trajectory = follow(load_container(name), scenario(**options), limit, horizon=7200.0)
    assert trajectory.outcome[0] != Outcome.FAILED
    assert trajectory.balance_error[0] <= 1e-6
    assert np.isfinite(trajectory.crossing_times[0, 0]) or trajectory.end_time[0] == pytest.approx(7200.0)


@pytest.mark.parametrize("name", ["slim_neck_double_seal", "open_plug", "handled_tumbler_straw"])
def test_upside_down_runs(name: str) -> None:
    case = scenario(**HOT, fill="200 mL", orientation="inverted")
    upright = case.model_copy(update={"orientation": "upright"})
    assert np.isfinite(hold_time(load_container(name), case, 343.15))
    # Hot liquid against the lid: no still air, no headspace between. At 60 C, where vapour carries less than water
    # does; at 90 C it heats a dry wall as well as water would.
    turned, standing = (one.model_copy(update={"start": 333.15}) for one in (case, upright))
    assert heat_loss_coefficient(load_container(name), turned) > heat_loss_coefficient(load_container(name), standing)


# --- batches -----------------------------------------------------------------------------------------------------


@cache
def perturbed(name: str) -> tuple[Container, list[Container]]:
    """Every number of a design moved a little, in three lanes; and the three one by one."""
    generator, container = np.random.default_rng(11), load_container(name)
    leaves = {p: v * (1.0 + 0.004 * generator.uniform(-1.0, 1.0, 3)) for p, v in numeric_leaves(container)}
    assert len(leaves) > 4
    singles = [with_values(container, {p: float(v[k]) for p, v in leaves.items()}) for k in range(3)]
    return with_values(container, leaves), singles


@pytest.mark.parametrize("name", ALL)
def test_lanes_of_a_batch_are_the_designs_one_by_one(name: str) -> None:
    together, singles = perturbed(name)
    openings = [{"at": "20 min", "duration": "15 s", "pour": "30 mL"}]
    case = scenario(**HOT, openings=openings)
    batch = assemble(together, case, lanes=3)
    for k, single in enumerate(singles):
        assert_same_network(batch.take_lanes(np.array([k])), assemble(single, case))


def assert_same_network(ours: Network, other: Network) -> None:
    assert ours.names == other.names
    np.testing.assert_allclose(ours.capacities, other.capacities, rtol=1e-9)
    np.testing.assert_allclose(ours.initial, other.initial, rtol=1e-12)
    for phase, single in zip(ours.phases, other.phases, strict=True):
        np.testing.assert_allclose(phase.mass, single.mass, rtol=1e-12)
        for group, alone in zip(phase.links.groups, single.links.groups, strict=True):
            assert group.law == alone.law
            np.testing.assert_array_equal(group.start, alone.start)
            np.testing.assert_array_equal(group.end, alone.end)
            np.testing.assert_allclose(group.parameters, alone.parameters, rtol=1e-8, atol=1e-12)


def test_a_batch_runs_as_its_designs_do() -> None:
    together, singles = perturbed("clearance_insert")
    case = scenario(**HOT)
    limits = limit_enthalpies(case, [353.15], 3)
    batch = integrate(assemble(together, case, lanes=3), limits, np.full(3, 1e6), tolerance=COARSE)
    alone = [hold_time(single, case, 353.15) for single in singles]
    np.testing.assert_allclose(batch.crossing_times[0], alone, rtol=1e-6)
