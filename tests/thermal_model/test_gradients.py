"""Gradients of hold times: against the reference solver, a closed form, and where a side is missing."""

import numpy as np
import pytest

from geometries.container import Container, closed_capacity
from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.numeric import Array
from geometries.overrides import with_overrides
from tests.geometries.designs import bottle
from tests.reference_solver import solve_reference
from tests.thermal_model.runs import scenario
from thermal_model.assemble.build import assemble
from thermal_model.batch import with_numbers
from thermal_model.follow import limit_enthalpies
from thermal_model.gradients import gradients
from thermal_model.scenario import Scenario

CUP, TEA = load_container("stoneware_cup"), scenario(start="90 C", fill="300 mL")
LIMITS = (353.15, 343.15)
MOUTH = "body.neck.mouth_diameter"


def reference_times(numbers: dict[str, float]) -> Array:
    container, run, unknowns = with_numbers(CUP, TEA, {path: np.array([value]) for path, value in numbers.items()})
    network = assemble(container, run, unknowns)
    levels = limit_enthalpies(run, LIMITS, 1)[:, 0]
    return solve_reference(network, levels, 1000.0, relative_tolerance=1e-9).crossing_times


def test_gradient_is_that_of_the_reference_solver() -> None:
    """LSODA at 1e-9 on the same right-hand side, two runs a thousandth (of kelvins a ten-thousandth) apart each."""
    numbers = {"body.inside_depth": (CUP.body.inside_depth, 1e-3), "scenario.room": (293.15, 1e-4)}
    found = gradients(CUP, TEA, LIMITS, list(numbers))
    for column, (path, (value, share)) in enumerate(numbers.items()):
        assert value is not None
        step = share * float(value)
        up, down = (reference_times({path: float(value) + sign * step}) for sign in (1.0, -1.0))
        # The first limit is passed while the walls still warm up, where the engine's own error counts most.
        expected = ((up - down) / (2.0 * step)).ravel()
        np.testing.assert_allclose(found.slopes[0, column], expected[0], rtol=4e-3)
        np.testing.assert_allclose(found.slopes[1:, column], expected[1:], rtol=5e-4)


def lumped() -> tuple[Container, Scenario]:
    """A thin cup full to the brim with one film all round and nothing else that resists."""
    films = dict.fromkeys(("exterior_film", "base_film"), "2 W/m2K")
    inside = dict.fromkeys(("headspace_film", "wetted_film"), "5000 W/m2K")
    layer = {"layer_conductivity": "400 W/mK", "layer_density": "1 kg/m3", "wall_conductivity": "400 W/mK"}
    body = {
        "inside_diameter": "80 mm",
        "inside_depth": "100 mm",
        "wall": {"kind": "single", "inner_thickness": "0.1 mm"},
    }
    lid = {"layers": [{"kind": "solid", "thickness": "0.1 mm"}], "seals": [{"depth": "0 mm"}]}
    container = Container.model_validate({"name": "lumped", "body": body, "lid": lid})
    return container, scenario(pins={**films, **inside, **layer, "wall_density": "1 kg/m3"})


def test_gradient_of_a_lumped_cup() -> None:
    """Newton's law of cooling, exact: t = C / (h A) ln((T0 - Tr) / (T - Tr)).

    C = rho(T0) cp V, so that the start counts by the density of water as well, from IAPWS-95 by CoolProp.
    """
    from CoolProp.CoolProp import PropsSI

    container, run = lumped()
    found = gradients(container, run, [333.15], ["scenario.start", "scenario.room"])
    start, room = found.slopes[0] / found.hold_times[0]
    hot, cold = 363.15 - 293.15, 333.15 - 293.15
    denser, thinner = (PropsSI("D", "T", temperature, "P", 101325.0, "Water") for temperature in (362.15, 364.15))
    expansion = np.log(thinner / denser) / 2.0
    assert start == pytest.approx(1.0 / hot / np.log(hot / cold) + expansion, rel=0.01)
    assert room == pytest.approx((1.0 / cold - 1.0 / hot) / np.log(hot / cold), rel=0.002)


def test_smaller_steps_change_little() -> None:
    """Noise of the steps would grow a hundredfold from one to the next, to more than the slope itself."""
    slopes = [
        gradients(CUP, TEA, LIMITS, ["body.inside_depth", "scenario.fill"], relative_step=step).slopes
        for step in (1e-4, 1e-6)
    ]
    np.testing.assert_allclose(slopes[0], slopes[1], rtol=1e-3)


def test_a_number_at_its_bound_has_the_slope_to_the_other_side() -> None:
    """Full to the lid, and a seal at the plug's end: there is only one side to go to."""
    container = with_overrides(bottle(), {"lid.seals": [{"depth": "0 mm"}, {"depth": "30 mm"}]})
    full = TEA.model_copy(update={"fill": float(closed_capacity(container))})
    paths = ["scenario.fill", "lid.seals.1.depth", "body.inside_depth", "scenario.room"]
    found = gradients(container, full, [343.15], paths)
    assert found.reasons == {}
    assert found.is_one_sided.tolist() == [True, True, True, False]
    assert (found.slopes[0] != 0.0).all()


def test_the_slope_of_a_seal_s_depth_does_not_depend_on_its_neighbours() -> None:
    container = with_overrides(bottle(), {"lid.seals": [{"depth": "0 mm"}, {"depth": "30 mm"}]})
    full = TEA.model_copy(update={"fill": float(closed_capacity(container))})
    several = ["scenario.fill", "lid.seals.1.depth", "body.inside_depth", "scenario.room"]
    alone = gradients(container, full, [343.15], ["lid.seals.1.depth"]).slopes
    np.testing.assert_allclose(gradients(container, full, [343.15], several).slopes[:, 1], alone[:, 0], rtol=3e-3)


def test_a_number_without_room_to_move_has_no_slope() -> None:
    found = gradients(bottle(), TEA, [343.15], ["lid.seals.1.depth"], relative_step=0.99)
    assert np.isnan(found.slopes).all()
    assert list(found.reasons) == ["lid.seals.1.depth"]


def test_a_limit_that_is_not_reached_has_no_slope() -> None:
    found = gradients(CUP, TEA, (343.15, 293.0 + 0.2), ["scenario.fill"], horizon=3600.0)
    assert np.isfinite(found.slopes[0, 0])
    assert np.isnan(found.hold_times[1])
    assert np.isnan(found.slopes[1, 0])


def test_a_zero_is_moved_by_a_typical_size() -> None:
    found = gradients(CUP, TEA, [343.15], ["scenario.sunlight", "scenario.ice"])
    assert found.steps == pytest.approx([1e-3, 1e-6])
    sunlight, ice = found.slopes[0]
    assert sunlight > 0.0
    assert ice < 0.0


@pytest.mark.parametrize(
    ("path", "message"),
    [
        ("body.neck.mouth_diamter", "unknown field; did you mean 'mouth_diameter'"),
        ("lid.layers.9.depth", "the list has no entry '9'"),
        ("body.gap.gas", "holds no number with a unit"),
        ("body.jacket", "holds no number with a unit"),
        ("body.gap.inner_emissivity", "is left out in this design"),
        ("unknowns.lid_contct", "did you mean 'unknowns.lid_contact'"),
    ],
)
def test_paths_that_lead_to_no_number(path: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        gradients(bottle(), TEA, LIMITS, [path])


def test_a_design_that_can_not_be() -> None:
    with pytest.raises(InputError, match=r"fill: .* is beyond the brim"):
        gradients(CUP, scenario(fill="2 L"), LIMITS, ["scenario.room"])
