"""Walls, foam and lids against a fine grid of finite volumes, and the limits in which two descriptions are one.

The fine grid reproduces the published finite-element cases within 1 % (tests/benchmarks/fine_grid.py), and so may judge
changes of them: each of these was off by more than is allowed while a mechanism was missing.
"""

from typing import Any

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from geometries.container import Container, fittings_mass
from geometries.design_file import load_container
from geometries.materials import material
from geometries.overrides import with_overrides, with_values
from geometries.shapes import Profile
from tests.benchmarks.fine_grid import paths_of
from tests.benchmarks.random_grids import errors, random_inputs
from tests.published.fem_cases import FemCase, fem_cases
from tests.published.formulas import rayleigh_number
from tests.thermal_model.runs import heat_loss_coefficient, hold_time, scenario
from thermal_model.assemble.build import assemble
from thermal_model.assemble.stations import Crossing
from thermal_model.physics.enclosed_layers import nusselt_layer_heated_below_hollands
from thermal_model.physics.radiation import grey_heat_flux
from thermal_model.scenario import Scenario
from thermal_model.solver.laws import LAYER_HORIZONTAL

CASES = {case.name.split("_")[0]: case for case in fem_cases()}
HOT = {"start": "90 C", "room": "20 C"}

CHANGES: dict[str, tuple[str, dict[str, float]]] = {
    "full to 98 %, the level near the lip": ("02", {"fill_mL": 582.0}),
    "full to 98 %, a wide mouth": ("15", {"fill_mL": 740.0}),
    "a tenth full": ("15", {"fill_mL": 75.0}),
    "a lip 2 mm high": ("02", {"t_lip": 0.002}),
    "vapour in the headspace": ("15", {"h_head": 1000.0}),
    "still air in the headspace": ("02", {"h_head": 4.0}),
    "an overhang of 8 mm": ("e1", {"lid_overhang": 0.008}),
    "an overhang of 8 mm with a pocket": ("05", {"lid_overhang": 0.008}),
    "a wall around the pocket 8 mm wide": ("05", {"lid_t_side": 0.008}),
    "a pocket that conducts well": ("05", {"k_pocket": 0.15}),
    "a wall of stoneware 7 mm thick": ("a1", {"t_in": 0.007}),
    "a wall of plastic with a neck": ("a3", {"Rm": 0.025, "Ln": 0.03}),
    "a foamed wall with a wide mouth": ("b2", {"Rm": 0.045}),
    "foam under a lip 0.3 mm high": ("b2", {"Rm": 0.045, "t_lip": 0.0003}),
    "a foamed wall of plastic": ("b2", {"k_steel": 0.2, "t_in": 0.002, "t_out": 0.002, "t_lip": 0.004}),
}


@pytest.mark.parametrize("change", CHANGES)
def test_changed_cases_agree_with_a_fine_grid(change: str) -> None:
    name, inputs = CHANGES[change]
    case = FemCase(change, CASES[name].inputs | inputs, {})
    ours, fine = case.heat_paths(), paths_of(case.inputs)
    assert ours["UA"] == pytest.approx(fine["UA"], rel=0.02)
    assert abs(ours["UA_gap_base"] - fine["UA_gap_base"]) < 0.03 * fine["UA"]
    for path, parts in case.paths.items():
        assert sum(ours[p] for p in parts) == pytest.approx(sum(fine[p] for p in parts), rel=0.05), path


MISSED_ONCE = [("plug", 11), ("plug", 55), ("plug", 96), ("gap", 6), ("gap", 62), ("gap", 84)]


@pytest.mark.parametrize(("kind", "seed"), MISSED_ONCE)
def test_random_cases_that_missed_once_agree_with_a_fine_grid(kind: str, seed: int) -> None:
    """A seal that carries heat to the lid over a wide clearance, the core of a plug; necks beside wide gaps."""
    found = errors(random_inputs(kind, seed))
    assert abs(found["UA"]) < 1.5
    assert max(abs(found["UA_lid"]), abs(found["UA_bridge"]), abs(found["UA_gap_side"])) < 4.5


# --- foam ------------------------------------------------------------------------------------------------------------


def foamed(skin: str) -> Container:
    """20 mm of foam between two skins of the same foam, or a single wall of it."""
    wall: dict[str, Any] = {"kind": "single", "material": "polyurethane_foam", "inner_thickness": "20 mm"}
    body: dict[str, Any] = {"inside_diameter": "80 mm", "inside_depth": "150 mm", "wall": wall}
    if skin:
        body["wall"] = {"material": "polyurethane_foam", "inner_thickness": skin, "outer_thickness": skin}
        body["gap"] = {"kind": "foam", "width": "20 mm", "foam_material": "polyurethane_foam"}
    lid = {"layers": [{"kind": "solid", "thickness": "10 mm"}], "seals": [{"depth": "0 mm"}]}
    return Container.model_validate({"name": "foamed", "body": body, "lid": lid})


def test_a_wall_of_foam_is_a_foamed_gap_with_thin_skins() -> None:
    single, gap = foamed(""), foamed("0.05 mm")
    case = scenario(**HOT, fill="600 mL")
    assert heat_loss_coefficient(single, case) == pytest.approx(heat_loss_coefficient(gap, case), rel=0.03)
    for walls in ("room", "preheated"):
        times = [hold_time(one, scenario(**HOT, fill="600 mL", walls=walls), 333.15) for one in (single, gap)]
        assert times[0] == pytest.approx(times[1], rel=0.03)


