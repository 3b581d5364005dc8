"""View factors and exchange factors beside Howell, Incropera and Holman; shields, limits and reciprocity."""

import numpy as np
import pytest

from thermal_model.physics.radiation import (
    MOST_SHIELDS,
    STEFAN_BOLTZMANN,
    exchange_factor_parallel_plates,
    exchange_factor_reradiating,
    exchange_factor_with_shields,
    grey_heat_flux,
    view_factor_coaxial_discs,
    view_factor_disc_to_cylinder_ring,
)


def test_stefan_boltzmann_follows_from_exact_constants():
    # SI 2019: k, h, c are exact; sigma = 2 pi^5 k^4 / (15 h^3 c^2).
    k, h, c = 1.380649e-23, 6.62607015e-34, 299792458.0
    assert pytest.approx(2.0 * np.pi**5 * k**4 / (15.0 * h**3 * c**2), rel=1e-9) == STEFAN_BOLTZMANN


def test_equal_discs_one_radius_apart():
    # Howell C-41 for R1 = R2 = 1: (3 - sqrt 5)/2 = 0.38197; Incropera figure 13.5 reads 0.38 (from memory).
    assert view_factor_coaxial_discs(0.03, 0.03, 0.03) == pytest.approx((3.0 - np.sqrt(5.0)) / 2.0, rel=1e-12)


@pytest.mark.parametrize(("r1", "r2", "distance"), [(0.03, 0.03, 0.03), (0.02, 0.05, 0.04), (0.05, 0.01, 0.03)])
def test_discs_agree_with_the_double_area_integral(r1, r2, distance):
    # Exact: the definition of the view factor, Gauss-Legendre in both radii and the trapezoid rule around.
    nodes, weights = np.polynomial.legendre.leggauss(40)
    a, wa = 0.5 * r1 * (nodes + 1.0), 0.5 * r1 * weights
    b, wb = 0.5 * r2 * (nodes + 1.0), 0.5 * r2 * weights
    angle = 2.0 * np.pi * np.arange(256) / 256
    square = (
        distance**2
        + a[:, None, None] ** 2
        + b[None, :, None] ** 2
        - 2.0 * a[:, None, None] * b[None, :, None] * np.cos(angle)
    )
    around = (distance**2 / (np.pi * square**2)).mean(axis=2) * 2.0 * np.pi
    integral = 2.0 / r1**2 * np.einsum("i,i,j,j,ij", wa, a, wb, b, around)
    assert view_factor_coaxial_discs(r1, r2, distance) == pytest.approx(integral, rel=1e-8)


def test_discs_at_their_limits():
    assert view_factor_coaxial_discs(0.03, 0.05, 0.0) == pytest.approx(1.0)
    assert view_factor_coaxial_discs(0.05, 0.03, 0.0) == pytest.approx((3.0 / 5.0) ** 2)
    assert view_factor_coaxial_discs(0.03, 0.05, 30.0) == pytest.approx((0.05 / 30.0) ** 2, rel=1e-5)


def test_discs_are_reciprocal():
    r1, r2, distance = np.array([0.01, 0.03, 0.05]), 0.04, np.array([[0.001], [0.1]])
    there = r1**2 * view_factor_coaxial_discs(r1, r2, distance)
    np.testing.assert_allclose(there, r2**2 * view_factor_coaxial_discs(r2, r1, distance), rtol=1e-12)


def test_a_closed_cylinder_catches_everything():
    rings = np.linspace(0.0, 0.12, 13)
    wall = view_factor_disc_to_cylinder_ring(0.03, rings[:-1], rings[1:]).sum()
    assert wall + view_factor_coaxial_discs(0.03, 0.03, 0.12) == pytest.approx(1.0, rel=1e-12)


def test_reradiating_walls_as_holman_writes_them():
    # Holman, 10th ed., eq. 8-41 (from memory): black surfaces, (A2 - A1 F^2) / (A1 + A2 - 2 A1 F).
    a1, a2, view = 0.002, 0.005, 0.4
    expected = (a2 - a1 * view**2) / (a1 + a2 - 2.0 * a1 * view)
    assert exchange_factor_reradiating(view, a1, a2, 1.0, 1.0) == pytest.approx(expected, rel=1e-12)


def test_paint_baking_oven():
    # Incropera, example on a triangular duct with one reradiating side: F = 0.5, e 0.8 at 1200 K and 0.4
    # at 500 K, 37 kW per metre of length (from memory).
    factor = exchange_factor_reradiating(0.5, 1.0, 1.0, 0.8, 0.4)
    assert round(float(grey_heat_flux(1200.0, 500.0, factor)) / 1e3) == 37


def test_reradiating_limits():
    near = exchange_factor_reradiating(1.0, 0.003, 0.003, 0.3, 0.6)
    assert near == pytest.approx(exchange_factor_parallel_plates(0.3, 0.6), rel=1e-12)
    unseen = exchange_factor_reradiating(0.0, 0.003, 0.003, 1.0, 1.0)
    assert unseen == pytest.approx(0.5)


def test_reradiating_exchange_is_reciprocal():
    a1, a2, view = 0.002, 0.005, 0.4
    there = a1 * exchange_factor_reradiating(view, a1, a2, 0.3, 0.9)
    back = a2 * exchange_factor_reradiating(view * a1 / a2, a2, a1, 0.9, 0.3)
    assert there == pytest.approx(back, rel=1e-12)


def test_no_shield_is_the_plain_gap():
    # Incropera, 6th ed., eq. 13.20: 1 / (1 / e1 + r1 / r2 (1 / e2 - 1)) between concentric cylinders.
    plain = 1.0 / (1.0 / 0.08 + 0.88 * (1.0 / 0.12 - 1.0))
    assert exchange_factor_with_shields(0.08, 0.12, 0.88, 0, 0.03) == pytest.approx(plain, rel=1e-14)
    flat = exchange_factor_with_shields(0.08, 0.12, 1.0, 0, 0.03)
    assert flat == pytest.approx(exchange_factor_parallel_plates(0.08, 0.12), rel=1e-14)


@pytest.mark.parametrize("shields", range(MOST_SHIELDS + 1))
def test_equal_shields_divide_the_flux_by_their_number_plus_one(shields):
    # Incropera, sec. 13.3 (shields): with equal emissivities, q_N = q_0 / (N + 1).
    bare = exchange_factor_parallel_plates(0.1, 0.1)
    assert exchange_factor_with_shields(0.1, 0.1, 1.0, shields, 0.1) == pytest.approx(bare / (shields + 1), rel=1e-12)


def test_shield_numbers_in_one_batch():
    shields = np.arange(6.0)
    batch = exchange_factor_with_shields(0.1, 0.2, 0.9, shields, 0.05)
    np.testing.assert_allclose(
        batch, [exchange_factor_with_shields(0.1, 0.2, 0.9, n, 0.05) for n in shields], rtol=1e-15
    )
    assert np.all(np.diff(batch) < 0.0)


def test_zero_difference_gives_exactly_no_flux():
    assert grey_heat_flux(343.15, 343.15, 0.9) == 0.0
    assert grey_heat_flux(300.0, 350.0, 0.5) == -grey_heat_flux(350.0, 300.0, 0.5)
    assert grey_heat_flux(300.0, 0.0, 1.0) == pytest.approx(STEFAN_BOLTZMANN * 300.0**4, rel=1e-14)
