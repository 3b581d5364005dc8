"""Conduction and fins beside exact solutions and each other."""

import numpy as np
import pytest

from thermal_model.physics.conduction import (
    resistance_cylindrical_shell,
    resistance_isothermal_disc_on_half_space,
    resistance_plane_wall,
    resistance_spherical_shell,
)
from thermal_model.physics.fins import (
    conductance_fin_adiabatic_tip,
    conductance_infinite_rod,
    fin_length_scale,
)
from thermal_model.physics.lumped import lumped_cooling_time, lumped_temperature


def test_thin_shells_are_plane_walls():
    radius, thickness, conductivity = 0.04, 1e-6, 0.2
    flat_cylinder = resistance_plane_wall(thickness, conductivity, 2.0 * np.pi * radius * 0.1)
    flat_sphere = resistance_plane_wall(thickness, conductivity, 4.0 * np.pi * radius**2)
    cylinder = resistance_cylindrical_shell(radius, radius + thickness, 0.1, conductivity)
    sphere = resistance_spherical_shell(radius, radius + thickness, conductivity)
    assert cylinder == pytest.approx(flat_cylinder, rel=1e-4)
    assert sphere == pytest.approx(flat_sphere, rel=1e-4)


def test_shells_in_series_add():
    inner = resistance_cylindrical_shell(0.03, 0.035, 0.2, 0.3)
    outer = resistance_cylindrical_shell(0.035, 0.05, 0.2, 0.3)
    assert inner + outer == pytest.approx(resistance_cylindrical_shell(0.03, 0.05, 0.2, 0.3), rel=1e-12)


def test_disc_on_half_space_is_the_shape_factor_of_incropera():
    # Incropera, table 4.1 case 10: shape factor S = 2 D, R = 1 / (S k).
    assert 1.0 / resistance_isothermal_disc_on_half_space(0.04, 0.15) == pytest.approx(2.0 * 0.08 * 0.15)


def test_fin_at_its_limits():
    arguments = (10.0, 0.25, 15.0, 1e-4)
    long = conductance_fin_adiabatic_tip(*arguments, 2.65 * fin_length_scale(*arguments))
    # Incropera, example 3.9: m L = 2.65 is 99 % of an infinite rod.
    assert long == pytest.approx(0.99 * conductance_infinite_rod(*arguments), rel=1e-3)
    short = conductance_fin_adiabatic_tip(*arguments, 1e-6)
    assert short == pytest.approx(10.0 * 0.25 * 1e-6, rel=1e-6)
    assert conductance_fin_adiabatic_tip(*arguments, 0.0) == 0.0


def test_lumped_time_and_temperature_are_inverse():
    time = lumped_cooling_time(4e4, 363.15, 333.15, 293.15)
    assert lumped_temperature(time, 4e4, 363.15, 293.15) == pytest.approx(333.15, rel=1e-14)
    assert lumped_cooling_time(4e4, 278.15, 283.15, 293.15) > 0.0
    assert lumped_cooling_time(4e4, 333.15, 333.15, 293.15) == 0.0
