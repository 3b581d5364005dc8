"""Derived dimensions against hand calculation with exact formulas."""

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometries import container as c
from geometries.container import Container
from geometries.overrides import with_overrides
from geometries.shapes import arc_length, area_below, volume_below_height
from tests.geometries.designs import batch, bottle, cup, singles

MM = 1e-3


def test_walls_of_a_bottle_with_a_flat_shoulder():
    # As the finite-element cases are set up: the outer wall is the inner one offset by gap and both walls.
    bottle_ = bottle()
    profiles = {
        c.inner_profile: ((33, 33, 22, 22), (0, 160, 160, 199.2)),
        c.gap_side_profile: ((33.4, 33.4, 22.4, 22.4), (-0.4, 160.4, 160.4, 199.2)),
        c.outer_profile: ((37.8, 37.8, 26.8, 26.8), (-5.8, 164.8, 164.8, 199.2)),
        c.cavity_profile: ((33, 33, 22, 22), (0, 160, 160, 200)),
    }
    for function, (radii, heights) in profiles.items():
        profile = function(bottle_)
        np.testing.assert_allclose(profile.radii, np.array(radii) * MM, rtol=1e-12)
        np.testing.assert_allclose(profile.heights, np.array(heights) * MM, rtol=1e-12)
    assert bottle_.body.side_width == pytest.approx(4.8 * MM)
    assert bottle_.body.lip_thickness == pytest.approx(0.8 * MM)
    assert c.outside_diameter(bottle_) == pytest.approx(75.6 * MM)
    # Foot ring 2 mm, outer wall, gap, inner wall.
    assert c.outside_height(bottle_) == pytest.approx((2 + 5.8 + 200) * MM)
    assert c.total_height(bottle_) == pytest.approx((2 + 5.8 + 200 + 14) * MM)


@given(st.floats(0.0, 0.06), st.floats(0.005, 0.032))
def test_a_conical_shoulder_is_offset_in_parallel(rise, mouth_radius):
    """The outer shoulder keeps the gap's width at right angles to the cone."""
    body = bottle(
        neck={"mouth_diameter": f"{2 * mouth_radius!r} m", "length": "40 mm", "shoulder_height": f"{rise!r} m"}
    )
    inner, outer = c.inner_profile(body), c.outer_profile(body)
    along = np.array([inner.radii[2] - inner.radii[1], inner.heights[2] - inner.heights[1]])
    moved = np.array([outer.radii[1] - inner.radii[1], outer.heights[1] - inner.heights[1]])
    normal = np.array([along[1], -along[0]]) / np.hypot(*along)
    assert moved @ normal == pytest.approx(body.body.side_width, rel=1e-9)
    end = np.array([outer.radii[2] - inner.radii[2], outer.heights[2] - inner.heights[2]])
    assert end @ normal == pytest.approx(body.body.side_width, rel=1e-9)


def test_inside_and_outside_dimensions_describe_the_same_body():
    by_inside = bottle()
    by_outside = with_overrides(by_inside, {"body.outside_diameter": "75.6 mm", "body.outside_height": "207.8 mm"})
    assert by_outside.body.inside_diameter is None
    assert by_outside.body.radius == pytest.approx(33 * MM, rel=1e-12)
    assert by_outside.body.depth == pytest.approx(200 * MM, rel=1e-12)
    jacket = {"thickness": "2 mm", "air_space": "5 mm"}
    jacketed = with_overrides(by_outside, {"body.jacket": jacket})
    assert jacketed.body.radius == pytest.approx(26 * MM, rel=1e-12)
    assert c.outside_diameter(jacketed) == pytest.approx(75.6 * MM, rel=1e-12)
    assert c.outside_height(jacketed) == pytest.approx(207.8 * MM, rel=1e-12)


def test_capacities_of_a_bottle():
    bottle_ = bottle()
    brim = np.pi * (33**2 * 160 + 22**2 * 40) * MM**3
    assert c.brim_capacity(bottle_) == pytest.approx(brim, rel=1e-12)
    # A closed plug: up to its underside.
    closed = np.pi * (33**2 * 160 + 22**2 * 10) * MM**3
    assert c.closed_capacity(bottle_) == pytest.approx(closed, rel=1e-12)
    # An open plug takes only the room of its wall, 2 mm thick at 21 mm radius.
    open_plug = with_overrides(bottle_, {"lid.plug.kind": "open"})
    wall = np.pi * (21**2 - 19**2) * 30 * MM**3
    assert c.closed_capacity(open_plug) == pytest.approx(brim - wall, rel=1e-12)
    assert c.closed_capacity(with_overrides(bottle_, {"lid": None})) == pytest.approx(brim, rel=1e-12)


