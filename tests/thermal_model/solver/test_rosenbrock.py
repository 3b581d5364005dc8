"""The order of the stiff step, measured; its damping of what is fast; the sums it keeps.

RODAS is of order 4 with an embedded solution of order 3 (Hairer/Wanner II, 2nd ed., section IV.10): over a fixed time
the error falls with the fourth power of the step, and the estimate of one step with the fourth (3 + 1). RODAS3 is of
order 3 with an embedded solution of order 2 (Sandu et al., Atmospheric Environment 31 (1997) 3459).
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pytest

from geometries.numeric import Array, Numeric
from tests.thermal_model.networks import HEAT_CAPACITY, lane, link, network
from thermal_model.solver.laws import Law
from thermal_model.solver.network import ROOM, Link, Network, RoomTemperature
from thermal_model.solver.rates import RightHandSide
from thermal_model.solver.rosenbrock import RODAS, RODAS3, Method, StepMatrix, rosenbrock_step


def quadratic(first: Numeric, second: Numeric, factor: Numeric) -> Numeric:
    """Flow with the square of the difference: cooling by it is u(t) = u0 / (1 + k u0 t), exact."""
    difference = first - second
    return factor * difference * np.abs(difference)


def cubic(first: Numeric, second: Numeric, factor: Numeric) -> Numeric:
    """Flow with the cube of the difference."""
    difference = first - second
    return factor * difference * difference * difference


QUADRATIC, CUBIC = Law(quadratic), Law(cubic)


@dataclass
class March:
    """A network with its matrix and state, ready to take steps."""

    net: Network
    method: Method = RODAS

    def __post_init__(self) -> None:
        self.rhs = RightHandSide(self.net, self.net.phases[0].links)
        self.matrix = StepMatrix(self.rhs)
        self.capacities = self.rhs.capacities(self.net.phases[0].mass)
        self.state = np.vstack([self.net.initial, np.zeros((1, 1))])

    def step(self, time: float, duration: float) -> tuple[Array, Array]:
        here = self.rhs.linearised(self.state, self.net.room.at(lane(time)))
        return rosenbrock_step(self.matrix, self.state, lane(time), lane(duration), self.capacities, here, self.method)


def march(net: Network, duration: float, steps: int, method: Method = RODAS) -> Array:
    """Equal steps from the start; return the state, (N + 1, n)."""
    run = March(net, method)
    for k in range(steps):
        run.state, _ = run.step(k * duration / steps, duration / steps)
    return run.state


def one_step(net: Network, duration: float, method: Method = RODAS) -> tuple[Array, Array]:
    return March(net, method).step(0.0, duration)


def quadratic_cup() -> Network:
    return network([Link(QUADRATIC, "contents", ROOM, {"factor": 0.5})])


def quadratic_exact(time: float) -> float:
    """Temperature of the quadratic cup. [K]"""
    excess, rate = 70.0, 0.5 / (0.5 * HEAT_CAPACITY)
    return 293.15 + excess / (1.0 + rate * excess * time)


BOTH = pytest.mark.parametrize("method", [RODAS, RODAS3], ids=["order 4", "order 3"])


def temperature(state: Array) -> float:
    return 273.15 + float(state[0, 0]) / HEAT_CAPACITY


def orders(errors: list[float]) -> list[float]:
    return [float(np.log2(a / b)) for a, b in pairwise(errors)]


def test_step_is_of_fourth_order() -> None:
    errors = [abs(temperature(march(quadratic_cup(), 60.0, n)) - quadratic_exact(60.0)) for n in (4, 8, 16)]
    # Above 1e-7 K, where the derivatives by differences begin to show.
    assert errors[-1] > 1e-7
    assert 3.5 < orders(errors)[0] < 4.3
    assert 3.8 < orders(errors)[1] < 4.3


def test_step_is_of_fourth_order_with_a_stiff_neighbour_and_a_moving_room() -> None:
    room = RoomTemperature(lane(0.0), np.array([0.0, 1000.0]), np.array([293.15, 313.15]))
    links = [Link(QUADRATIC, "contents", "wall", {"factor": 0.5}), link("wall", ROOM, 20.0)]
    net = network(links, {"wall": 200.0}, room=room, initial={"wall": 293.15})
    exact = temperature(march(net, 80.0, 4096))
    errors = [abs(temperature(march(net, 80.0, n)) - exact) for n in (16, 32, 64)]
    assert errors[-1] > 1e-10
    for order in orders(errors):
        assert 3.6 < order < 4.6


def test_the_cheaper_step_is_of_third_order_with_a_stiff_neighbour_and_a_moving_room() -> None:
    room = RoomTemperature(lane(0.0), np.array([0.0, 1000.0]), np.array([293.15, 313.15]))
    links = [Link(QUADRATIC, "contents", "wall", {"factor": 0.5}), link("wall", ROOM, 20.0)]
    net = network(links, {"wall": 200.0}, room=room, initial={"wall": 293.15})
    exact = temperature(march(net, 80.0, 2048))
    errors = [abs(temperature(march(net, 80.0, n, RODAS3)) - exact) for n in (32, 64, 128)]
    assert errors[-1] > 1e-8
    for order in orders(errors):
        assert 2.7 < order < 3.5


def test_error_estimate_of_the_cheaper_step_is_of_second_order() -> None:
    # With the square of the difference its leading term vanishes; with the cube it doesn't.
    cup = network([Link(CUBIC, "contents", ROOM, {"factor": 0.005})])
    errors = [abs(float(one_step(cup, h, RODAS3)[1][0, 0])) for h in (2.0, 1.0, 0.5)]
    for order in orders(errors):
        assert 2.8 < order < 3.2


def test_error_estimate_is_of_third_order() -> None:
    errors = [abs(float(one_step(quadratic_cup(), h)[1][0, 0])) for h in (4.0, 2.0, 1.0, 0.5)]
    for order in orders(errors):
        assert 3.7 < order < 4.2


def test_error_estimate_bounds_the_error_of_the_step() -> None:
    for duration in (2.0, 8.0, 20.0):
        state, error = one_step(quadratic_cup(), duration)
        actual = abs(temperature(state) - quadratic_exact(duration))
        assert actual < abs(float(error[0, 0])) / HEAT_CAPACITY


@BOTH
def test_a_stiff_node_is_damped_in_one_step(method: Method) -> None:
    # L-stable: the amplification of a mode tends to zero as h times lambda grows.
    for stiffness in (1e3, 1e6, 1e9):
        net = network([link("wall", ROOM, stiffness)], {"wall": 1.0}, initial={"wall": 393.15})
        state, _ = one_step(net, 1.0, method)
        assert abs(float(state[1, 0]) - 293.15) < 100.0 * 20.0 / stiffness


def test_a_stiff_node_follows_the_slow_one() -> None:
    # Quasi-steady: the wall stands at the mean of contents and room however long the step.
    links = [link("contents", "wall", 1.0), link("wall", ROOM, 1.0)]
    net = network(links, {"wall": 1e-6}, initial={"wall": 293.15})
    state = march(net, 600.0, 20)
    assert float(state[1, 0]) == pytest.approx(0.5 * (temperature(state) + 293.15), abs=1e-6)
    expected = 293.15 + 70.0 * np.exp(-0.5 * 600.0 / (0.5 * HEAT_CAPACITY))
    assert temperature(state) == pytest.approx(expected, abs=1e-5)


@BOTH
def test_energy_is_kept_by_every_step_however_long(method: Method) -> None:
    links = [Link(QUADRATIC, "contents", "wall", {"factor": 0.5}), link("wall", ROOM, 2.0)]
    for duration in (1.0, 100.0, 3600.0):
        net = network(links, {"wall": 200.0})
        state, _ = one_step(net, duration, method)
        change = 0.5 * (state[0] - net.initial[0]) + 200.0 * (state[1] - net.initial[1]) + state[2]
        assert abs(float(change[0])) < 1e-12 * 0.5 * HEAT_CAPACITY * 363.15
