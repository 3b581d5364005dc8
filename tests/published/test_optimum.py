"""The optimiser on problems with known optima and fronts; sources in `optimum_cases`."""

import numpy as np
import pytest

from tests.published.optimum_cases import FRONTS, OPTIMA, hypervolume
from thermal_model.study.optimum.best import best
from thermal_model.study.optimum.front import front
from thermal_model.study.optimum.nearness import nearness
from thermal_model.study.optimum.problem import Record


@pytest.mark.parametrize("name", OPTIMA)
@pytest.mark.parametrize("seed", [1, 2])
def test_a_known_optimum_is_found_to_1e_4(name: str, seed: int) -> None:
    problem, known = OPTIMA[name]
    found = best(Record(problem), 0, budget=1500, seed=seed)
    assert found is not None
    assert found.end.objective == pytest.approx(known, rel=1e-4)
    assert nearness(found.end).left_over <= 1e-3 * abs(known)


@pytest.mark.parametrize("name", FRONTS)
def test_a_known_front_is_found_to_99_percent_of_its_volume(name: str) -> None:
    problem, line, corner = FRONTS[name]
    found = front(Record(problem), size=120, budget=400, seed=1)
    assert found is not None
    values = np.array([end.values.objectives[0] for end in found.ends])
    whole = hypervolume(line, corner)
    assert 0.99 * whole <= hypervolume(values, corner) <= whole * (1.0 + 1e-4)


def test_what_more_room_is_worth_is_what_a_new_search_finds() -> None:
    problem, _ = OPTIMA["HS71"]
    found = best(Record(problem), 0, budget=600, seed=1)
    assert found is not None
    worth = nearness(found.end).constraints[0]  # the product of all four, at least 25
    assert worth == pytest.approx(0.552294, rel=1e-3)  # Hock and Schittkowski's multiplier, from memory
