"""Soak: the way back to the room, against the network's own slowest time constant and against a body of one lump."""

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from thermal_model.assemble.build import assemble
from thermal_model.plan.soak import _time_within, emptied, soak
from thermal_model.report.plan_text import soak_document, soak_text
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import steady_state
from thermal_model.solver.network import CONTENTS
from thermal_model.solver.rates import RightHandSide, contents_enthalpy
from thermal_model.words.numbers import Scale


def slowest_time_constant(container, is_lid_on):
    """Largest time constant of the network linearised at the room, by numpy's eigenvalues."""
    run = emptied(Scenario(), is_lid_on=is_lid_on)
    network = assemble(container, run)
    phase = network.phases[-1] if is_lid_on else network.phases[0]
    room = network.room.at(np.zeros(1))
    # A kelvin above it: at the room itself every free film rests.
    enthalpy = np.atleast_1d(contents_enthalpy(network.contents, float(room[0]) + 1.0))
    state = steady_state(network, phase, enthalpy, room)
    rhs = RightHandSide(network, phase.links)
    here = rhs.linearised(state, room)
    count = network.node_count
    matrix = np.zeros((count + 1, count + 1))
    for k, (start, end) in enumerate(zip(phase.links.start, phase.links.end, strict=True)):
        for column, slope in ((start, here.by_start[k, 0]), (end, here.by_end[k, 0])):
            matrix[start, column] -= slope
            matrix[end, column] += slope
    capacities = network.capacities[:, 0].copy()
    capacities[CONTENTS] = phase.mass[0] * network.contents.heat_capacity
    rates = np.linalg.eigvals(matrix[:count, :count] / capacities[:, None])
    return -1.0 / rates.real.max()


@pytest.mark.parametrize("name", ["slim_neck_double_seal", "stoneware_cup"])
def test_the_tail_falls_as_the_slowest_time_constant_of_the_network(name):
    container = load_container(name)
    times = [soak(container, Scenario(), is_lid_on=True, draws=0, seed=1, tolerance=t).median for t in (1.0, 0.5)]
    observed = (times[1] - times[0]) / np.log(2.0)
    # Free films weaken as the difference falls: 10 % at most in a factor of two, and 64 % steps between the times.
    assert observed == pytest.approx(slowest_time_constant(container, True), rel=0.12)


def test_lid_off_is_quicker_and_a_finer_tolerance_slower():
    container = load_container("slim_neck_double_seal")
    on, off = (soak(container, Scenario(), is_lid_on=is_on, draws=0, seed=1).median for is_on in (True, False))
    fine = soak(container, Scenario(), is_lid_on=True, draws=0, seed=1, tolerance=0.1).median
    assert off < on < fine


def test_sample_gives_an_interval_around_the_best_guess():
    found = soak(load_container("single_wall_steel"), Scenario(), is_lid_on=True, draws=12, seed=1)
    nominal = soak(load_container("single_wall_steel"), Scenario(), is_lid_on=True, draws=0, seed=1).median
    assert found.low < nominal < found.high
    assert 600.0 < found.low < found.high < 7200.0


def test_a_vacuum_soaks_longer_than_a_single_wall():
    """Common practice, no source: testers wait over night for good flasks, not for cups."""
    both = [
        soak(load_container(n), Scenario(), is_lid_on=True, draws=0, seed=1).median
        for n in ("single_wall_steel", "slim_neck_double_seal")
    ]
    assert both[1] > 2.0 * both[0]


def test_time_within():
    times = np.geomspace(100.0, 1e5, 10)
    assert _time_within(times, 80.0 * np.exp(-times / 1000.0), 0.5) == pytest.approx(1000.0 * np.log(160.0), rel=1e-9)
    assert _time_within(times, np.full(10, 0.1), 0.5) == 100.0
    assert _time_within(times, np.full(10, 1.0), 0.5) == np.inf
    assert np.isnan(_time_within(times, np.append(np.ones(9), np.nan), 0.5))


def test_draws_that_can_not_be_computed_are_counted_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    import thermal_model.plan.soak as module

    monkeypatch.setattr(module, "is_possible", lambda runs: ~np.isin(np.arange(runs.count), (3, 5)))
    found = soak(load_container("single_wall_steel"), Scenario(), is_lid_on=True, draws=6, seed=1)
    assert (found.draws, found.failed) == (4, 2)
    assert np.isfinite([found.low, found.median, found.high]).all()
    text = soak_text([(found, None)], 363.15, 293.15, Scale.CELSIUS)
    assert "single_wall_steel, lid on: 2 of 6 samples could not be computed" in text
    assert soak_document([(found, None)], 6, 1)["soaks"][0]["lid_on"]["failed_draws"] == 2
    monkeypatch.setattr(module, "is_possible", lambda runs: np.arange(runs.count) > 0)
    with pytest.raises(InputError, match="single_wall_steel: the computation gave up on it standing empty"):
        soak(load_container("single_wall_steel"), Scenario(), is_lid_on=True, draws=2, seed=1)
