"""Convection outside and in layers beside Incropera, Cengel, Popiel, ISO 15099 and classical limits."""

import numpy as np
import pytest

from tests.published.formulas import (
    nusselt_layer_heated_below_holman_gas,
    nusselt_layer_vertical_incropera,
    nusselt_layer_vertical_jakob,
)
from thermal_model.physics.enclosed_layers import (
    nusselt_layer_heated_below_hollands,
    nusselt_layer_vertical_elsherbiny,
    nusselt_slot_open_below,
)
from thermal_model.physics.forced_convection import (
    combine_free_and_forced,
    nusselt_cross_flow_churchill_bernstein,
    nusselt_plate_laminar,
)
from thermal_model.physics.free_convection import (
    nusselt_horizontal_plate_hot_side_down,
    nusselt_horizontal_plate_hot_side_up,
    nusselt_vertical_plate_churchill_chu,
    nusselt_vertical_plate_laminar_churchill_chu,
    slender_cylinder_factor_popiel,
)


def test_rod_in_cross_flow():
    # Incropera, 6th ed., example 7.4: Re 6071, Pr 0.70, Nu 40.6. Seen quoted in a public correlation library.
    assert nusselt_cross_flow_churchill_bernstein(6071.0, 0.70) == pytest.approx(40.6, abs=0.05)


def test_steam_pipe_in_wind():
    # Cengel, example 7-5: Re 4.219e4, Pr 0.7202, Nu 124 (from memory).
    assert nusselt_cross_flow_churchill_bernstein(4.219e4, 0.7202) == pytest.approx(124.0, abs=0.5)


def test_plate_in_laminar_flow():
    # Incropera, 6th ed., example 7.1: Re 9597, Pr 0.687, Nu 57.4 (from memory).
    assert nusselt_plate_laminar(9597.0, 0.687) == pytest.approx(57.4, abs=0.05)


def test_calm_air_leaves_free_convection():
    assert combine_free_and_forced(4.2, 0.0) == pytest.approx(4.2, rel=1e-14)
    assert combine_free_and_forced(4.2, 42.0) == pytest.approx(42.0, rel=1e-3)
    assert combine_free_and_forced(3.0, 5.0) == combine_free_and_forced(5.0, 3.0)


def test_churchill_chu_in_another_library():
    # Independent: public correlation library ht 1.2.0, Gr 2.63e9 and Pr 0.69 (its docstrings).
    ours = nusselt_vertical_plate_churchill_chu(0.69 * 2.63e9, 0.69)
    assert ours == pytest.approx(147.16185223770603, rel=1e-12)


def test_level_plates_and_cross_flow_in_another_library():
    # Independent: ht 1.2.0; McAdams on both sides of the change of regime, Churchill-Bernstein at Re 1e6 and 1e3.
    assert nusselt_horizontal_plate_hot_side_up(1e5) == pytest.approx(9.602708814210184, rel=1e-12)
    assert nusselt_horizontal_plate_hot_side_up(1e8) == pytest.approx(69.62383250419165, rel=1e-12)
    assert nusselt_horizontal_plate_hot_side_down(1e6) == pytest.approx(8.538149682454625, rel=1e-12)
    assert nusselt_cross_flow_churchill_bernstein(1e6, 0.7) == pytest.approx(1226.7218488769506, rel=1e-12)
    assert nusselt_cross_flow_churchill_bernstein(1e3, 6.0) == pytest.approx(35.40116637131856, rel=1e-12)


def test_popiel_in_another_library():
    # Independent: ht 1.2.0, Pr 0.7, Gr 1e10, L 2.5, D 1: 228.8979 on the plate formula for all Ra.
    plate = nusselt_vertical_plate_churchill_chu(0.7e10, 0.7)
    assert plate * slender_cylinder_factor_popiel(1e10, 0.7, 2.5) == pytest.approx(228.89790055149896, rel=1e-12)


def test_popiel_is_capped_at_the_end_of_its_data():
    at_rest, *capped = slender_cylinder_factor_popiel(  # type: ignore[misc]
        np.array([0.0, 1.0, 1.0]), 0.71, np.array([3.0, 20.0, 25.0]) / 32**0.5
    )
    assert at_rest == capped[0] == capped[1]
    assert slender_cylinder_factor_popiel(1.0, 0.71, 19.9 / 32**0.5) < at_rest


