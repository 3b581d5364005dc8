"""Conduction and fins beside exact solutions and handbooks."""

import numpy as np
import pytest
from scipy.special import digamma

from thermal_model.physics.conduction import (
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
