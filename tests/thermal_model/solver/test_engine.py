"""The engine against closed formulas: exponentials, melting, ramps; batches; the balance of energy.

Each expected number is exact and stands in the test. Contents have a constant heat capacity but where ice melts.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from geometries.container import Container
from geometries.design_file import load_container
from geometries.numeric import Array, Numeric
from tests.geometries.designs import cup as open_cup
from tests.thermal_model.networks import HEAT_CAPACITY, cup, enthalpy, lane, link, network
from tests.thermal_model.solver.counted import Counted
from thermal_model.assemble.build import assemble
from thermal_model.follow import DEFAULT_HORIZON, limit_enthalpies
from thermal_model.judge.scenario_library import load_carry_scenario
from thermal_model.properties import ice
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome, Trajectory, hermite, integrate
from thermal_model.solver.network import CONTENTS, ROOM, Contents, Network, Phase, RoomTemperature
from thermal_model.solver.rates import RightHandSide, contents_temperature
from thermal_model.solver.scatter import Indices
from thermal_model.solver.stepping import SCREENING, Tolerance
from thermal_model.uncertainty import draw_sample

MASS, CONDUCTANCE, EXCESS, ROOM_TEMPERATURE = 0.5, 0.5, 70.0, 293.15
TIME_CONSTANT = MASS * HEAT_CAPACITY / CONDUCTANCE
FOREVER = 1e7


def run(
    net: Network, *limits: Numeric, horizon: float = FOREVER, accuracy: float = 1.0, record: bool = False
) -> Trajectory:
    """Integrate to limit temperatures of contents of constant heat capacity; smaller accuracy is sharper."""
    levels = np.stack([np.broadcast_to(enthalpy(limit), (net.lane_count,)) for limit in limits])
    tolerance = Tolerance(5e-5 * accuracy, 5e-3 * accuracy)
    return integrate(net, levels, np.full(net.lane_count, horizon), tolerance=tolerance, record=record)


def time_to(limit: Numeric, start: Numeric = 363.15, room: Numeric = ROOM_TEMPERATURE) -> Numeric:
    """Newton's law of cooling, exact. [s]"""
    return TIME_CONSTANT * np.log((np.asarray(start) - room) / (np.asarray(limit) - room))


# --- exponentials ------------------------------------------------------------------------------------------------


def test_constant_resistance_and_capacity_give_the_exponential() -> None:
    limits = (353.15, 333.15, 313.15)
    trajectory = run(cup(), *limits)
    np.testing.assert_allclose(trajectory.crossing_times[:, 0], time_to(np.array(limits)), rtol=0.0, atol=0.02)
    assert trajectory.outcome[0] == Outcome.REACHED


def test_error_falls_when_the_tolerance_does() -> None:
    exact = time_to(313.15)
    errors = [abs(run(cup(), 313.15, accuracy=a).crossing_times[0, 0] - exact) for a in (1e4, 1e2, 1.0)]
    assert errors[0] > 5.0 * errors[1] > 25.0 * errors[2]


def test_order_of_limits_does_not_matter() -> None:
    falling, rising = run(cup(), 353.15, 313.15).crossing_times, run(cup(), 313.15, 353.15).crossing_times
    np.testing.assert_array_equal(falling, rising[::-1])


def test_cold_contents_cross_upwards() -> None:
    trajectory = run(cup(start=275.15, room=298.15), 283.15, 293.15)
    expected = time_to(np.array([283.15, 293.15]), 275.15, 298.15)
    np.testing.assert_allclose(trajectory.crossing_times[:, 0], expected, rtol=0.0, atol=0.02)


def test_two_nodes_follow_the_two_exponentials() -> None:
    # Contents and wall, both coupled: the eigenvectors of a 2 x 2 matrix, exact.
    inner, outer, capacity = 2.0, 0.5, 400.0
    net = network([link("contents", "wall", inner), link("wall", ROOM, outer)], {"wall": capacity})
    matrix = np.array([[-inner, inner], [inner, -(inner + outer)]]) / np.array([[MASS * HEAT_CAPACITY], [capacity]])
    rates, vectors = np.linalg.eig(matrix)
    weights = np.linalg.solve(vectors, [EXCESS, 0.0])
    time = run(net, 323.15).crossing_times[0, 0]
    excess = (vectors * np.exp(rates * time)) @ weights
    assert excess[0] == pytest.approx(30.0, abs=2e-4)