def test_foam_in_a_gap_holds_heat() -> None:
    jug = load_container("foam_jug")
    net = assemble(jug, scenario(**HOT))
    held = sum(float(net.capacities[k, 0]) for k, name in enumerate(net.names) if name.startswith("foam_"))
    foam = material("polyurethane_foam")
    handle = with_overrides(jug, {"body.handle": None})
    assert held == pytest.approx(float(fittings_mass(handle)) * foam.heat_capacity, rel=1e-9)


def test_a_slight_bend_counts_half_and_a_short_step_nothing() -> None:
    """A layer across a step that shrinks to nothing conducts as a straight one, however thick it is. Exact."""

    def conducts(step: float) -> float:
        rise = 0.1 + 0.02 * (step > 0.0)
        near = Profile(radii=(0.04, 0.04, 0.04 - step, 0.04 - step), heights=(0.0, 0.1, 0.1, 0.15))
        far = Profile(radii=(0.06, 0.06, 0.06 - step, 0.06 - step), heights=(0.0, rise, rise, 0.15))
        ends = np.array([[0.0], [0.07], [0.15 + step]])
        return float(Crossing.cut(near, far, ends).side.sum())

    straight = 2.0 * np.pi * 0.15 / np.log(0.06 / 0.04)
    assert conducts(0.0) == pytest.approx(straight, rel=1e-9)
    assert conducts(1e-5) == pytest.approx(straight, rel=2e-3)


# --- walls and lids --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pinned", [True, False])
def test_a_ring_as_wide_as_wall_and_overhang_is_no_special_case(pinned: bool) -> None:
    """Where the pocket ends straight above the mouth there once was a column without width."""
    fem = CASES["05"]
    case = fem.scenario() if pinned else scenario(**HOT, fill="500 mL")
    width = fem.inputs["t_in"] + fem.inputs["g"] + fem.inputs["t_out"]
    sides = (width - 1e-5, width, width + 1e-5)
    losses = [heat_loss_coefficient(with_values(fem.container, {"lid.side_thickness": side}), case) for side in sides]
    assert np.all(np.isfinite(losses))
    assert losses[1] == pytest.approx(0.5 * (losses[0] + losses[2]), rel=1e-4)


def test_a_thicker_wall_of_plastic_loses_less() -> None:
    cup = with_overrides(load_container("single_wall_steel"), {"body.wall.material": "polypropylene"})
    thicknesses = (0.001, 0.002, 0.004)
    losses = [
        heat_loss_coefficient(with_values(cup, {"body.wall.inner_thickness": t}), scenario(**HOT, fill="300 mL"))
        for t in thicknesses
    ]
    # Though its outside is larger.
    assert losses[0] > 1.01 * losses[1] > 1.02 * losses[2]


def test_no_overhang_is_the_limit_of_a_small_one() -> None:
    lid = load_container("thin_disc_lid")
    losses = [
        heat_loss_coefficient(with_values(lid, {"lid.overhang": overhang}), scenario(**HOT))
        for overhang in (0.0, 1e-7, 1e-5, 1e-4)
    ]
    assert losses[1] == pytest.approx(losses[0], rel=1e-6)
    assert losses[2] == pytest.approx(losses[0], rel=1e-3)
    assert losses[3] == pytest.approx(losses[0], rel=1e-2)


def test_a_thick_wall_around_a_short_neck_has_no_negative_part() -> None:
    """Outside, a neck of 7.6 mm in a wall of 4.5 mm is 2 mm long, a third of what it lies opposite of inside."""
    cup = load_container("stoneware_cup")
    neck = {"mouth_diameter": "42 mm", "length": "7.6 mm"}
    wall = {"kind": "single", "material": "stoneware", "inner_thickness": "4.5 mm"}
    body = {
        "inside_diameter": "82 mm",
        "inside_depth": "97.6 mm",
        "neck": neck,
        "wall": wall,
        "lip": {"thickness": "1.1 mm"},
    }
    short = Container.model_validate({"name": "short", "body": body})
    for container in (cup, short):
        network = assemble(container, Scenario(), lanes=1)
        assert (network.capacities[1:] > 0.0).all()


def test_a_deep_pocket_convects_as_a_level_layer_of_air() -> None:
    """Hollands et al., J. Heat Transfer 98 (1976) 189, with air as CoolProp has it, and grey plates beside it."""
    depth, below, above = 0.04, 330.0, 300.0
    design = with_overrides(load_container("air_pocket_lid"), {"lid.layers.1.depth": "40 mm"})
    net = assemble(design, scenario(**HOT))
    group = next(group for group in net.phases[0].links.groups if group.law is LAYER_HORIZONTAL)
    area = group.parameters[group.law.parameters.index("area"), :, 0]
    pockets = np.flatnonzero([net.names[start].startswith("lid_0") for start in group.start] & (area > 0.0))
    assert len(pockets) > 3
    for number in pockets:
        parameters = dict(zip(group.law.parameters, group.parameters[:, number, 0], strict=True))
        flux = group.law.flow(below, above, *parameters.values()) / area[number]
        radiative = grey_heat_flux(below, above, parameters["exchange_factor"])
        mean = 0.5 * (below + above)
        k, rho, cp, mu = (PropsSI(key, "T", mean, "P", 101325.0, "Air") for key in ("L", "D", "C", "V"))
        rayleigh = rayleigh_number(below - above, depth, 1.0 / mean, mu / rho, k / (rho * cp))
        nusselt = float(nusselt_layer_heated_below_hollands(rayleigh))
        assert nusselt > 3.0
        assert flux - radiative == pytest.approx(nusselt * k / depth * (below - above), rel=0.01)