@pytest.mark.parametrize("rayleigh", [1e4, 1e8])
def test_without_viscosity_only_rayleigh_times_prandtl_counts(rayleigh):
    # Churchill and Chu: for Pr -> 0, Nu - Nu_0 goes with (Ra Pr)^(1/4) or, in the root, (Ra Pr)^(1/6); for
    # Pr -> infinity the Prandtl number drops out. The limits follow from boundary layer theory.
    thin = 1e-14
    laminar = nusselt_vertical_plate_laminar_churchill_chu(
        np.array([rayleigh / thin, rayleigh]), np.array([thin, 1e14])
    )
    np.testing.assert_allclose(laminar - 0.68, 0.670 * rayleigh**0.25 * np.array([0.492**-0.25, 1.0]), rtol=1e-6)
    general = nusselt_vertical_plate_churchill_chu(np.array([rayleigh / thin, rayleigh]), np.array([thin, 1e14]))
    expected = 0.825 + 0.387 * rayleigh ** (1 / 6) * np.array([0.492 ** (-1 / 6), 1.0])
    np.testing.assert_allclose(np.sqrt(general), expected, rtol=1e-6)


def test_slender_cylinder_criterion_of_the_textbooks():
    # Incropera, sec. 9.6.1: where D/L = 35 / Gr^(1/4), a cylinder is within about 5 % of a plate.
    grashof = np.array([1e5, 1e7, 1e9])
    slenderness = grashof**0.25 / 35.0
    np.testing.assert_allclose(slender_cylinder_factor_popiel(grashof, 0.71, slenderness), 1.05, atol=0.01)


def test_slender_cylinder_beside_le_fevre_and_ede():
    # Le Fevre, Ede 1956, an integral method, from memory; it gives 3 % less than Popiel here:
    # Nu = 4/3 (7 Gr Pr^2 / (5 (20 + 21 Pr)))^(1/4) + 4 (272 + 315 Pr) L / (35 (64 + 63 Pr) D).
    grashof, prandtl, slenderness = 2e7, 0.71, 0.20 / 0.075
    plate = 4.0 / 3.0 * (7.0 * grashof * prandtl**2 / (5.0 * (20.0 + 21.0 * prandtl))) ** 0.25
    curvature = 4.0 * (272.0 + 315.0 * prandtl) * slenderness / (35.0 * (64.0 + 63.0 * prandtl))
    ours = slender_cylinder_factor_popiel(grashof, prandtl, slenderness)
    assert ours == pytest.approx(1.0 + curvature / plate, rel=0.04)


def test_laminar_and_general_plate_formulas_agree_where_both_hold():
    # Up to Ra = 1e7, a container's range, they differ by 7 % at most; the formula for all Ra turns turbulent
    # early and is a third above the laminar one at 1e9.
    rayleigh = np.logspace(3, 7, 9)
    general = nusselt_vertical_plate_churchill_chu(rayleigh, 0.71)
    laminar = nusselt_vertical_plate_laminar_churchill_chu(rayleigh, 0.71)
    np.testing.assert_allclose(general, laminar, rtol=0.07)


def test_hot_side_up_has_no_jump():
    rayleigh = np.logspace(6, 8, 20001)
    steps = np.diff(np.log(nusselt_horizontal_plate_hot_side_up(rayleigh)))
    assert steps.max() < 1.01 * np.log(rayleigh[1] / rayleigh[0]) / 3.0
    assert steps.min() > 0.99 * np.log(rayleigh[1] / rayleigh[0]) / 4.0


def iso15099_vertical(rayleigh, aspect_ratio):
    """ISO 15099:2003 vertical cavity (Wright 1996), coefficients seen in several public window programs."""
    if rayleigh > 5e4:
        wide = 0.0673838 * rayleigh ** (1.0 / 3.0)
    elif rayleigh > 1e4:
        wide = 0.028154 * rayleigh**0.4134
    else:
        wide = 1.0 + 1.7596678e-10 * rayleigh**2.2984755
    return max(wide, 0.242 * (rayleigh / aspect_ratio) ** 0.272)


