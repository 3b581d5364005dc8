"""A whole container against independent finite-element solutions (fem_cases.csv, discretisation below 0.05 %)."""

from functools import cache

import pytest

from tests.published.fem_cases import FemCase, fem_cases

CASES = fem_cases()
PATHS = ("UA_lid", "UA_bridge", "UA_gap_side")


def _named(case: FemCase) -> str:
    return case.name


@cache
def paths_of(name: str, refinement: int = 1) -> dict[str, float]:
    return next(case for case in CASES if case.name == name).heat_paths(refinement)


@pytest.mark.parametrize("case", CASES, ids=_named)
def test_heat_loss_coefficient_within_two_percent(case: FemCase) -> None:
    assert paths_of(case.name)["UA"] == pytest.approx(case.results["UA"], rel=0.02)


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("case", CASES, ids=_named)
def test_each_path_within_five_percent_of_its_own_value(case: FemCase, path: str) -> None:
    assert paths_of(case.name)[path] == pytest.approx(case.results[path], rel=0.05)


@pytest.mark.parametrize("case", CASES, ids=_named)
def test_base_within_three_percent_of_the_coefficient(case: FemCase) -> None:
    ours, reference = paths_of(case.name)["UA_gap_base"], case.results["UA_gap_base"]
    assert abs(ours - reference) < 0.03 * case.results["UA"]


@pytest.mark.parametrize("case", CASES, ids=_named)
def test_paths_add_up(case: FemCase) -> None:
    paths = paths_of(case.name)
    assert paths["UA"] == pytest.approx(sum(value for name, value in paths.items() if name != "UA"), rel=1e-12)


@pytest.mark.parametrize("case", CASES, ids=_named)
def test_cooling_time_with_preheated_walls_within_two_percent(case: FemCase) -> None:
    reference = 3600.0 * case.results["t_cool_tr_preheated_h"]
    assert case.cooling_time("preheated") == pytest.approx(reference, rel=0.02)


@pytest.mark.parametrize("case", CASES, ids=_named)
def test_cooling_time_with_cold_walls_within_three_percent(case: FemCase) -> None:
    reference = 3600.0 * case.results["t_cool_tr_coldstart_h"]
    assert case.cooling_time("room") == pytest.approx(reference, rel=0.03)


@pytest.mark.parametrize("case", CASES, ids=_named)
def test_twice_the_cells_move_the_coefficient_by_less_than_three_per_mille(case: FemCase) -> None:
    assert paths_of(case.name, 2)["UA"] == pytest.approx(paths_of(case.name)["UA"], rel=0.003)
