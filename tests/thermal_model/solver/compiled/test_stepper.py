"""The compiled stepper against the plain one: the same physics, so the same hold times to rounding."""

import threading
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from geometries.container import Container
from geometries.design_file import load_container
from geometries.numeric import Array
from tests.geometries.designs import cup as open_cup
from tests.thermal_model.runs import scenario
from tests.thermal_model.solver.counted import Counted
from thermal_model.assemble.build import assemble
from thermal_model.follow import reachable_limits
from thermal_model.scenario import Scenario
from thermal_model.solver.compiled import kernels, machine_code
from thermal_model.solver.compiled.arguments import flat
from thermal_model.solver.compiled.stepper import CompiledStepper
from thermal_model.solver.engine import MakeStepper, Outcome, Trajectory, integrate
from thermal_model.solver.network import Network
from thermal_model.solver.steppers import WORTH_COMPILING, stepper_for, stepper_of_study
from thermal_model.solver.stepping import SCREENING, PlainStepper, Tolerance

RUNS: dict[str, tuple[str, float, dict[str, Any]]] = {
    "hot": ("slim_neck_double_seal", 333.15, {"start": "90 C"}),
    "cold": ("wide_mouth_disc", 285.15, {"start": "4 C", "room": "24 C"}),
    "ice": ("wide_mouth_disc", 283.15, {"start": "2 C", "ice": "100 g", "fill": "300 mL", "room": "25 C"}),
    "milk": ("slim_neck_double_seal", 333.15, {"start": "80 C", "contents": "milk"}),
    "vent, wind and sun": (
        "handled_tumbler_straw",
        328.15,
        {"start": "85 C", "wind": "2 m/s", "sunlight": "300 W/m2"},
    ),
    "openings": (
        "slim_neck_double_seal",
        333.15,
        {"start": "90 C", "openings": [{"at": "30 min", "duration": "60 s", "pour": "50 mL", "every": "1 h"}]},
    ),
    "a room that falls": (
        "slim_neck_double_seal",
        333.15,
        {"start": "90 C", "room_profile": {"times": ["0 h", "8 h"], "temperatures": ["25 C", "5 C"]}},
    ),
    "preheated, inverted": (
        "slim_neck_double_seal",
        333.15,
        {
            "start": "90 C",
            "orientation": "inverted",
            "preheat": {"duration": "5 min", "temperature": "95 C"},
        },
    ),
}


def networks(container: Container, case: Scenario, limit: float, lanes: int) -> tuple[Network, Array]:
    """Lanes that differ in the room, or in the start where the room follows a table."""
    spread = np.linspace(-0.5, 0.5, lanes) if lanes > 1 else np.zeros(1)
    field = "room" if case.room_profile is None else "start"
    several = case.model_copy(update={field: getattr(case, field) + spread})
    return assemble(container, several, lanes=lanes), reachable_limits(container, several, [limit], lanes)


def follow(net: Network, limits: Array, stepper: MakeStepper, tolerance: Tolerance | None = None) -> Trajectory:
    return integrate(net, limits, np.full(net.lane_count, 4e5), stepper=stepper, tolerance=tolerance)


@pytest.mark.parametrize("name", RUNS)
def test_agrees_with_the_plain_stepper(name: str) -> None:
    design, limit, options = RUNS[name]
    net, limits = networks(load_container(design), scenario(**options), limit, 3)
    plain, compiled = follow(net, limits, PlainStepper), follow(net, limits, CompiledStepper)
    assert np.isfinite(plain.crossing_times).all()
    # Where ice is gone the rates have a kink, as where air and a wall are as warm as each other, and after an opening
    # the steps begin anew: rounding decides where a step is cut.
    accuracy = {"ice": 1e-6, "openings": 1e-6, "preheated, inverted": 1e-5}.get(name, 2e-8)
    np.testing.assert_allclose(compiled.crossing_times, plain.crossing_times, rtol=accuracy)
    np.testing.assert_allclose(compiled.evaporated, plain.evaporated, rtol=1e-6, atol=1e-12)
    assert (compiled.balance_error < 1e-12).all()


def test_agrees_where_contents_stand_open() -> None:
    case = scenario(start="90 C", room="20 C")
    net, limits = networks(open_cup(), case, 333.15, 1)
    plain, compiled = follow(net, limits, PlainStepper), follow(net, limits, CompiledStepper)
    assert plain.evaporated[0] > 1e-3
    np.testing.assert_allclose(compiled.crossing_times, plain.crossing_times, rtol=2e-8)
    np.testing.assert_allclose(compiled.evaporated, plain.evaporated, rtol=1e-6)


def test_lane_is_the_same_to_the_bit_alone_and_among_others_on_any_thread() -> None:
    design, limit, options = RUNS["hot"]
    net, limits = networks(load_container(design), scenario(**options), limit, 150)
    together = follow(net, limits, CompiledStepper)
    for lane in (0, 77, 149):
        alone = follow(net.take_lanes(np.array([lane])), limits[:, [lane]], CompiledStepper)
        assert alone.crossing_times[0, 0] == together.crossing_times[0, lane]
    found: list[Trajectory] = []
    thread = threading.Thread(target=lambda: found.append(follow(net, limits, CompiledStepper)))
    thread.start()
    thread.join()
    assert np.array_equal(found[0].crossing_times, together.crossing_times)