def test_a_source_shifts_the_end() -> None:
    # 10 W into contents behind 0.5 W/K: they tend to 20 K over the room.
    net = cup(start=ROOM_TEMPERATURE)
    net = replace(net, sources=np.full_like(net.sources, 10.0))
    expected = -TIME_CONSTANT * np.log(1.0 - 15.0 / 20.0)
    trajectory = run(net, ROOM_TEMPERATURE + 15.0)
    assert trajectory.crossing_times[0, 0] == pytest.approx(expected, rel=1e-5)
    assert trajectory.balance_error[0] < 1e-9


def test_recorded_curve_is_the_exponential_between_the_steps_too() -> None:
    trajectory = run(cup(), 313.15, record=True)
    times = np.linspace(0.0, trajectory.end_time[0], 500)
    temperatures = 273.15 + trajectory.enthalpy_at(0, times) / HEAT_CAPACITY
    exact = ROOM_TEMPERATURE + EXCESS * np.exp(-times / TIME_CONSTANT)
    np.testing.assert_allclose(temperatures, exact, atol=2e-3)


def test_cubic_interpolation_reproduces_a_cubic() -> None:
    nodes = np.array([0.0, 1.0, 2.5, 4.0])
    at = np.linspace(0.0, 4.0, 33)
    np.testing.assert_allclose(hermite(nodes, nodes**3 - nodes, 3 * nodes**2 - 1, at), at**3 - at, atol=1e-12)


# --- limits that are not reached ---------------------------------------------------------------------------------


def test_a_limit_not_reached_is_an_outcome() -> None:
    trajectory = run(cup(), 353.15, 313.15, horizon=2000.0)
    assert trajectory.outcome[0] == Outcome.NOT_REACHED
    assert trajectory.crossing_times[0, 0] == pytest.approx(time_to(353.15), rel=1e-5)
    assert np.isnan(trajectory.crossing_times[1, 0])
    assert trajectory.end_time[0] == pytest.approx(2000.0, abs=1e-6)


def test_a_limit_beyond_the_room_is_never_reached() -> None:
    trajectory = run(cup(), 283.15, horizon=1e6)
    assert trajectory.outcome[0] == Outcome.NOT_REACHED
    assert np.isnan(trajectory.crossing_times[0, 0])


def test_horizons_may_differ_between_lanes() -> None:
    net = cup(start=np.array([363.15, 363.15]), conductance=np.array([0.5, 0.5]))
    trajectory = integrate(net, np.tile(enthalpy(313.15), (1, 2)), np.array([1000.0, FOREVER]))
    assert trajectory.outcome.tolist() == [Outcome.NOT_REACHED, Outcome.REACHED]
    assert trajectory.end_time[0] == pytest.approx(1000.0, abs=1e-6)
    assert trajectory.crossing_times[0, 1] == pytest.approx(time_to(313.15), abs=0.02)


def test_a_run_goes_on_for_at_least_so_long() -> None:
    levels = enthalpy(353.15)[None]
    trajectory = integrate(cup(), levels, lane(FOREVER), at_least=5000.0)
    assert trajectory.end_time[0] >= 5000.0
    assert trajectory.crossing_times[0, 0] == pytest.approx(time_to(353.15), rel=1e-5)


# --- lanes -------------------------------------------------------------------------------------------------------


def batch_of(count: int) -> Network:
    generator = np.random.default_rng(7)
    factors = np.exp(0.5 * generator.normal(size=(4, 19)))[:, :count]
    links = [
        link("contents", "wall", 2.0 * factors[0]),
        link("wall", "shell", 0.3 * factors[1]),
        link("shell", ROOM, 0.8 * factors[2]),
        link("contents", ROOM, 0.05 * factors[3]),
    ]
    room = RoomTemperature(np.full(count, 293.15))
    return network(links, {"wall": 90.0, "shell": 120.0}, start=350.0 + 5.0 * factors[0], room=room)


def assert_same(trajectory: Trajectory, lanes: Indices, part: Trajectory) -> None:
    for name in ("crossing_times", "final_state", "final_mass", "end_time", "balance_error"):
        whole, some = getattr(trajectory, name)[..., lanes], getattr(part, name)
        np.testing.assert_array_equal(some, whole, err_msg=name)


