"""Plug, seals and the annulus between plug and neck: smooth in every depth, and each end that of the simpler thing."""

from typing import Any

import numpy as np
import pytest

from geometries.container import Container, annulus_depth
from geometries.design_file import catalogue_names, load_container
from geometries.numeric import Array
from geometries.overrides import with_overrides, with_values
from tests.thermal_model.runs import heat_loss_coefficient, loss_at_rest, scenario
from thermal_model.assemble.build import assemble
from thermal_model.assemble.contents import contents_of
from thermal_model.assemble.lanes import Lanes
from thermal_model.follow import follow
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import steady_state
from thermal_model.solver.network import CONTENTS, PATHS
from thermal_model.solver.rates import RightHandSide, contents_enthalpy
from thermal_model.unknowns import Unknowns

HOT = scenario(start="75 C", room="20 C", fill="450 mL")
COLD = scenario(start="4 C", room="22 C", fill="450 mL")
WALKED = ("slim_neck_double_seal", "single_seal_plug", "clearance_insert", "open_plug")
STEP = 1e-4


def sealed_at(container: Container, depths: Array) -> Container:
    """The container with one seal in place of its own, at as many depths [m] as lanes."""
    return with_values(with_overrides(container, {"lid.seals": [{"depth": "0 mm"}]}), {"lid.seals.0.depth": depths})


def depths_of(container: Container) -> Array:
    assert container.lid is not None
    assert container.lid.plug is not None
    return np.append(np.arange(0.0, float(container.lid.plug.depth), STEP), container.lid.plug.depth)


def losses(container: Container, case: Scenario, lanes: int) -> Array:
    """What the contents of each lane lose at rest, to the cold side if they are the colder. [W]"""
    net = assemble(container, case, lanes=lanes)
    enthalpy = np.full(lanes, contents_enthalpy(contents_of(case), case.start))
    room = net.room.at(np.zeros(lanes))
    rhs = RightHandSide(net, net.phases[-1].links)
    flows = rhs.flows(rhs.temperatures(steady_state(net, net.phases[-1], enthalpy, room), room))
    return np.abs(rhs.heating(flows)[CONTENTS])


def largest_jump(values: Array) -> float:
    """Of neighbours, relative."""
    return float(np.max(np.abs(np.diff(np.log(values)))))


def with_plug(container: Container, depth: str, **plug: Any) -> Container:
    """The container with a plug of a kind, without a seal."""
    document = {"kind": "solid", "depth": depth, "clearance": "2.5 mm"} | plug
    return with_overrides(container, {"lid.seals": [], "lid.plug": document})


# --- seals ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", WALKED)
def test_hold_time_rises_smoothly_as_a_seal_moves_down(name: str) -> None:
    """Hot: the deeper the seal, the less of the neck vapour heats. A tenth of a millimetre moves it by half a percent
    at most: there is no depth from which on a seal counts."""
    container = load_container(name)
    depths = depths_of(container)
    found = losses(sealed_at(container, depths), HOT, len(depths))
    assert largest_jump(found) < 0.005
    # A seal on the rim reaches half as far down as one a millimetre lower, which touches that much more of the neck.
    assert np.all(found < 1.002 * np.minimum.accumulate(found))
    assert found[-1] < 0.97 * found[0]


@pytest.mark.parametrize("name", WALKED)
def test_cold_a_seal_s_depth_makes_no_jump(name: str) -> None:
    container = load_container(name)
    depths = depths_of(container)
    assert largest_jump(losses(sealed_at(container, depths), COLD, len(depths))) < 0.005


def test_a_seal_flush_with_the_plug_s_foot_takes_no_more_steps() -> None:
    """Cells of next to no length below it made two to eight times as many."""
    design = load_container("slim_neck_double_seal")
    ends = annulus_depth(design) - np.array([5e-3, 5e-4, 1e-4, 0.0])
    runs = Lanes(with_values(design, {"lid.seals.1.depth": ends - 1e-3}), Scenario(), count=len(ends))
    curves = follow(runs, [333.15], record=True).curves
    steps = np.array([len(curve.trajectory.times[curve.lane]) for curve in curves if curve is not None])
    assert steps[0] > 30
    assert (steps[1:] < 1.2 * steps[0]).all()


def test_seals_of_any_depth_and_order_share_a_network() -> None:
    container = load_container("slim_neck_double_seal")
    depths = {
        "lid.seals.0.depth": np.array([0.0, 0.036, 0.003, 0.02]),
        "lid.seals.1.depth": np.array([0.036, 0.0, 0.0055, 0.010]),
    }
    together = losses(with_values(container, depths), HOT, 4)
    alone = [
        losses(with_values(container, {path: float(column[k]) for path, column in depths.items()}), HOT, 1)[0]
        for k in range(4)
    ]
    np.testing.assert_allclose(together, alone, rtol=1e-9)
    assert together[0] == pytest.approx(together[1], rel=1e-9)  # which of the two is named first does not matter


def test_an_upper_seal_moves_smoothly_too() -> None:
    container = load_container("slim_neck_double_seal")
    depths = np.arange(0.0, 0.0335, STEP)
    found = losses(with_values(container, {"lid.seals.0.depth": depths}), HOT, len(depths))
    assert largest_jump(found) < 0.0005


