"""Runs needed for a stated power against printed tables.

Source: Cohen, Statistical Power Analysis for the Behavioral Sciences, 2nd ed. (1988), table 2.4.1, as summed up in
Cohen, A power primer, Psychological Bulletin 112 (1992) 155-159, table 2; from memory. Two independent means, two-sided
alpha 0.05 and 0.01, power 0.80, effect sizes 0.2, 0.5, 0.8: n in each group. For d = 0.2 the table is rounded from a
series that is good to one: exact noncentral t asks for one more at alpha 0.05, for one more or less elsewhere.
"""

import pytest

from thermal_model.plan.repeats import ContainerComparison, Repeatability, power_two_sided_t, repeats_for


@pytest.mark.parametrize(
    ("effect", "significance", "printed", "within"),
    [
        (0.2, 0.05, 393, 1),
        (0.5, 0.05, 64, 0),
        (0.8, 0.05, 26, 0),
        (0.2, 0.01, 586, 2),
        (0.5, 0.01, 95, 1),
        (0.8, 0.01, 38, 1),
    ],
)
def test_cohens_table(effect, significance, printed, within):
    plan = repeats_for(ContainerComparison.UNPAIRED, effect, Repeatability(1.0), power=0.8, significance=significance)
    assert plan.repeats == pytest.approx(printed, abs=within)


def test_one_run_less_falls_short():
    """64 is the least number: 63 do not reach 0.80."""
    assert power_two_sided_t(0.5 * (64 / 2) ** 0.5, 126, 0.05) >= 0.8
    assert power_two_sided_t(0.5 * (63 / 2) ** 0.5, 124, 0.05) < 0.8


def test_paired():
    """34 pairs for dz = 0.5, two-sided 0.05, power 0.80: the example of many a textbook; from memory."""
    plan = repeats_for(ContainerComparison.PAIRED, 0.5, Repeatability(0.5**0.5))
    assert plan.repeats == 34
