"""Shapes against exact formulas, against numerical quadrature, and against themselves backwards."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from geometries.shapes import (
    Profile,
    annulus_area,
    arc_length,
    arc_length_at_height,
    area_below,
    circle_area,
    cylinder_volume,
    frustum_height,
    frustum_volume,
    height_at,
    height_of_volume,
    log_mean,
    radius_at,
    radius_at_height,
    shape_factor_between,
    volume_below_height,
)

BOTTLE = Profile(radii=(0.030, 0.033, 0.022, 0.022), heights=(0.0, 0.15, 0.15, 0.18))
"""A slightly tapered body, a flat shoulder and a neck."""

radius = st.floats(1e-3, 0.5)
height = st.floats(1e-3, 1.0)


def test_cylinder_and_circle():
    assert circle_area(2.0) == pytest.approx(4 * np.pi, rel=1e-15)
    assert annulus_area(1.0, 2.0) == pytest.approx(3 * np.pi, rel=1e-15)
    assert cylinder_volume(2.0, 3.0) == pytest.approx(12 * np.pi, rel=1e-15)


def test_cone_is_a_third_of_its_cylinder_and_its_side_is_pi_r_l():
    # Euclid, Elements XII.10; lateral area pi r l.
    assert frustum_volume(3.0, 0.0, 4.0) == pytest.approx(np.pi * 9 * 4 / 3, rel=1e-15)


def sphere(segments: int) -> Profile:
    angle = np.linspace(-np.pi / 2, np.pi / 2, segments + 1)
    return Profile(radii=tuple(np.cos(angle).clip(0.0)), heights=tuple(np.sin(angle)))


def test_sphere_of_frusta_converges_with_second_order():
    # Archimedes: volume 4/3 pi, area 4 pi for radius 1.
    volume_errors, area_errors = [], []
    for segments in (20, 40, 80):
        profile = sphere(segments)
        volume_errors.append(abs(volume_below_height(profile, 1.0) - 4 / 3 * np.pi))
        area_errors.append(abs(area_below(profile, arc_length(profile)) - 4 * np.pi))
    for errors in (volume_errors, area_errors):
        order = np.log2(np.array(errors[:-1]) / errors[1:])
        np.testing.assert_allclose(order, 2.0, atol=0.02)
        assert errors[-1] < 0.003


@given(radius, radius, height, st.floats(0.0, 1.0))
def test_frustum_height_inverts_its_volume(low, high, tall, share):
    taper = (high - low) / tall
    end = low + share * (high - low)
    volume = frustum_volume(low, end, share * tall)
    # Near a cone's tip an error eps of volume and taper moves the height by about eps V / (pi r^2).
    unavoidable = 2.2e-16 * volume / (np.pi * end**2)
    assert frustum_height(low, taper, volume) == pytest.approx(share * tall, rel=1e-13, abs=1e-15 + 20 * unavoidable)


@given(st.lists(st.tuples(radius, height), min_size=1, max_size=4), radius, st.floats(0.0, 1.0))
def test_height_of_volume_inverts_volume_below_height(parts, first, share):
    profile = Profile(
        radii=(first, *(r for r, _ in parts)),
        heights=(0.0, *np.cumsum([h for _, h in parts])),
    )
    level = share * profile.heights[-1]
    volume = volume_below_height(profile, level)
    again = height_of_volume(profile, volume)
    assert volume_below_height(profile, again) == pytest.approx(volume, rel=1e-12)
    assert again == pytest.approx(level, rel=1e-9, abs=1e-12)


def test_cylinder_level_is_exact_and_ends_are_held():
    glass = Profile(radii=(0.04, 0.04), heights=(0.0, 0.1))
    assert height_of_volume(glass, np.pi * 0.04**2 * 0.03) == pytest.approx(0.03, rel=1e-15)
    assert height_of_volume(glass, 1.0) == 0.1
    assert height_of_volume(glass, -1.0) == 0.0
    assert volume_below_height(glass, -1.0) == 0.0
    assert volume_below_height(glass, 5.0) == pytest.approx(np.pi * 0.04**2 * 0.1, rel=1e-15)


@pytest.mark.parametrize(("s1", "s2"), [(0.0, 0.19), (0.02, 0.155), (0.15, 0.16), (0.17, 0.05)])
def test_integrals_along_a_profile_agree_with_quadrature(s1, s2):
    corners = np.cumsum([0.0, *BOTTLE.lengths])
    inside = sorted(c for c in corners if min(s1, s2) < c < max(s1, s2))

    def integral(function):
        return quad(function, s1, s2, points=inside or None, epsabs=0.0, epsrel=1e-10)[0]

    def r(s):
        return float(radius_at(BOTTLE, s))

    factor = integral(lambda s: 1.0 / (2.0 * np.pi * r(s)))
    area = integral(lambda s: 2.0 * np.pi * r(s))
    assert shape_factor_between(BOTTLE, s1, s2) == pytest.approx(factor, rel=1e-9)
    assert area_below(BOTTLE, s2) - area_below(BOTTLE, s1) == pytest.approx(area, rel=1e-9)


def test_shape_factor_of_ring_and_cylinder():
    # Exact: ln(r2/r1) / (2 pi) and L / (2 pi r).
    ring = Profile(radii=(0.02, 0.05), heights=(0.0, 0.0))
    assert shape_factor_between(ring, 0.0, 0.03) == pytest.approx(np.log(2.5) / (2 * np.pi), rel=1e-14)
    tube = Profile(radii=(0.02, 0.02), heights=(0.0, 0.1))
    assert shape_factor_between(tube, 0.01, 0.06) == pytest.approx(0.05 / (2 * np.pi * 0.02), rel=1e-14)


@given(st.floats(1e-3, 1e3), st.floats(1e-3, 1e3))
def test_log_mean_lies_between_geometric_and_arithmetic_mean(a, b):
    # Carlson 1972, The logarithmic mean, Am. Math. Monthly 79:615; from memory.
    assert np.sqrt(a * b) * (1 - 1e-14) <= log_mean(a, b) <= 0.5 * (a + b) * (1 + 1e-14)


@pytest.mark.parametrize("ratio", [1e-12, 1e-8, 1e-4, 1e-3, 0.0199, 0.0201, 0.03])
def test_log_mean_keeps_its_digits_near_equality(ratio):
    assert log_mean(1.0, 1.0 + ratio) == pytest.approx(ratio / np.log1p(ratio), rel=1e-13)


def test_heights_and_radii_along_a_profile():
    length = BOTTLE.lengths[0]
    assert height_at(BOTTLE, 0.5 * length) == pytest.approx(0.075)
    assert radius_at(BOTTLE, 0.5 * length) == pytest.approx(0.0315)
    assert arc_length_at_height(BOTTLE, 0.075) == pytest.approx(0.5 * length)
    # A flat ring counts as its lower end until the level has passed it.
    assert arc_length_at_height(BOTTLE, 0.15) == pytest.approx(length)
    assert arc_length_at_height(BOTTLE, 0.1500001) == pytest.approx(length + 0.011, rel=1e-4)
    assert radius_at_height(BOTTLE, 0.15) == pytest.approx(0.033)


def test_a_segment_of_no_length_disturbs_nothing():
    with_empty = Profile(radii=(0.03, 0.03, 0.03), heights=(0.0, 0.1, 0.1))
    plain = Profile(radii=(0.03, 0.03), heights=(0.0, 0.1))
    s = np.linspace(0.0, 0.1, 5)
    for function in (radius_at, height_at, area_below):
        np.testing.assert_allclose(function(with_empty, s), function(plain, s), rtol=1e-15)
    assert volume_below_height(with_empty, 0.07) == volume_below_height(plain, 0.07)
    assert shape_factor_between(with_empty, 0.0, 0.1) == shape_factor_between(plain, 0.0, 0.1)


def test_a_batch_equals_a_loop_of_scalars():
    radii = (np.array([0.03, 0.04, 0.05]), np.array([0.03, 0.03, 0.06]), 0.02, np.array([0.02, 0.01, 0.02]))
    heights = (0.0, np.array([0.1, 0.12, 0.15]), np.array([0.1, 0.13, 0.17]), 0.2)
    batch = Profile(radii, heights)
    singles = [
        Profile(*(tuple(float(np.broadcast_to(x, 3)[i]) for x in xs) for xs in (radii, heights))) for i in range(3)
    ]
    s = np.linspace(0.0, 0.25, 7)[:, None] * np.ones(3)
    for function in (radius_at, height_at, area_below):
        expected = np.stack([function(p, s[:, 0]) for p in singles], axis=1)
        np.testing.assert_array_equal(function(batch, s), expected)
    for function, argument in (  # type: ignore[assignment]
        (volume_below_height, np.array([0.05, 0.13, 0.19])),
        (height_of_volume, np.array([1e-4, 5e-4, 9e-4])),
        (arc_length_at_height, np.array([0.05, 0.13, 0.19])),
    ):
        expected = [float(function(p, float(a))) for p, a in zip(singles, argument, strict=True)]  # type: ignore[assignment]
        np.testing.assert_array_equal(function(batch, argument), expected)
    np.testing.assert_array_equal(arc_length(batch), [arc_length(p) for p in singles])
    expected = [float(shape_factor_between(p, 0.01, 0.2)) for p in singles]  # type: ignore[assignment]
    np.testing.assert_array_equal(shape_factor_between(batch, 0.01, 0.2), expected)


def test_a_profile_needs_matching_corners():
    with pytest.raises(ValueError, match="as many radii as heights"):
        Profile(radii=(1.0, 2.0), heights=(0.0,))
