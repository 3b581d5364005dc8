"""Conduction and fins beside exact solutions and handbooks."""

import numpy as np
import pytest
from scipy.special import digamma, i0, i1

from thermal_model.physics.conduction import (
    DISC_MEAN_TO_EDGE,
    bend_share,
    resistance_isothermal_disc_on_half_space,
    squares_of_square_corner,
)
from thermal_model.physics.fins import conductance_fin_adiabatic_tip


def test_disc_on_half_space_is_the_shape_factor_of_incropera():
    # Incropera, table 4.1 case 10: shape factor S = 2 D, R = 1 / (S k).
    assert 1.0 / resistance_isothermal_disc_on_half_space(0.04, 0.15) == pytest.approx(2.0 * 0.08 * 0.15)


def test_a_square_edge_is_the_shape_factor_of_the_textbooks():
    # Langmuir 1913, Incropera table 4.1 case 8: 0.54 of the edge's length, for both sides of it.
    assert 2.0 * bend_share(0.5 * np.pi) == pytest.approx(0.54, abs=0.02)


def test_a_bend_is_that_of_the_conformal_map():
    angle = np.linspace(0.01, 0.75 * np.pi, 50)
    exact = (digamma(0.5 + 0.5 * angle / np.pi) - digamma(0.5)) / (np.pi * np.tan(0.5 * angle))
    assert bend_share(0.5 * np.pi) == pytest.approx(exact_at_a_right_angle(), rel=1e-12)
    np.testing.assert_allclose(bend_share(angle), exact, atol=0.017)


def exact_at_a_right_angle() -> float:
    return float((digamma(0.75) - digamma(0.5)) / np.pi)


def test_a_square_corner_of_a_sheet_is_that_of_thin_films():
    # Hall 1968, from memory: 0.559 squares where both strips are as wide; the order of the strips does not matter.
    assert squares_of_square_corner(0.4, 0.4) == pytest.approx(0.559, abs=0.0005)
    assert squares_of_square_corner(0.4, 1.2) == pytest.approx(squares_of_square_corner(1.2, 0.4), rel=1e-12)
    # A corner that conducts across is one that conducts along, seen from the side.
    assert squares_of_square_corner(1.0, 1.0) == pytest.approx(2.0 * bend_share(0.5 * np.pi), rel=1e-12)


def test_a_disc_that_takes_up_heat_evenly_is_the_cylinder_with_sources():
    # Incropera, eq. 3.53: T(r) - T(R) = q (R^2 - r^2) / 4k; its mean over the heat of the whole disc, q pi R^2.
    radius = np.linspace(0.0, 1.0, 2001)
    mean = np.trapezoid(0.25 * (1.0 - radius**2) * 2.0 * radius, radius)
    assert mean / np.pi == pytest.approx(DISC_MEAN_TO_EDGE, rel=1e-6)


@pytest.mark.parametrize(("m_times_radius", "allowed"), [(0.5, 0.001), (1.0, 0.005), (1.5, 0.02), (2.0, 0.05)])
def test_a_disc_under_a_film_is_the_round_fin(m_times_radius, allowed):
    # The bounded solution of Bessel's equation, Incropera sec. 3.6.4: 2 I1(mR) / (mR I0(mR)) of its film counts.
    exact = 2.0 * i1(m_times_radius) / (m_times_radius * i0(m_times_radius))
    in_series = 1.0 / (1.0 + np.pi * m_times_radius**2 * DISC_MEAN_TO_EDGE)
    assert in_series == pytest.approx(exact, rel=allowed)


def test_fin_at_its_limits():
    film, perimeter, conductivity, section = arguments = (10.0, 0.25, 15.0, 1e-4)
    # Incropera, table 3.4: an infinite rod conducts sqrt(h P k A); example 3.9: m L = 2.65 is 99 % of it.
    infinite = np.sqrt(film * perimeter * conductivity * section)
    reach = np.sqrt(conductivity * section / (film * perimeter))
    assert conductance_fin_adiabatic_tip(*arguments, 2.65 * reach) == pytest.approx(0.99 * infinite, rel=1e-3)
    assert conductance_fin_adiabatic_tip(*arguments, 100.0 * reach) == pytest.approx(infinite, rel=1e-12)
    short = conductance_fin_adiabatic_tip(*arguments, 1e-6)
    assert short == pytest.approx(10.0 * 0.25 * 1e-6, rel=1e-6)
    assert conductance_fin_adiabatic_tip(*arguments, 0.0) == 0.0
