"""Air layers of ISO 6946: the standard's functions to the printed digit, our pocket model within 10 %."""

import numpy as np
import pytest

from tests.published.iso6946_cases import (
    COEFFICIENTS,
    ROWS,
    pocket_checks,
    pocket_resistance,
    standard_checks,
    standard_resistance,
)
from thermal_model.physics.enclosed_layers import (
    iso6946_convective_coefficient_down,
    iso6946_convective_coefficient_horizontal,
    iso6946_convective_coefficient_up,
)


@pytest.mark.parametrize("check", standard_checks(), ids=lambda check: check.name)
def test_standard_functions_give_the_printed_digits(check):
    assert check.agrees, check


def test_no_cell_is_left_out():
    cells = [cell for row in ROWS[1:] for name, cell in row.items() if name != "thickness_mm" and cell]
    assert len(standard_checks()) == len(cells) == 48


@pytest.mark.parametrize("direction", COEFFICIENTS)
def test_no_layer_has_no_resistance(direction):
    assert ROWS[0]["thickness_mm"] == ROWS[0][f"R_{direction}"] == "0"
    assert standard_resistance(direction, 0.0) < 1e-6


@pytest.mark.parametrize("check", pocket_checks(), ids=lambda check: check.name)
def test_our_pocket_model_is_within_ten_percent(check):
    assert check.agrees, check


def test_our_pocket_model_is_within_seven_percent_in_fact():
    assert max(abs(check.relative_difference) for check in pocket_checks()) < 0.07


def test_heat_flows_up_more_easily_than_down():
    assert pocket_resistance("up", 0.025) < pocket_resistance("horizontal", 0.025) < pocket_resistance("down", 0.025)


def test_large_differences_follow_the_standard():
    # ISO 6946 annex D, from memory: 1.14 dT^(1/3), 0.73 dT^(1/3), 0.09 dT^0.187 d^-0.44.
    assert iso6946_convective_coefficient_up(0.05, 27.0) == pytest.approx(3.42)
    assert iso6946_convective_coefficient_horizontal(0.05, 27.0) == pytest.approx(2.19)
    assert iso6946_convective_coefficient_down(1.0, 27.0) == pytest.approx(0.09 * 27.0**0.187)


def test_constants_and_formulas_of_the_standard_meet_at_five_kelvin():
    # The constants 1.95, 1.25 and 0.12 d^-0.44 are the formulas at 5 K, rounded.
    thick = 1.0
    assert iso6946_convective_coefficient_up(thick) == pytest.approx(1.95, abs=0.005)
    assert iso6946_convective_coefficient_horizontal(thick) == pytest.approx(1.25, abs=0.005)
    assert iso6946_convective_coefficient_down(thick) == pytest.approx(0.12, abs=0.005)
    assert np.all(np.diff(iso6946_convective_coefficient_down(np.linspace(0.001, 0.3, 50))) < 0.0)
