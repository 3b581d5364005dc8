"""Capacity as an input: in place of a depth or a diameter, or as a check of both."""

import numpy as np
import pytest

from geometries.container import Container, brim_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides, with_values
from geometries.validation import validated
from tests.geometries.designs import bottle, bottle_document, cup


@pytest.mark.parametrize("name", catalogue_names())
@pytest.mark.parametrize(
    ("gone", "size"), [("inside_depth", "depth"), ("outside_height", "depth"), ("inside_diameter", "radius")]
)
def test_capacity_gives_back_the_size_that_was_left_out(name: str, gone: str, size: str) -> None:
    before = load_container(name)
    capacity = f"{1e6 * float(brim_capacity(before)):.12g} mL"
    after = with_overrides(before, {"body.inside_depth": None, "body.outside_height": None, "body.capacity": capacity})
    if gone == "inside_diameter":
        depth = f"{float(before.body.depth)!r} m"
        sizes = {"body.inside_diameter": None, "body.outside_diameter": None, "body.inside_depth": depth}
        after = with_overrides(before, {**sizes, "body.capacity": capacity})
    assert getattr(after.body, size) == pytest.approx(float(getattr(before.body, size)), rel=1e-9)
    assert brim_capacity(after) == pytest.approx(float(brim_capacity(before)), rel=1e-9)


def test_a_litre_in_a_straight_cup() -> None:
    litre = cup(inside_depth=None, capacity="1 L")
    assert litre.body.depth == pytest.approx(1e-3 / (np.pi * 0.04**2))
    wide = cup(inside_diameter=None, capacity="1 L")
    assert wide.body.radius == pytest.approx(np.sqrt(1e-3 / (np.pi * 0.1)))


def test_all_three_are_checked() -> None:
    sizes = {"wall": {"kind": "double"}, "gap": {"width": "8 mm"}}
    document = {"inside_diameter": "80 mm", "inside_depth": "100 mm", **sizes}
    with pytest.raises(InputError) as refused:
        validated(Container, {"name": "mug", "body": {**document, "capacity": "300 mL"}}, "mine.toml")
    assert "body.capacity: 300 mL is given, but the sizes hold 502.7 mL to the brim" in str(refused.value)
    assert "is the diameter the outside one, not the inside one?" in str(refused.value)
    held = validated(Container, {"name": "mug", "body": {**document, "capacity": "480 mL"}}, "mine.toml")
    assert held.body.depth == 0.1


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ({"inside_depth": None}, "neither is given, or the capacity"),
        ({"inside_depth": None, "inside_diameter": None, "capacity": "1 L"}, "give exactly one of inside_diameter and"),
        ({"inside_depth": None, "capacity": "0 mL"}, "body.capacity: '0 mL' is not allowed; it must be above zero"),
        ({"inside_depth": None, "capacity": "50 mL"}, "neck and shoulder"),
        ({"inside_diameter": None, "capacity": "50 mL"}, "neck and shoulder alone hold more than 50 mL"),
        ({"inside_depth": None, "capacity": "900 L"}, "body.capacity: the body would be"),
        ({"inside_depth": None, "capacity": "500 g"}, "'500 g' is not a volume"),
    ],
)
def test_refused(body: dict[str, str | None], message: str) -> None:
    document = bottle_document(**body)
    document["body"] = {key: value for key, value in document["body"].items() if value is not None}
    with pytest.raises(InputError) as refused:
        validated(Container, document, "mine.toml")
    assert message in str(refused.value)


def test_what_is_set_replaces_what_it_contradicts() -> None:
    both = bottle(capacity="650 mL")
    assert both.body.inside_depth == 0.2
    deeper = with_overrides(both, {"body.inside_depth": "250 mm"})
    assert (deeper.body.capacity, deeper.body.inside_depth) == (None, 0.25)
    wider = with_overrides(both, {"body.neck.mouth_diameter": "60 mm"})
    assert wider.body.capacity is None
    larger = with_overrides(both, {"body.capacity": "900 mL"})
    assert larger.body.inside_depth is None
    assert brim_capacity(larger) == pytest.approx(9e-4)


def test_arrays_go_the_same_way_as_texts() -> None:
    capacities = np.array([0.5e-3, 0.7e-3, 1.1e-3])
    mouths = np.array([0.03, 0.044, 0.05])
    lanes = with_values(bottle(capacity="650 mL"), {"body.capacity": capacities, "body.neck.mouth_diameter": mouths})
    for i, (capacity, mouth) in enumerate(zip(capacities, mouths, strict=True)):
        texts = {"body.capacity": f"{float(capacity)!r} m3", "body.neck.mouth_diameter": f"{float(mouth)!r} m"}
        alone = with_overrides(bottle(capacity="650 mL"), texts)
        assert lanes.body.depth[i] == alone.body.depth
        assert brim_capacity(lanes)[i] == pytest.approx(capacity, rel=1e-12)
