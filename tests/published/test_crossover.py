"""A published crossover trial, every printed digit.

Peak expiratory flow of 13 children under formoterol (F) and salbutamol (S): S. Senn, Cross-over Trials in Clinical
Research, 2nd ed. (2002), ch. 3, the analysis adjusted for a period effect (`crossover_pef_senn.csv`).
"""

import numpy as np
import pytest
from scipy.stats import t

from tests.published.check import Check, read_rows
from thermal_model.bench.reduce.crossover import CrossoverFit, fit_crossover

SOURCE = "Senn 2002, ch. 3"


def pef_trial() -> CrossoverFit:
    subjects, periods, treatments, responses = [], [], [], []
    for number, row in enumerate(read_rows("crossover_pef_senn.csv")):
        for period, treatment in enumerate(row["sequence"].split("-"), start=1):
            subjects.append(str(number))
            periods.append(str(period))
            # The first treatment named is what the other is held against.
            treatments.append(treatment)
            responses.append(float(row[f"period{period}"]))
    order = np.argsort([treatment != "S" for treatment in treatments], kind="stable")
    by_subject, by_period, by_treatment = ([labels[k] for k in order] for labels in (subjects, periods, treatments))
    fit = fit_crossover(by_subject, by_period, by_treatment, np.array(responses)[order])
    assert fit is not None
    assert fit.treatments == ("S", "F")
    return fit


def _checks() -> list[Check]:
    fit = pef_trial()
    known = t(fit.degrees_of_freedom, fit.effect[0], fit.standard_error[0])
    figures = [
        ("F less S", fit.effect[0], "46.607"),
        ("standard error", fit.standard_error[0], "10.777"),
        ("t", fit.effect[0] / fit.standard_error[0], "4.325"),
        ("p", 2.0 * known.cdf(0.0), "0.00120"),
        ("lower end, 95 %", known.ppf(0.025), "22.89"),
        ("upper end, 95 %", known.ppf(0.975), "70.33"),
        ("degrees of freedom", fit.degrees_of_freedom, "11"),
    ]
    return [Check(name, float(ours), printed, SOURCE) for name, ours, printed in figures]


@pytest.mark.parametrize("check", _checks(), ids=lambda check: check.name)
def test_every_printed_digit(check: Check) -> None:
    assert check.agrees, str(check)


def test_treatments_that_are_one_with_subjects_are_not_told_apart() -> None:
    assert fit_crossover(["a", "a", "b", "b"], ["1", "2", "1", "2"], ["x", "x", "y", "y"], np.arange(4.0)) is None


def test_two_responses_leave_no_scatter_to_judge_by() -> None:
    assert fit_crossover(["a", "a"], ["1", "1"], ["x", "y"], np.array([1.0, 2.0])) is None