@pytest.mark.parametrize("aspect_ratio", [10.0, 40.0, 100.0])
@pytest.mark.parametrize("rayleigh", [10.0, 1e3, 5e3, 1e4, 3e4, 1e5, 1e6])
def test_upright_layer_beside_the_window_standard(rayleigh, aspect_ratio):
    # Two fits to partly different measurements: within 12 %, Wright's being the higher above 1e5.
    expected = iso15099_vertical(rayleigh, aspect_ratio)
    assert nusselt_layer_vertical_elsherbiny(rayleigh, aspect_ratio) == pytest.approx(expected, rel=0.12)


@pytest.mark.parametrize("aspect_ratio", [5.0, 40.0, 100.0])
@pytest.mark.parametrize("rayleigh", [10.0, 3e3, 1e4, 3e4, 1e5, 1e6])
def test_elsherbiny_as_mills_prints_it(rayleigh, aspect_ratio):
    # Coefficients of Mills, Heat Transfer, as seen in a public building program.
    printed = max(
        0.0605 * rayleigh ** (1.0 / 3.0),
        (1.0 + (0.104 * rayleigh**0.293 / (1.0 + (6310.0 / rayleigh) ** 1.36)) ** 3) ** (1.0 / 3.0),
        0.242 * (rayleigh / aspect_ratio) ** 0.272,
    )
    assert nusselt_layer_vertical_elsherbiny(rayleigh, aspect_ratio) == pytest.approx(printed, rel=1e-12)


@pytest.mark.parametrize("aspect_ratio", [5.0, 40.0, 110.0])
def test_an_upright_layer_only_conducts_up_to_where_its_formula_is_left_out(aspect_ratio: float) -> None:
    """The formula itself gives 1 to the last digit at Ra = 1, so that leaving it out below makes no step."""
    assert nusselt_layer_vertical_elsherbiny(np.array([0.0, 0.5, 1.0, 1.001]), aspect_ratio).tolist() == [1.0] * 4


def test_upright_layer_formulas_agree_in_their_common_range():
    # The older fits scatter by some 20 % around ElSherbiny's measurements.
    rayleigh, aspect_ratio = np.logspace(4, 6, 9), 30.0
    ours = nusselt_layer_vertical_elsherbiny(rayleigh, aspect_ratio)
    np.testing.assert_allclose(nusselt_layer_vertical_incropera(rayleigh, 0.71, aspect_ratio), ours, rtol=0.25)
    np.testing.assert_allclose(nusselt_layer_vertical_jakob(rayleigh, aspect_ratio), ours, rtol=0.25)


def test_layer_heated_below_starts_to_move_at_1708():
    # Critical Rayleigh number of a layer between rigid plates, 1707.76 (Rayleigh-Benard, linear stability).
    assert nusselt_layer_heated_below_hollands(1707.0) == 1.0
    assert nusselt_layer_heated_below_hollands(1720.0) > 1.0


def test_hollands_beside_holmans_table():
    # Holman's table lies up to some 15 % below Hollands between 3e3 and 1e6.
    rayleigh = np.logspace(3.5, 6, 11)
    ratio = nusselt_layer_heated_below_holman_gas(rayleigh) / nusselt_layer_heated_below_hollands(rayleigh)
    assert np.all((ratio > 0.80) & (ratio < 1.0))


def test_slot_open_below_starts_to_turn_over_at_the_onset_of_linear_stability():
    # Independent: the smallest eigenvalue of (D^2 - a^2)^2 W = a^2 Ra W, W = 0 at the closed and W' = 0 at the open
    # end, temperature fixed at both, over all wave numbers a; Nield 1968 prints 27.10 (from memory).
    count = 80
    step = 1.0 / count

    def onset(wave_number):
        second = (np.diag(np.full(count, -2.0)) + np.eye(count, k=1) + np.eye(count, k=-1)) / step**2
        second[-1, -2:] = np.array([2.0, -2.0]) / step**2  # mirror at the open end
        flow = second - wave_number**2 * np.eye(count)
        heat = flow.copy()
        heat[-1] = 0.0
        heat[-1, -1] = 1e9  # temperature held at the open end
        return np.linalg.eigvals(np.linalg.solve(flow, np.linalg.inv(heat)) * wave_number**2)

    critical = min(1.0 / np.max(np.real(onset(a))) for a in np.linspace(1.9, 2.7, 9))
    assert critical == pytest.approx(27.1, rel=0.01)
    assert nusselt_slot_open_below(0.9 * critical) == 1.0
    assert nusselt_slot_open_below(3.0 * critical) == pytest.approx(3.0, rel=0.01)
