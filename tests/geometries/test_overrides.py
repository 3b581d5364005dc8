"""Fields addressed by path: with text as a file would hold it, and with arrays of designs."""

import numpy as np
import pytest

from geometries.errors import InputError
from geometries.overrides import split_assignment, with_overrides, with_values
from tests.geometries.designs import bottle


def test_an_override_changes_its_field_and_nothing_else():
    before = bottle()
    after = with_overrides(before, {"body.neck.mouth_diameter": "45 mm", "lid.layers.1.depth": "12 mm"})
    assert after.body.neck.mouth_diameter == 0.045
    assert after.lid.layers[1].depth == 0.012
    back = with_overrides(after, {"body.neck.mouth_diameter": "44 mm", "lid.layers.1.depth": "10 mm"})
    assert back == before
    assert before.body.neck.mouth_diameter == 0.044


def test_none_takes_a_field_away():
    assert with_overrides(bottle(), {"lid": "none"}).lid is None
    assert with_overrides(bottle(), {"lid.plug.clearance": "2 mm", "lid.seals": None}).lid.seals == ()


def test_inside_and_outside_replace_each_other():
    outside = with_overrides(bottle(), {"body.outside_diameter": "80 mm"})
    assert (outside.body.inside_diameter, outside.body.outside_diameter) == (None, 0.08)
    inside = with_overrides(outside, {"body.inside_diameter": "66 mm"})
    assert inside == bottle()
    with pytest.raises(InputError, match="give exactly one of inside_diameter and outside_diameter; both are given"):
        with_overrides(bottle(), {"body.outside_diameter": "80 mm", "body.inside_diameter": "66 mm"})


def test_the_number_after_the_last_appends():
    more = with_overrides(
        bottle(),
        {
            "lid.seals.2.depth": "15 mm",
            "lid.openings.0.kind": "vent",
            "lid.openings.0.diameter": "2 mm",
            "lid.openings.0.closed": "true",
        },
    )
    assert [seal.depth for seal in more.lid.seals] == [0.002, 0.028, 0.015]
    assert more.lid.openings[0].closed is True
    fewer = with_overrides(more, {"lid.seals.2": None})
    assert len(fewer.lid.seals) == 2


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("body.nek.length", "4 mm", "--set: body.nek: unknown key; did you mean 'neck'? allowed: inside_diameter"),
        ("lid.layer.1.depth", "4 mm", "--set: lid.layer: unknown key; did you mean 'layers'?"),
        ("lid.layers.7.depth", "4 mm", "--set: lid.layers.7: the list has no entry '7'; entries: 0 to 3"),
        ("lid.layers.x.depth", "4 mm", "--set: lid.layers.x: the list has no entry 'x'"),
        ("body.inside_depth.x", "4 mm", "--set: body.inside_depth.x: the path goes on below a plain value"),
        ("body neck", "4 mm", "--set: body neck: a path is made of field names with dots between them"),
        ("", "4 mm", "--set: a path is made of field names"),
        ("body.gap.width", "4", "--set: body.gap.width: '4' has no unit; give the unit, for example '48 mm'"),
        ("body.gap.shields", "7", "--set: body.gap.shields = '7': must be at most 5"),
        ("body.gap.shields", "two", "--set: body.gap.shields = 'two': must be a whole number"),
        ("body.wall.material", "stainless", "'stainless' is not a known material; did you mean 'stainless_"),
        ("body.gap.kind", "vacum", "--set: body.gap.kind = 'vacum': did you mean 'vacuum'? allowed: vacuum, air, foam"),
        ("lid.layers.0.kind", "pocket", "lid.layers.0.depth: is missing; add it"),
        ("lid.layers", [], "lid.layers = []: needs at least 1 entry"),
        ("lid.layers.2", None, "lid.layers.1: a pocket lies between two solid layers"),
        ("lid.layers.1.filling", "honeycomb", "lid.layers.1.cell_size: a honeycomb needs its cell size"),
        ("lid.layers.1.cell_size", "3 mm", "lid.layers.1.cell_size: only a honeycomb has cells; leave this out"),
        ("lid.plug.core_material", "cork", "lid.plug.core_material: only a plug of kind 'foam' has a core"),
        ("body.gap", None, "body.gap: a double wall needs a gap; give its kind and width"),
        ("body.inside_diameter", None, "give exactly one of inside_diameter and outside_diameter; neither is given"),
        ("body.wall", {"kind": "single", "outer_thickness": "1 mm"}, "body.wall.outer_thickness: a single wall has no"),
    ],
)
def test_a_bad_override_is_told_in_one_line_each(path, value, message):
    with pytest.raises(InputError) as caught:
        with_overrides(bottle(), {path: value}, source="--set")
    lines = str(caught.value).splitlines()
    assert any(message in line for line in lines), lines
    assert all(line.startswith("--set: ") for line in lines)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("body.gap.width=4 mm", ("body.gap.width", "4 mm")),
        ("body.gap.shields = 2", ("body.gap.shields", 2)),
        ("lid.openings.0.closed=true", ("lid.openings.0.closed", True)),
        ("body.gap.inner_emissivity=.05", ("body.gap.inner_emissivity", 0.05)),
        ("summary=a=b", ("summary", "a=b")),
        ("lid=", ("lid", "")),
    ],
)
def test_assignments_are_split(text, expected):
    assert split_assignment(text) == expected


@pytest.mark.parametrize("text", ["", "body.gap.width", "=4 mm"])
def test_an_assignment_needs_path_and_equals_sign(text):
    with pytest.raises(InputError, match=r"write path=value, for example body\.gap\.width='4 mm'"):
        split_assignment(text)


def test_arrays_take_the_place_of_numbers():
    depths = np.array([0.005, 0.010])
    many = with_values(bottle(), {"lid.layers.1.depth": depths, "body.outside_diameter": depths + 0.1})
    np.testing.assert_array_equal(many.lid.layers[1].depth, depths)
    np.testing.assert_array_equal(many.body.outside_diameter, depths + 0.1)
    assert many.body.inside_diameter is None
    assert bottle().lid.layers[1].depth == 0.010


@pytest.mark.parametrize(
    ("path", "message"),
    [
        ("body.nek.length", "body.nek.length: unknown field; did you mean 'neck'?"),
        ("body.jacket.thickness", "body.jacket: is left out in this design; give it there first"),
        ("lid.layers.3.depth", "lid.layers.3.depth: the list has no entry '3'; entries: 0 to 2"),
        ("lid.layers.1.depth.x", "has no fields below it"),
    ],
)
def test_a_value_needs_a_field_that_is_there(path, message):
    with pytest.raises(InputError) as caught:
        with_values(bottle(), {path: 0.01})
    assert message in str(caught.value)


def test_an_array_has_no_text():
    many = with_values(bottle(), {"lid.layers.1.depth": np.array([0.005, 0.010])})
    with pytest.raises(ValueError, match="an array of designs has no text"):
        many.model_dump(mode="json")