def test_a_stated_capacity_in_handbook_units():
    # A cylinder 3 in wide and 4.0852 in deep holds 16 US fl oz: 231 in3 to the gallon of 128 fl oz.
    mug = cup(inside_diameter="3 in", inside_depth=f"{16 * 231 / 128 / (np.pi * 1.5**2)!r} in")
    assert c.brim_capacity(mug) == pytest.approx(16 * 29.5735295625e-6, rel=1e-12)


@given(st.floats(0.001, 1.0), st.floats(20.0, 120.0))
def test_fill_height_inverts_the_volume_below_it(share, base_diameter):
    for design in (bottle(), cup(inside_base_diameter=f"{base_diameter!r} mm")):
        volume = share * c.brim_capacity(design)
        height = c.fill_height(design, volume)
        assert volume_below_height(c.cavity_profile(design), height) == pytest.approx(volume, rel=1e-12)
        assert 0.0 < height <= design.body.depth * (1 + 1e-12)


def test_headspace_and_wetted_wall():
    bottle_, volume = bottle(), 400e-6
    height = volume / (np.pi * 0.033**2)
    assert c.fill_height(bottle_, volume) == pytest.approx(height, rel=1e-12)
    assert c.headspace_depth(bottle_, volume) == pytest.approx(0.170 - height, rel=1e-12)
    assert c.headspace_depth(bottle_, c.brim_capacity(bottle_)) == 0.0


def test_plug_and_annulus():
    bottle_ = bottle()
    assert c.plug_radius(bottle_) == pytest.approx(21 * MM)
    assert c.annulus_depth(bottle_) == pytest.approx(30 * MM)
    long_plug = with_overrides(bottle_, {"lid.plug.depth": "60 mm"})
    assert c.annulus_depth(long_plug) == pytest.approx(40 * MM)
    bare = with_overrides(bottle_, {"lid": "none"})
    assert (c.plug_radius(bare), c.annulus_depth(bare), c.lid_height(bare), c.lid_mass(bare)) == (0, 0, 0, 0)


def test_an_opening_is_as_long_as_the_lid_unless_told():
    opened = with_overrides(bottle(), {"lid.openings.0.kind": "vent", "lid.openings.0.diameter": "3 mm"})
    assert c.opening_length(opened, opened.lid.openings[0]) == pytest.approx(14 * MM)
    told = with_overrides(opened, {"lid.openings.0.length": "4 mm"})
    assert c.opening_length(told, told.lid.openings[0]) == pytest.approx(4 * MM)


def test_masses_against_solid_geometry():
    cup_ = cup()
    shell = np.pi * (41**2 * 101 - 40**2 * 100) * MM**3
    # The lip's ring takes the uppermost 1 mm of the wall.
    assert c.wall_mass(cup_) == pytest.approx(shell * 7900.0, rel=1e-9)
    double = with_overrides(
        bottle(), {"body.neck": None, "lid": None, "body.gap.base_width": "4 mm", "body.lip.thickness": "0.8 mm"}
    )
    inner = 33.4**2 * (200 - 0.8 + 0.4) - 33**2 * (200 - 0.8)
    outer = 37.8**2 * (200 - 0.8 + 4.8) - 37.4**2 * (200 - 0.8 + 4.4)
    lip = (37.8**2 - 33**2) * 0.8
    assert c.wall_mass(double) == pytest.approx(np.pi * (inner + outer + lip) * MM**3 * 7900.0, rel=1e-9)


def test_mass_of_a_lid_with_plug_and_seals():
    radius, plug = 26.8, 21.0
    layers = np.pi * (radius**2 * 4 + (radius**2 - (radius - 2) ** 2) * 10)
    wall = np.pi * ((plug**2 - (plug - 2) ** 2) * 30 + (plug - 2) ** 2 * 2)
    seals = np.pi * (22**2 - 21**2) * 4
    expected = ((layers + wall) * 907.0 + seals * 1200.0) * MM**3
    assert c.lid_mass(bottle()) == pytest.approx(expected, rel=1e-12)