@pytest.mark.parametrize("count", [1, 2, 3, 8, 17])
def test_a_lane_does_not_see_its_neighbours(count: int) -> None:
    whole = run(batch_of(19), 340.0, 310.0)
    assert_same(whole, np.arange(count), run(batch_of(count), 340.0, 310.0))


def test_a_lane_of_a_container_does_not_see_its_neighbours() -> None:
    container = load_container("slim_neck_double_seal")
    scenario = Scenario.model_validate({"start": "80 C", "sunlight": "200 W/m2"})
    scenario = scenario.model_copy(update={"fill": np.linspace(250e-6, 420e-6, 19)})
    net = assemble(container, scenario, lanes=19)
    limits = limit_enthalpies(scenario, [349.15], 19)
    whole = integrate(net, limits, np.full(19, FOREVER))
    for first, count in ((2, 1), (7, 1), (11, 2), (5, 9)):
        some = np.arange(first, first + count)
        assert_same(whole, some, integrate(net.take_lanes(some), limits[:, some], np.full(count, FOREVER)))


def test_relabelling_nodes_changes_nothing_but_rounding() -> None:
    names = ["wall", "shell", "lid"]
    capacities = {"wall": 90.0, "shell": 120.0, "lid": 60.0}
    links = [
        link("contents", "wall", 2.0),
        link("wall", "shell", 0.3),
        link("shell", ROOM, 0.8),
        link("contents", "lid", 0.9),
        link("lid", ROOM, 0.4),
        link("lid", "shell", 0.1),
    ]
    first = run(network(links, {n: capacities[n] for n in names}), 313.15)
    again = run(network(links[::-1], {n: capacities[n] for n in names[::-1]}), 313.15)
    assert again.crossing_times[0, 0] == pytest.approx(first.crossing_times[0, 0], rel=1e-9)


# --- ice ---------------------------------------------------------------------------------------------------------


def ice_water(ice_share: float, room: float = 298.15) -> Network:
    """Water at 0 C with a share of ice, behind a constant conductance."""
    return network(
        [link("contents", ROOM, CONDUCTANCE)],
        room=RoomTemperature(lane(room)),
        contents=Contents(True),
        contents_enthalpy=-ice_share * ice.FUSION_ENTHALPY,
    )


@pytest.mark.parametrize("share", [0.1, 0.5, 1.0])
def test_ice_melts_in_the_time_its_heat_of_fusion_takes(share: float) -> None:
    # At 0 C throughout, so the flow is constant: t = m L / (G dT), exact.
    room = 298.15
    expected = share * MASS * ice.FUSION_ENTHALPY / (CONDUCTANCE * (room - 273.15))
    trajectory = integrate(ice_water(share, room), np.zeros((1, 1)), lane(FOREVER))
    assert trajectory.crossing_times[0, 0] == pytest.approx(expected, abs=0.01)


def test_ice_water_stays_at_zero_exactly_while_ice_is_left() -> None:
    net = ice_water(0.5)
    trajectory = integrate(net, np.full((1, 1), 4000.0), lane(FOREVER), record=True)
    melted = 0.5 * MASS * ice.FUSION_ENTHALPY / (CONDUCTANCE * 25.0)
    before = np.asarray(trajectory.enthalpies[0])[np.asarray(trajectory.times[0]) < melted]
    assert len(before) > 2
    assert np.all(contents_temperature(net.contents, before) == 273.15)


def test_after_the_ice_water_warms() -> None:
    # Water's cp at 0-4 C is 4.21 kJ/kgK (IAPWS-95), constant to 0.2 % there.
    share, room = 0.2, 298.15
    net = ice_water(share, room)
    levels = np.array([[0.0], [4.0 * 4212.0]])
    times = integrate(net, levels, lane(FOREVER)).crossing_times[:, 0]
    expected = MASS * 4212.0 / CONDUCTANCE * np.log(25.0 / 21.0)
    assert times[1] - times[0] == pytest.approx(expected, rel=3e-3)


# --- the room ----------------------------------------------------------------------------------------------------


