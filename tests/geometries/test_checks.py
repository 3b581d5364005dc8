"""Dimensions that can't be are refused, alone and in a batch, and said so in one line."""

import numpy as np
import pytest

from geometries.checks import dimension_problems, fill_problems
from geometries.container import brim_capacity, closed_capacity
from geometries.errors import InputError
from geometries.overrides import with_overrides, with_values
from tests.geometries.designs import batch, bottle, cup

REFUSED = [
    ({"body.neck.mouth_diameter": "67 mm"}, "body.neck.mouth_diameter: 67 mm is wider than the body, 66 mm inside"),
    ({"body.neck.length": "200 mm"}, "body.neck.length: neck and shoulder take 200 mm of 200 mm inside depth"),
    ({"body.neck.shoulder_height": "170 mm"}, "body.neck.length: neck and shoulder take 210 mm of 200 mm"),
    (
        {"body.neck.length": "5 mm", "lid.plug": None, "lid.seals": None},
        "body.neck.length: 5 mm leaves no neck outside",
    ),
    ({"body.outside_diameter": "9 mm"}, "body.outside_diameter: no room is left inside: walls and gap are 4.8 mm"),
    ({"body.outside_height": "7 mm"}, "body.outside_height: no room is left inside: base and its gap are 5.8 mm"),
    ({"body.inside_diameter": "6.6 m"}, "body.inside_diameter: the body would be 6610 mm wide; at most 1000 mm"),
    ({"body.inside_depth": "9 m"}, "body.inside_depth: the body would be 9008 mm tall; at most 2000 mm"),
    ({"body.wall.inner_thickness": "34 mm"}, "body.wall.inner_thickness: the wall is thicker than the inside radius"),
    ({"body.lip.thickness": "41 mm"}, "body.neck.length: 40 mm leaves no neck outside"),
    ({"lid.plug.depth": "200 mm"}, "lid.plug.depth: the plug is longer than the inside is deep, 200 mm"),
    ({"lid.plug.depth": "1.5 mm"}, "lid.plug.depth: must be more than the plug's floor, 2 mm"),
    ({"lid.plug.clearance": "20.5 mm"}, "lid.plug.clearance: leaves no plug in a mouth of 44 mm"),
    ({"lid.seals.1.depth": "31 mm"}, "lid.seals.1.depth: 31 mm is deeper than plug and neck reach, 30 mm"),
    ({"lid.seals.1.depth": "3 mm"}, "lid.seals.1.depth: the seal overlaps seal 0; put them 2 mm apart"),
    ({"lid.plug": None}, "lid.seals.1.depth: a seal below the rim sits on a plug; give lid.plug"),
    (
        {"lid.openings.0": {"kind": "vent", "diameter": "44 mm"}},
        "lid.openings.0.diameter: 44 mm is as wide as the mouth",
    ),
    ({"lid.side_thickness": "30 mm"}, "lid.side_thickness: leaves no pocket in a lid of 26.8 mm radius"),
    ({"lid.skirt_length": "10 mm"}, "lid.overhang: a skirt 2 mm thick hangs outside the lip"),
    (
        {"lid.skirt_length": "36 mm", "lid.overhang": "3 mm"},
        "lid.skirt_length: 36 mm reaches the shoulder; the neck is 35.2",
    ),
    (
        {"lid.skirt_length": "210 mm", "lid.overhang": "30 mm"},
        "lid.skirt_length: the skirt is longer than the container",
    ),
]


@pytest.mark.parametrize(("overrides", "message"), REFUSED, ids=lambda v: next(iter(v)) if isinstance(v, dict) else "")
def test_a_design_that_cannot_be_is_refused(overrides, message):
    with pytest.raises(InputError) as caught:
        with_overrides(bottle(), overrides)
    lines = str(caught.value).splitlines()
    assert any(message in line for line in lines), lines
    assert all(len(line) < 200 for line in lines)


def test_a_plug_must_fit_a_taper_and_a_lip_its_cup():
    tapered = cup(inside_base_diameter="40 mm")
    lid = {"layers": [{"kind": "solid", "thickness": "5 mm"}], "plug": {"depth": "30 mm", "clearance": "1 mm"}}
    with pytest.raises(InputError, match="the plug's foot touches the tapered wall, 34 mm radius there"):
        with_overrides(tapered, {"lid": lid})
    with pytest.raises(InputError, match=r"body\.lip\.thickness: the lip can't be as thick"):
        with_overrides(tapered, {"body.lip.thickness": "100 mm"})


def test_all_problems_are_told_at_once():
    with pytest.raises(InputError) as caught:
        with_overrides(bottle(), {"body.neck.mouth_diameter": "67 mm", "lid.seals.1.depth": "35 mm"})
    assert [p.field for p in caught.value.problems] == ["body.neck.mouth_diameter", "lid.seals.1.depth"]


@pytest.mark.parametrize(
    ("path", "bad", "good"),
    [
        ("body.neck.mouth_diameter", 0.067, 0.044),
        ("body.neck.mouth_diameter", -0.01, 0.044),
        ("body.neck.mouth_diameter", np.nan, 0.044),
        ("body.gap.width", 0.0, 0.004),
        ("body.gap.inner_emissivity", 1.2, 0.1),
        ("body.gap.pressure", -1.0, 0.01),
        ("lid.layers.0.thickness", 0.0, 0.003),
        ("lid.overhang", -0.001, 0.0),
        ("lid.plug.clearance", 0.022, 0.001),
        ("lid.seals.1.depth", 0.031, 0.020),
    ],
)
def test_in_a_batch_the_mask_names_the_designs_concerned(path, bad, good):
    many = with_values(bottle(), {path: np.array([good, bad, good])})
    problems = [p for p in dimension_problems(many) if p.field == path]
    assert problems
    np.testing.assert_array_equal(np.any([p.mask for p in problems], axis=0), [False, True, False])


def test_sound_designs_have_no_problems():
    assert dimension_problems(bottle()) == []
    assert dimension_problems(batch()) == []
    assert dimension_problems(cup()) == []


def test_a_fill_must_fit():
    design = bottle()
    closed, brim = closed_capacity(design), brim_capacity(design)
    assert fill_problems(design, closed) == []
    assert fill_problems(with_overrides(design, {"lid": None}), brim) == []
    (under_lid,) = fill_problems(design, 0.5 * (closed + brim))
    assert "does not fit under the lid; at most 562.6 mL do" in under_lid.message
    (over,) = fill_problems(design, 1.1 * brim)
    assert "is beyond the brim; at most 608.2 mL fit" in over.message
    (nothing,) = fill_problems(design, 0.0)
    assert nothing.message == "must be above zero"
    many = fill_problems(design, np.array([100e-6, 580e-6, 700e-6]))
    np.testing.assert_array_equal([p.mask for p in many], [[False, False, True], [False, True, False]])