def test_mass_grows_with_every_part():
    plain = bottle()
    for extra in (
        {"body.handle": {"length": "100 mm", "width": "20 mm", "thickness": "5 mm"}},
        {"body.jacket": {"thickness": "2 mm", "air_space": "3 mm"}},
        {"lid.plug.kind": "foam"},
        {"lid.plug.kind": "solid"},
        {"lid.overhang": "3 mm", "lid.skirt_length": "10 mm"},
        {"lid.layers.1.filling": "foam"},
        {"body.wall.outer_thickness": "0.6 mm"},
        {"body.gap": {"kind": "foam", "width": "4 mm", "base_width": "5 mm"}},
    ):
        assert c.empty_mass(with_overrides(plain, extra)) > c.empty_mass(plain), extra


NUMBERS = [
    c.gap_side_base_radius,
    c.outer_base_radius,
    c.outer_radius,
    c.outside_diameter,
    c.outside_height,
    c.total_height,
    c.lid_outer_radius,
    c.lid_height,
    c.plug_radius,
    c.annulus_depth,
    c.brim_capacity,
    c.closing_height,
    c.closed_capacity,
    c.wall_mass,
    c.fittings_mass,
    c.lid_mass,
    c.empty_mass,
]
OF_VOLUME = [
    c.fill_height,
    c.headspace_depth,
]
PROFILES = [c.inner_profile, c.gap_side_profile, c.outer_profile, c.cavity_profile]


@pytest.mark.parametrize("function", NUMBERS, ids=lambda f: f.__name__)
def test_a_batch_of_designs_equals_a_loop(function):
    expected = [float(function(single)) for single in singles()]
    np.testing.assert_allclose(np.broadcast_to(function(batch()), 3), expected, rtol=1e-15)


@pytest.mark.parametrize("name", ["radius", "floor_radius", "mouth_radius", "side_width", "lip_thickness"])
def test_a_batch_of_bodies_equals_a_loop(name):
    expected = [float(getattr(single.body, name)) for single in singles()]
    np.testing.assert_allclose(np.broadcast_to(getattr(batch().body, name), 3), expected, rtol=1e-15)


@pytest.mark.parametrize("function", OF_VOLUME, ids=lambda f: f.__name__)
def test_a_batch_of_volumes_equals_a_loop(function):
    volumes = np.array([100e-6, 500e-6, 900e-6])
    expected = [float(function(single, float(v))) for single, v in zip(singles(), volumes, strict=True)]
    np.testing.assert_allclose(function(batch(), volumes), expected, rtol=1e-14)


@pytest.mark.parametrize("function", PROFILES, ids=lambda f: f.__name__)
def test_a_batch_of_profiles_equals_a_loop(function):
    many, ones = function(batch()), [function(single) for single in singles()]
    assert all(one.segment_count == many.segment_count == 3 for one in ones)
    np.testing.assert_allclose(arc_length(many), [arc_length(one) for one in ones], rtol=1e-15)
    expected = [area_below(one, arc_length(one)) for one in ones]
    np.testing.assert_allclose(area_below(many, arc_length(many)), expected, rtol=1e-14)


def test_the_number_of_segments_belongs_to_the_kind_of_container():
    assert c.inner_profile(cup()).segment_count == 1
    assert c.outer_profile(cup()).segment_count == 1
    level = bottle(neck={"mouth_diameter": "66 mm", "length": "40 mm"})
    assert c.inner_profile(level).segment_count == c.outer_profile(level).segment_count == 3


def test_a_container_is_frozen_and_hides_nothing():
    bottle_ = bottle()
    with pytest.raises(ValueError, match="frozen"):
        bottle_.name = "other"  # type: ignore[misc]
    assert Container.model_validate(bottle_.model_dump(mode="json", exclude_unset=True)) == bottle_


@pytest.mark.parametrize("slow", ["pint", "tomlkit", "scipy", "matplotlib", "CoolProp"])
def test_reading_a_design_imports_nothing_slow(slow):
    program = (
        "import sys; from geometries.design_file import load_container; load_container('slim_neck_double_seal');"
        f"sys.exit({slow!r} in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
