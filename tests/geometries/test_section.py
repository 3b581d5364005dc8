"""The cut through a container: its outlines enclose the volumes and bound the sizes that are computed elsewhere."""

import numpy as np
import pytest

from geometries.container import brim_capacity, cavity_profile, closed_capacity, outside_diameter, total_height
from geometries.design_file import catalogue_names, load_container
from geometries.numeric import Array
from geometries.overrides import with_overrides
from geometries.section import Region, cross_section
from geometries.shapes import volume_below_height


def area(outline: Array) -> float:
    """Area by the shoelace formula."""
    x, y = outline.T
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def revolved_volume(outline: Array) -> float:
    """Volume of half an outline turned about the axis: Pappus's theorem, through Green's formula."""
    x, y = outline.T
    next_x, next_y = np.roll(x, -1), np.roll(y, -1)
    return abs(float(np.sum(np.pi / 3.0 * (x * x + x * next_x + next_x * next_x) * (next_y - y))))


def region(name: str, part: str) -> Region:
    return next(r for r in cross_section(load_container(name)).regions if r.part == part)


@pytest.mark.parametrize("name", catalogue_names())
def test_extent_is_the_container_s(name: str) -> None:
    container = load_container(name)
    cut = cross_section(container)
    assert cut.top - cut.table_height == pytest.approx(float(total_height(container)), abs=1e-9)
    width = cut.right - cut.left
    lid = 0.0 if container.lid is None else 2.0 * float(container.body.mouth_radius + container.body.side_width)
    assert width >= max(float(outside_diameter(container)), lid) - 1e-9
    if container.body.handle is None:
        assert cut.left == pytest.approx(-cut.right)


@pytest.mark.parametrize("name", catalogue_names())
@pytest.mark.parametrize("share", [0.1, 0.5, 1.0])
def test_contents_enclose_what_was_poured_in(name: str, share: float) -> None:
    container = load_container(name)
    fill = share * float(closed_capacity(container))
    contents = next(r for r in cross_section(container, fill).regions if r.part == "contents")
    (outline,) = contents.outlines
    half = outline[: len(outline) // 2]
    closed = np.vstack([[[0.0, half[0, 1]]], half, [[0.0, half[-1, 1]]]])
    assert revolved_volume(closed) == pytest.approx(fill, rel=1e-9)
    assert volume_below_height(cavity_profile(container), outline[:, 1].max()) == pytest.approx(fill, rel=1e-9)
    assert fill <= float(brim_capacity(container)) * (1.0 + 1e-12)


@pytest.mark.parametrize("name", catalogue_names())
def test_no_part_is_empty_or_crossed(name: str) -> None:
    for each in cross_section(load_container(name), 1e-4).regions:
        for outline in each.outlines:
            assert np.isfinite(outline).all(), each.part
            assert area(outline) > 0.0, each.part


def test_a_wrong_dimension_shows() -> None:
    right = load_container("slim_neck_double_seal")
    wrong = with_overrides(right, {"body.neck.mouth_diameter": "20 mm"}, source="")
    lip = [next(r for r in cross_section(c).regions if r.part == "lip").outlines[0][:, 0].min() for c in (right, wrong)]
    assert lip == pytest.approx([0.022, 0.010])
    assert any(measure.text == "mouth 20 mm" for measure in cross_section(wrong).measures)


def test_texts_in_inches() -> None:
    measures = [measure.text for measure in cross_section(load_container("wide_mouth_disc"), unit="in").measures]
    assert "mouth 2.52 in" in measures  # 64 mm / 25.4


def test_a_lid_without_a_seal_says_so() -> None:
    container = load_container("thin_disc_lid")
    bare = container.model_copy(update={"lid": container.lid.model_copy(update={"seals": ()})})
    assert "no seal" in [note.text for note in cross_section(bare).notes]


def test_gap_is_as_wide_as_given() -> None:
    (outline,) = region("night_watch_can_two_litre", "gap").outlines
    container = load_container("night_watch_can_two_litre")
    wide = outline[:, 0].max() - float(container.body.radius + container.body.inner_thickness)
    assert wide == pytest.approx(float(container.body.gap_width), abs=1e-9)