# --- no seal -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["thin_disc_lid", "wide_mouth_disc", "slim_neck_double_seal", "open_plug"])
def test_a_lid_without_a_seal_leaks(name: str) -> None:
    """Hot contents lose vapour through the gap under the lid: one seal on the rim stops that."""
    container = load_container(name)
    bare = with_overrides(container, {"lid.seals": []})
    sealed = with_overrides(container, {"lid.seals": [{"depth": "0 mm"}]})
    vent = PATHS.index("vent")
    assert loss_at_rest(assemble(bare, HOT), HOT)[1][vent] > 0.005
    assert loss_at_rest(assemble(sealed, HOT), HOT)[1][vent] == 0.0
    assert heat_loss_coefficient(bare, HOT) > 1.005 * heat_loss_coefficient(sealed, HOT)


@pytest.mark.parametrize("name", [n for n in catalogue_names() if load_container(n).lid is not None])
def test_hot_no_lid_is_the_better_for_its_seals_left_out(name: str) -> None:
    container = load_container(name)
    bare = with_overrides(container, {"lid.seals": []})
    sealed = with_overrides(container, {"lid.seals": [{"depth": "0 mm"}]})
    assert heat_loss_coefficient(bare, HOT) > heat_loss_coefficient(sealed, HOT)
    # Cold, nothing evaporates: what rubber conducts and a gap lets in weigh the same, within half a per cent.
    assert heat_loss_coefficient(bare, COLD) > 0.995 * heat_loss_coefficient(sealed, COLD)


def test_a_wider_gap_leaks_more_and_none_leaks_nothing() -> None:
    bare = with_overrides(load_container("thin_disc_lid"), {"lid.seals": []})
    vent = PATHS.index("vent")
    leaks = [
        loss_at_rest(assemble(bare, HOT, Unknowns(lid_gap=factor)), HOT)[1][vent] for factor in (0.0, 0.3, 1.0, 3.0)
    ]
    assert leaks[0] == 0.0
    assert np.all(np.diff(leaks) > 0.0)
    # Hundredths of what the container loses.
    total = loss_at_rest(assemble(bare, HOT), HOT)[0]
    assert 0.01 < leaks[2] / total < leaks[3] / total < 0.1


# --- a plug that goes away -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["solid", "open"])
@pytest.mark.parametrize("name", ["slim_neck_double_seal", "clearance_insert"])
def test_a_plug_of_no_depth_is_no_plug(name: str, kind: str) -> None:
    """Within what the other grid under a plug makes. A hollow plug keeps its floor, which is a further layer."""
    container = load_container(name)
    none = with_overrides(container, {"lid.seals": [], "lid.plug": None})
    without, *rising = [
        loss_at_rest(assemble(design, HOT), HOT)[0]
        for design in (none, *(with_plug(container, f"{d} mm", kind=kind) for d in (0.01, 0.1, 0.5)))
    ]
    assert rising[0] == pytest.approx(without, rel=0.015)
    # From there on the loss falls evenly, as the plug takes the vapour off the lip's inner face, 0.8 mm high.
    first, second = (rising[0] - rising[1]) / 0.09, (rising[1] - rising[2]) / 0.4
    assert first == pytest.approx(second, rel=0.3)
    assert rising[2] == pytest.approx(rising[0], rel=0.015)


@pytest.mark.parametrize("kind", ["solid", "open"])
def test_a_plug_grows_without_a_jump(kind: str) -> None:
    container = with_plug(load_container("slim_neck_double_seal"), "1 mm", kind=kind)
    depths = np.arange(1e-4, 0.044, STEP)
    assert largest_jump(losses(with_values(container, {"lid.plug.depth": depths}), HOT, len(depths))) < 0.012


def test_a_plug_reaches_past_a_flat_shoulder_without_a_jump() -> None:
    """From the neck's foot on it hangs in the headspace; the shoulder's ring never faces it, and stays heated."""
    container = with_overrides(load_container("single_seal_plug"), {"body.neck.shoulder_height": "0 mm"})
    depths = np.arange(0.033, 0.0375, STEP)  # the neck is 35 mm long
    assert largest_jump(losses(with_values(container, {"lid.plug.depth": depths}), HOT, len(depths))) < 0.001


def test_a_wide_clearance_leaves_the_lid_over_it_warm() -> None:
    """A short plug that leaves half the mouth open insulates no better than a third over no plug at all."""
    container = load_container("thin_disc_lid")
    bare = with_overrides(container, {"lid.seals": [{"depth": "0 mm"}]})
    plug = {"kind": "solid", "depth": "6 mm", "clearance": "12 mm"}
    short = with_overrides(bare, {"lid.plug": plug})
    assert 0.75 * heat_loss_coefficient(bare, HOT) < heat_loss_coefficient(short, HOT)
    assert heat_loss_coefficient(short, HOT) < 1.05 * heat_loss_coefficient(bare, HOT)


def test_a_solid_plug_has_no_wall() -> None:
    """Its loss does not hang on a wall thickness; `Plug` refuses one."""
    container = load_container("slim_neck_double_seal")
    plug = with_plug(container, "20 mm")
    assert plug.lid is not None
    assert plug.lid.plug is not None
    other = with_values(plug, {"lid.plug.wall_thickness": 0.005})
    assert heat_loss_coefficient(other, HOT) == heat_loss_coefficient(plug, HOT)
