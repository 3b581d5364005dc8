"""Conduction and fins beside exact solutions and handbooks."""

import numpy as np
import pytest

from thermal_model.physics.conduction import resistance_isothermal_disc_on_half_space
from thermal_model.physics.fins import conductance_fin_adiabatic_tip


def test_disc_on_half_space_is_the_shape_factor_of_incropera():
    # Incropera, table 4.1 case 10: shape factor S = 2 D, R = 1 / (S k).
    assert 1.0 / resistance_isothermal_disc_on_half_space(0.04, 0.15) == pytest.approx(2.0 * 0.08 * 0.15)


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