def test_room_ramp_is_followed_with_its_lag() -> None:
    # T' = -(T - T0 - a t) / tau with T(0) = T0: T = T0 + a (t - tau (1 - exp(-t / tau))), exact.
    slope, end = 1e-3, 20000.0
    room = RoomTemperature(lane(0.0), np.array([0.0, end]), np.array([293.15, 293.15 + slope * end]))
    net = network([link("contents", ROOM, CONDUCTANCE)], start=293.15, room=room)
    trajectory = run(net, 400.0, horizon=end)
    expected = 293.15 + slope * (end - TIME_CONSTANT * (1.0 - np.exp(-end / TIME_CONSTANT)))
    assert 273.15 + trajectory.final_state[CONTENTS, 0] / HEAT_CAPACITY == pytest.approx(expected, abs=2e-4)
    assert trajectory.balance_error[0] < 1e-9


def test_room_in_steps_is_followed_through_all_of_them() -> None:
    # Each step is a ramp of one second; the exact response of each stretch starts from the last one's end.
    corners = [(0.0, 293.15), (3000.0, 293.15), (3001.0, 303.15), (6000.0, 303.15), (6001.0, 283.15)]
    times, temperatures = (np.array(column) for column in zip(*corners, strict=True))
    room = RoomTemperature(lane(0.0), times, temperatures)
    net = network([link("contents", ROOM, CONDUCTANCE)], room=room)
    net = replace(net, phases=split(net.phases[0], [3000.0, 6000.0]))
    trajectory = run(net, 200.0, horizon=9000.0)
    excess_then = 363.15
    for (t0, r0), (t1, r1) in [*pairwise(corners), (corners[-1], (9000.0, 283.15))]:
        rate, width = (r1 - r0) / (t1 - t0), t1 - t0
        decay = np.exp(-width / TIME_CONSTANT)
        excess_then = r1 - rate * TIME_CONSTANT * (1.0 - decay) + (excess_then - r0) * decay
    assert 273.15 + trajectory.final_state[CONTENTS, 0] / HEAT_CAPACITY == pytest.approx(excess_then, abs=1e-3)


def split(phase: Phase, times: list[float]) -> tuple[Phase, ...]:
    """The same phase cut at times."""
    edges = [0.0, *times, np.inf]
    return tuple(replace(phase, start=lane(a), end=lane(b)) for a, b in pairwise(edges))


# --- phases ------------------------------------------------------------------------------------------------------


def test_pouring_out_shortens_the_time_constant() -> None:
    net = cup()
    first, second = split(net.phases[0], [1000.0])
    net = replace(net, phases=(first, replace(second, mass=lane(0.5 * MASS))))
    expected = 1000.0 + 0.5 * (time_to(313.15) - 1000.0)
    trajectory = run(net, 313.15)
    assert trajectory.crossing_times[0, 0] == pytest.approx(expected, rel=1e-5)
    assert trajectory.final_mass[0] == 0.5 * MASS
    assert trajectory.balance_error[0] < 1e-9


def test_a_refill_starts_again() -> None:
    net = cup()
    first, second = split(net.phases[0], [1000.0])
    net = replace(net, phases=(first, replace(second, contents_enthalpy=enthalpy(363.15))))
    trajectory = run(net, 333.15)
    assert trajectory.crossing_times[0, 0] == pytest.approx(1000.0 + time_to(333.15), rel=1e-5)
    assert trajectory.balance_error[0] < 1e-9


def test_a_preheat_is_not_part_of_the_run() -> None:
    # Hot water stands for 1000 s before zero and falls below the limit then; that crossing does not count.
    net = cup()
    phase = net.phases[0]
    preheat = replace(phase, start=lane(-3000.0), end=lane(0.0))
    net = replace(net, phases=(preheat, replace(phase, contents_enthalpy=enthalpy(363.15))))
    assert run(net, 353.15).crossing_times[0, 0] == pytest.approx(time_to(353.15), rel=1e-5)


# --- energy ------------------------------------------------------------------------------------------------------

