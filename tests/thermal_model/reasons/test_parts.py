"""Containers taken apart, swapped, and put together: always something that can be."""

from itertools import combinations

import numpy as np
import pytest

from geometries.checks import dimension_problems
from geometries.container import Container, closed_capacity, empty_mass, fill_height, outside_height
from geometries.design_file import catalogue_names, load_container
from geometries.lid import Lid
from geometries.overrides import with_overrides
from thermal_model.reasons.parts import (
    OF_CONTAINER,
    Adaptation,
    Group,
    Parts,
    differing,
    put_together,
    swapped,
    taken_apart,
    without_own_mouths,
)

CATALOGUE = {name: load_container(name) for name in catalogue_names()}
SLIM = CATALOGUE["slim_neck_double_seal"]


def pair(first: Container, second: Container) -> tuple[Parts, Parts]:
    return without_own_mouths(taken_apart(first), taken_apart(second))


def test_no_field_of_a_lid_is_lost() -> None:
    """A field that no part holds would vanish in a swap, and `explain` would count it for nothing."""
    assert SLIM.lid is not None
    others = set(Lid.model_fields) - {"layers", "exterior", "plug", "seals"}
    marked = SLIM.lid.model_copy(update={name: f"own {name}" for name in others})
    parts = taken_apart(SLIM.model_copy(update={"lid": marked}))
    assert {name: getattr(parts[Group.LID_LAYERS], name) for name in others} == {name: f"own {name}" for name in others}
    assert (parts[Group.PLUG_AND_SEALS].plug, parts[Group.PLUG_AND_SEALS].seals) == (SLIM.lid.plug, SLIM.lid.seals)


@pytest.mark.parametrize("name", CATALOGUE)
def test_apart_and_together_gives_the_same_container(name: str) -> None:
    container = CATALOGUE[name]
    again = put_together(taken_apart(container), name)
    assert again.adaptations == frozenset()
    for measure in (closed_capacity, outside_height, empty_mass, lambda c: fill_height(c, 1e-4)):
        assert measure(again.container) == pytest.approx(measure(container), rel=1e-12)


def test_every_hybrid_of_the_catalogue_can_be() -> None:
    """All pairs; of each, eight of the 128 combinations, drawn anew for every pair."""
    draw = np.random.default_rng(3)
    wrong = []
    for one, other in combinations(CATALOGUE, 2):
        parts = pair(CATALOGUE[one], CATALOGUE[other])
        for number in draw.choice(128, size=8, replace=False).tolist():
            chosen = frozenset(group for i, group in enumerate(OF_CONTAINER) if number >> i & 1)
            problems = dimension_problems(put_together(swapped(*parts, chosen), "hybrid").container)
            wrong += [(one, other, number, problem.field) for problem in problems]
    assert wrong == []


def test_hybrids_do_not_hang_on_whose_design_comes_first() -> None:
    one, other = pair(SLIM, CATALOGUE["wide_mouth_disc"])
    some = frozenset({Group.MOUTH, Group.NECK})
    assert put_together(swapped(one, other, some), "h") == put_together(
        swapped(other, one, frozenset(OF_CONTAINER) - some), "h"
    )


def test_a_swapped_mouth_is_that_mouth_and_nothing_else() -> None:
    wide = with_overrides(SLIM, {"body.neck.mouth_diameter": "56 mm"})
    assert differing(taken_apart(SLIM), taken_apart(wide)) == (Group.MOUTH,)
    made = put_together(swapped(taken_apart(SLIM), taken_apart(wide), frozenset(OF_CONTAINER) - {Group.MOUTH}), "h")
    assert made.container.body.neck is not None
    assert made.container.body.neck.mouth_diameter == pytest.approx(0.056)
    assert made.container.lid is not None
    assert SLIM.lid is not None
    assert made.container.lid.plug == SLIM.lid.plug


def test_inside_and_outside_dimensions_are_the_same_container() -> None:
    """wide_mouth_disc gives outside dimensions; written by inside ones it is no other container."""
    outside = CATALOGUE["wide_mouth_disc"]
    changes = {"body.inside_diameter": f"{2e3 * outside.body.radius!r} mm", "body.inside_depth": None}
    changes["body.inside_depth"] = f"{1e3 * outside.body.depth!r} mm"
    inside = with_overrides(outside, changes)
    assert differing(taken_apart(outside), taken_apart(inside)) == ()


def test_a_finish_of_the_same_emissivity_is_the_same_wall() -> None:
    named = with_overrides(SLIM, {"body.exterior.surface": "powder_coat"})
    given = with_overrides(SLIM, {"body.exterior.emissivity": 0.5})
    assert differing(taken_apart(SLIM), taken_apart(named)) == ()
    assert differing(taken_apart(SLIM), taken_apart(given)) == (Group.WALL_AND_GAP,)


def test_a_longer_neck_leaves_the_body_its_volume() -> None:
    long = with_overrides(SLIM, {"body.neck.length": "60 mm", "body.inside_depth": "251 mm"})
    assert differing(taken_apart(SLIM), taken_apart(long)) == (Group.NECK,)


@pytest.mark.parametrize(
    ("first", "second", "of_first", "expected"),
    [
        ("stoneware_cup", "slim_neck_double_seal", {Group.CAPACITY, Group.NECK}, Adaptation.SHORTEST_NECK),
        ("foam_jug", "slim_neck_double_seal", {Group.MOUTH}, Adaptation.MOUTH_AS_BODY),
        ("slim_neck_double_seal", "thin_disc_lid", {Group.PLUG_AND_SEALS}, Adaptation.RAISED_SEALS),
        ("stoneware_cup", "slim_neck_double_seal", {Group.LID_LAYERS}, Adaptation.NO_PLUG_WITHOUT_LID),
        ("foam_jug", "thin_disc_lid", {Group.WALL_AND_GAP, Group.CAPACITY}, Adaptation.LONGER_NECK),
        ("cork_stopper_bottle", "handled_tumbler_straw", {Group.PLUG_AND_SEALS}, Adaptation.THINNER_PLUG),
    ],
)
def test_what_does_not_fit_is_adapted_and_said(
    first: str, second: str, of_first: set[Group], expected: Adaptation
) -> None:
    made = put_together(swapped(*pair(CATALOGUE[first], CATALOGUE[second]), frozenset(of_first)), "hybrid")
    assert expected in made.adaptations
    assert dimension_problems(made.container) == []


def test_raised_seals_keep_their_order_and_reach_the_plugs_end() -> None:
    made = put_together(swapped(*pair(SLIM, CATALOGUE["thin_disc_lid"]), frozenset({Group.PLUG_AND_SEALS})), "hybrid")
    assert made.container.lid is not None
    depths = [float(seal.depth) for seal in made.container.lid.seals]
    assert depths == pytest.approx([0.025 * 3 / 36, 0.025], rel=1e-9)


def test_without_a_neck_on_either_side_the_mouth_goes_with_the_body() -> None:
    one, other = pair(CATALOGUE["stoneware_cup"], CATALOGUE["foam_jug"])
    assert Group.MOUTH not in differing(one, other)


def test_parts_take_arrays() -> None:
    width = np.array([0.040, 0.044, 0.050])
    parts = taken_apart(SLIM) | {Group.MOUTH: width}
    made = put_together(parts, "hybrid").container
    assert made.body.neck is not None
    assert made.body.neck.mouth_diameter == pytest.approx(width)
    assert dimension_problems(made) == []
