"""Borrowed heat capacity: nothing is made or lost, and hold times hardly see it."""

import numpy as np
import pytest

from geometries.design_file import catalogue_names, load_container
from tests.thermal_model.runs import scenario
from thermal_model.assemble.build import assemble
from thermal_model.solver.light_nodes import MOST_BORROWED, with_least_capacity
from thermal_model.solver.network import CONTENTS, Network

LEAST = 0.019


def network(name: str) -> Network:
    return assemble(load_container(name), scenario(start="90 C", room="20 C"), lanes=2)


@pytest.mark.parametrize("name", catalogue_names())
def test_what_is_borrowed_is_not_made(name: str) -> None:
    before = network(name)
    after = with_least_capacity(before, LEAST)
    np.testing.assert_allclose(after.capacities[1:].sum(axis=0), before.capacities[1:].sum(axis=0), rtol=1e-12)
    np.testing.assert_array_equal(after.capacities[CONTENTS], before.capacities[CONTENTS])
    assert (after.capacities >= (1.0 - MOST_BORROWED) * before.capacities - 1e-12).all()
    grown = after.capacities > before.capacities
    grown[CONTENTS] = False
    assert (before.capacities[grown] < LEAST).all()
    assert (after.capacities[grown] <= LEAST * (1.0 + 1e-12)).all()


def test_air_beside_a_plug_borrows_from_the_walls() -> None:
    before = network("single_seal_plug")
    after = with_least_capacity(before, LEAST)
    light = before.capacities[1:] < LEAST
    assert light.sum() > 10
    # Two pieces of the lid are linked with light nodes alone, and get less.
    assert np.isclose(after.capacities[1:][light], LEAST).sum() >= light.sum() - 2 * before.lane_count


def test_nothing_to_borrow_leaves_a_network_as_it_is() -> None:
    before = network("single_seal_plug")
    assert with_least_capacity(before, 0.0) is before