BALANCED = {
    "hot": ("slim_neck_double_seal", {"start": "90 C"}, 333.15),
    "cold": ("handled_tumbler_straw", {"start": "2 C", "room": "25 C"}, 283.15),
    "ice": ("handled_tumbler_straw", {"fill": "400 mL", "start": "5 C", "room": "25 C", "ice": "150 g"}, 278.15),
    "pours": (
        "single_seal_plug",
        {"start": "90 C", "openings": [{"at": "30 min", "duration": "20 s", "pour": "100 mL", "every": "30 min"}]},
        333.15,
    ),
    "preheat": ("thin_disc_lid", {"start": "95 C", "preheat": {"duration": "5 min", "temperature": "95 C"}}, 343.15),
    "sunlight": ("wide_mouth_disc", {"start": "4 C", "room": "25 C", "sunlight": "500 W/m2"}, 283.15),
    "inverted": ("thin_disc_lid", {"start": "90 C", "fill": "300 mL", "orientation": "inverted"}, 343.15),
    "room": (
        "thin_disc_lid",
        {
            "start": "90 C",
            "room_profile": {"times": ["0 h", "1 h", "2 h"], "temperatures": ["20 C", "5 C", "20 C"], "in_steps": True},
        },
        333.15,
    ),
    "evaporation": (None, {"start": "90 C", "fill": "300 mL"}, 313.15),
}


@pytest.mark.parametrize("case", BALANCED)
def test_energy_is_balanced(case: str) -> None:
    design, options, limit = BALANCED[case]
    container = open_cup() if design is None else load_container(design)
    trajectory = integrate_case(container, Scenario.model_validate(options), limit)
    assert trajectory.outcome[0] == Outcome.REACHED
    assert trajectory.balance_error[0] <= 1e-6
    assert (trajectory.evaporated[0] > 1e-4) == (case in ("evaporation", "pours"))


def integrate_case(container: Container, scenario: Scenario, limit: float) -> Trajectory:
    net = assemble(container, scenario)
    return integrate(net, limit_enthalpies(scenario, [limit], 1), lane(1e6))


def test_the_balance_shows_heat_that_vanishes(monkeypatch: pytest.MonkeyPatch) -> None:
    sound = RightHandSide.heating

    def leaking(self: RightHandSide, flows: Array) -> Array:
        heating = sound(self, flows)
        heating[-1] *= 0.999
        return heating

    monkeypatch.setattr(RightHandSide, "heating", leaking)
    assert run(cup(), 333.15).balance_error[0] > 1e-4


@pytest.mark.parametrize(
    ("design", "options"),
    [
        ("slim_neck_double_seal", {"orientation": "inverted"}),
        ("clearance_insert", {"preheat": {"duration": "5 min", "temperature": "95 C"}}),
        ("clearance_insert", {}),
    ],
)
def test_wall_as_warm_as_the_headspace_does_not_trap_the_steps(design: str, options: dict[str, object]) -> None:
    """Vapour sets in where a wall gets colder than the headspace: a corner there held some draws at steps of 0.1 s."""
    case = Scenario.model_validate({"start": "90 C", **options})
    sample = draw_sample(load_container(design), case, 60, 1)
    net = assemble(sample.container, sample.scenario, sample.unknowns, lanes=61)
    counted = Counted()
    integrate(net, limit_enthalpies(case, [333.15], 61), np.full(61, 2e5), stepper=counted.make)
    assert counted.steps < 400


@pytest.mark.parametrize(
    ("design", "scenario", "fill"),
    [
        ("slim_neck_double_seal", "tea_at_the_counter", 0.5e-3),
        ("open_plug", "tea_at_the_counter", None),
        ("open_plug", "car_on_a_winter_day", None),
        ("stoneware_cup", "iced_water_at_the_helm", None),
        ("foam_jug", "broth_for_the_crew", None),
    ],
)
def test_steps_grow_again_where_air_of_next_to_no_capacity_stays_behind(
    design: str, scenario: str, fill: float | None
) -> None:
    """Air beside a plug was thrown across where vapour sets in, or rested beside its balance; steps stayed tiny."""
    container, wanted = load_container(design), load_carry_scenario(scenario)
    case = wanted.for_container(container)
    case = case if fill is None else case.model_copy(update={"fill": fill})
    sample = draw_sample(container, case, 20, 1)
    net = assemble(sample.container, sample.scenario, sample.unknowns, lanes=21)
    limits = limit_enthalpies(case, [float(limit.temperature) for limit in wanted.limits], 21)
    for tolerance in (Tolerance(), SCREENING):
        counted = Counted()
        integrate(net, limits, np.full(21, DEFAULT_HORIZON), tolerance=tolerance, stepper=counted.make)
        assert counted.steps < 500
