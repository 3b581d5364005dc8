"""Worked examples of Incropera, Holman, Cengel and Hollands, through our functions."""

import pytest

from tests.published.check import Check
from tests.published.handbook_cases import CASES, ROWS, checks_of

OF_OTHER_FORMULAS = {"X05", "X06", "X07", "X08", "X16", "X17", "X21"}
"""Shells, lumped bodies, level and upright layers by formulas that the model does not use."""


def test_no_row_is_left_out():
    assert set(CASES) | OF_OTHER_FORMULAS == set(ROWS)
    assert not set(CASES) & OF_OTHER_FORMULAS


@pytest.mark.parametrize("identifier", CASES)
def test_example_agrees_with_its_printed_answer(identifier):
    checks = checks_of(identifier)
    assert checks
    assert [str(check) for check in checks if not check.agrees] == []


@pytest.mark.parametrize("identifier", CASES)
def test_printed_figures_stand_in_the_table(identifier):
    answer = ROWS[identifier]["answer"]
    assert [check.printed for check in checks_of(identifier) if check.printed not in answer] == []


def test_all_but_one_figure_agree_within_one_percent_or_their_rounding():
    strays = [
        c for i in CASES for c in checks_of(i) if abs(c.ours - c.published) > max(c.rounding, 0.01 * abs(c.published))
    ]
    assert [check.name for check in strays] == ["X20 Cengel Ex 9-2: hot side up [W]"]


def test_a_check_can_fail():
    assert not Check("one unit in the last digit off", 0.500, "0.499", "made up").agrees
    assert not Check("two percent off", 102.1, "100", "made up", within=0.02, reason="to fail").agrees
    with pytest.raises(ValueError, match="needs its reason"):
        Check("no reason", 1.0, "1", "made up", within=0.5)
