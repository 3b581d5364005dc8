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
from thermal_model.assemble.build import felt_headspace_depth
from thermal_model.prediction import heat_paths

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


# --- cold, with the air that there is -------------------------------------------------------------------------------

AIR_CONDUCTIVITY = 0.0247
"""At 10 C. [W m-1 K-1] Incropera et al., table A.4, from memory."""

LIKE_BLACK = 4.0 * 5.67e-8 * 283.15**3 / (1.0 / 0.96 + 1.0 / 0.9 - 1.0)
"""Radiation between water and plastic at 10 C. [W m-2 K-1]"""


@cache
def our_cold_loss(millimetres: float) -> float:
    """Of iced water under the model's own headspace, all else pinned. [W K-1]"""
    case = FemCase("cold", inputs(millimetres) | {"T0": 3.0, "T_amb": 28.0, "T1": 10.0}, {})
    scenario = case.scenario()
    own_air = scenario.model_copy(update={"pins": scenario.pins.model_copy(update={"headspace_film": None})})
    return heat_paths(case.network(own_air), own_air, [283.15])[1]


@cache
def their_cold_loss(millimetres: float) -> float:
    """The grid's, its headspace a layer of still air as deep as it is felt (never less than a flat bubble). [W K-1]"""
    layer = AIR_CONDUCTIVITY / float(felt_headspace_depth(np.array(1e-3 * millimetres)))
    return paths_of(inputs(millimetres) | {"h_head": layer + LIKE_BLACK})["UA"]


@pytest.mark.parametrize("millimetres", [8.0, 5.0, 3.0, 1.0])
def test_cold_contents_lose_what_the_grid_says_under_a_layer_of_still_air(millimetres: float) -> None:
    assert our_cold_loss(millimetres) == pytest.approx(their_cold_loss(millimetres), rel=0.012)


@pytest.mark.parametrize("high", [8.0, 6.0, 5.0, 4.0, 3.0, 2.0])
def test_cold_the_slope_of_the_last_millimetres_is_the_grid_s(high: float) -> None:
    """1.5 to 2 % a millimetre: shorter steel and less air, each as it conducts; nothing jumps."""
    rise, expected = (of(high - 1.0) - of(high) for of in (our_cold_loss, their_cold_loss))
    assert rise == pytest.approx(expected, rel=0.09)
