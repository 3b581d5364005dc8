"""A bottle with a thin lid filled to the last millimetre: how the loss grows is geometry, and these say how much.

Judges: the fine grid of `tests.benchmarks.fine_grid`, which reproduces the published finite elements, and the theory of
a resistance in a network. Where one conducts a share q of the heat (per kelvin between the ends), the whole changes by
q^2 times the change of the resistance (Cohn's sensitivity theorem, from memory): so a steel neck of section A whose dry
length shrinks by dL adds q^2 dL / (k A). What goes by neck and lid together is the most that q can be.
"""

from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.benchmarks.fine_grid import paths_of
from tests.published.fem_cases import FemCase, fem_cases

SIZES = {"Ri": 0.033, "Rm": 0.022, "Hb": 0.175, "Ln": 0.025, "t_in": 5e-4, "t_out": 5e-4, "g": 3e-3, "h_gap": 1.0}
THIN_LID = {"lid_t_bottom": 3e-3, "lid_t_pocket": 0.0, "lid_t_top": 0.0, "h_head": 5.0}
MOUTH_AREA = np.pi * SIZES["Rm"] ** 2


@cache
def inputs(millimetres: float) -> dict[str, Any]:
    """The case with its liquid some millimetres below the rim."""
    (base,) = [case for case in fem_cases() if case.name == "02_m44_disk"]
    neck = MOUTH_AREA * (SIZES["Ln"] - 1e-3 * millimetres)
    return base.inputs | SIZES | THIN_LID | {"fill_mL": 1e6 * (np.pi * SIZES["Ri"] ** 2 * SIZES["Hb"] + neck)}


@cache
def ours(millimetres: float) -> dict[str, float]:
    return FemCase("last_millimetres", inputs(millimetres), {}).heat_paths()


@cache
def theirs(millimetres: float) -> dict[str, float]:
    return paths_of(inputs(millimetres))


@pytest.mark.parametrize("millimetres", [6.0, 3.0, 2.0, 1.0, 0.5])
def test_the_loss_is_that_of_the_fine_grid_up_to_the_rim(millimetres: float) -> None:
    for path, allowed in (("UA", 0.005), ("UA_bridge", 0.02), ("UA_lid", 0.02)):
        assert ours(millimetres)[path] == pytest.approx(theirs(millimetres)[path], rel=allowed)


@pytest.mark.parametrize("high", [6.0, 4.0, 3.0, 2.0])
def test_a_millimetre_more_adds_what_the_fine_grid_says(high: float) -> None:
    rise, expected = (of(high - 1.0)["UA"] - of(high)["UA"] for of in (ours, theirs))
    assert rise == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("high", [6.0, 4.0, 3.0, 2.0])
def test_a_millimetre_more_adds_no_more_than_a_shorter_fin(high: float) -> None:
    low = high - 0.5
    section = 2.0 * np.pi * (SIZES["Rm"] + 0.5 * SIZES["t_in"]) * SIZES["t_in"]
    most = (ours(low)["UA_bridge"] + ours(low)["UA_lid"]) ** 2 * 0.5e-3 / (inputs(high)["k_steel"] * section)
    assert 0.6 * most < ours(low)["UA"] - ours(high)["UA"] < most