@pytest.mark.parametrize("tolerance", [Tolerance(), SCREENING], ids=["double", "single"])
def test_lanes_that_are_left_when_others_end_are_the_same_to_the_bit(tolerance: Tolerance) -> None:
    """Open milk, whose vapour and heat capacity are each lane's own; the first ends within minutes."""
    net, _ = networks(open_cup(), scenario(start="85 C", contents="milk"), 318.15, 40)
    capacities = np.linspace(3600.0, 4100.0, 40)
    net = replace(net, contents=replace(net.contents, heat_capacity=capacities))
    limits = capacities * np.linspace(84.9, 45.0, 40)[None, :]
    together = follow(net, limits, CompiledStepper, tolerance)
    assert together.crossing_times[0, 0] < 300.0 < 600.0 < together.crossing_times[0, -1]
    for lane in range(0, 40, 3):
        alone = follow(net.take_lanes(np.array([lane])), limits[:, [lane]], CompiledStepper, tolerance)
        assert alone.crossing_times[0, 0] == together.crossing_times[0, lane]
        assert alone.evaporated[0] == together.evaporated[lane]


@pytest.mark.parametrize("name", RUNS)
def test_screening_keeps_to_its_promise_alone_and_among_others(name: str) -> None:
    """Within 0.1 % or 10 s of the sharp engine; the benchmark `engine_accuracy` draws ten thousand designs."""
    design, limit, options = RUNS[name]
    net, limits = networks(load_container(design), scenario(**options), limit, 9)
    sharp = follow(net, limits, CompiledStepper).crossing_times[0]
    quick = follow(net, limits, CompiledStepper, SCREENING).crossing_times[0]
    assert (np.abs(quick - sharp) < np.maximum(10.0, 1e-3 * sharp)).all()
    assert not np.array_equal(quick, sharp)
    alone = follow(net.take_lanes(np.array([4])), limits[:, [4]], CompiledStepper, SCREENING).crossing_times[0]
    assert alone[0] == quick[4]


def test_screening_agrees_with_the_plain_stepper() -> None:
    design, limit, options = RUNS["hot"]
    net, limits = networks(load_container(design), scenario(**options), limit, 2)
    in_double = replace(SCREENING, dtype="float64")
    plain, compiled = (follow(net, limits, stepper, in_double) for stepper in (PlainStepper, CompiledStepper))
    np.testing.assert_allclose(compiled.crossing_times, plain.crossing_times, rtol=1e-6)
    assert (compiled.balance_error < 1e-12).all()


def test_single_precision_moves_hold_times_by_next_to_nothing() -> None:
    design, limit, options = RUNS["hot"]
    net, limits = networks(load_container(design), scenario(**options), limit, 20)
    double, single = (
        follow(net, limits, CompiledStepper, replace(SCREENING, dtype=dtype)) for dtype in ("float64", "float32")
    )
    np.testing.assert_allclose(single.crossing_times, double.crossing_times, rtol=1e-5)
    assert not np.array_equal(single.crossing_times, double.crossing_times)
    assert (single.balance_error < 1e-5).all()


def test_single_precision_sees_water_turn_where_it_is_densest() -> None:
    """A difference of two densities is rounding there: some surfaces of open cups were stepped by microseconds."""
    case = scenario(start="3 C", room="30 C").model_copy(update={"room": np.linspace(290.0, 313.0, 40)})
    container = load_container("stoneware_cup")
    net, limits = assemble(container, case, lanes=40), reachable_limits(container, case, [285.15], 40)
    counted = Counted(CompiledStepper)
    single = follow(net, limits, counted.make, SCREENING)
    double = follow(net, limits, CompiledStepper, replace(SCREENING, dtype="float64"))
    np.testing.assert_allclose(single.crossing_times, double.crossing_times, rtol=3e-4)
    assert counted.steps < 150


def test_step_that_goes_astray_fails_its_lane_alone() -> None:
    design, limit, options = RUNS["hot"]
    net, limits = networks(load_container(design), scenario(**options), limit, 3)
    net.initial[5, 1] = np.nan
    broken = follow(net, limits, CompiledStepper)
    assert broken.outcome.tolist() == [Outcome.REACHED, Outcome.FAILED, Outcome.REACHED]


@pytest.mark.parametrize("kept", [False, True])
def test_few_designs_never_wait_for_a_compiler(monkeypatch: pytest.MonkeyPatch, kept: bool) -> None:
    monkeypatch.setattr("thermal_model.solver.steppers._was_kept", lambda: kept)
    for designs in (1, WORTH_COMPILING - 1):
        assert stepper_for(designs) is (CompiledStepper if kept else PlainStepper)
        assert stepper_of_study(designs) is PlainStepper
    assert stepper_of_study(WORTH_COMPILING) is CompiledStepper
    assert stepper_for(WORTH_COMPILING) is CompiledStepper


def test_threads_that_ask_at_once_get_one_kernel() -> None:
    found: list[machine_code.Kernel] = []
    machine_code._kernels.cache_clear()
    threads = [threading.Thread(target=lambda: found.append(machine_code.kernel())) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({id(one) for one in found}) == 1


@pytest.mark.parametrize("dtype", machine_code.FORMATS)
def test_kernel_calls_nothing_outside_and_its_arguments_are_as_numba_takes_them(dtype: str) -> None:
    for function, signature in kernels.entry_points(dtype).items():
        module = machine_code.intermediate_code(function, signature, "entry")
        outside = [one.name for one in module.functions if one.is_declaration and not one.name.startswith("llvm.")]
        assert outside == []
        (taken,) = [one for one in module.functions if one.name == "entry"]
        assert len([*taken.arguments]) == 2 + argument_count(signature.args)


def argument_count(kinds: Sequence[Any]) -> int:
    """Return how many plain numbers `flat` makes of arguments of these kinds."""
    return sum(argument_count(kind.types) if hasattr(kind, "types") else numbers_of(kind) for kind in kinds)


def numbers_of(kind: Any) -> int:
    return len([*flat(np.zeros([1] * kind.ndim), dtype="float64")]) if hasattr(kind, "ndim") else 1
