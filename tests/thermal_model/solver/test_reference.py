"""The reference solver against the formula, and the engine against the reference solver.

Two independent integrations (LSODA and a Rosenbrock method) of one right-hand side. The benchmark
`tests.benchmarks.model_accuracy` does the same for all designs at 1e-11.
"""

from typing import Any

import numpy as np
import pytest

from geometries.design_file import load_container
from tests.reference_solver import solve_reference
from tests.thermal_model.networks import HEAT_CAPACITY, cup, enthalpy, lane
from tests.thermal_model.runs import scenario
from thermal_model.assemble.build import assemble
from thermal_model.follow import limit_enthalpies
from thermal_model.solver.engine import integrate
from thermal_model.solver.stepping import Tolerance

TIME_CONSTANT = 0.5 * HEAT_CAPACITY / 0.5


@pytest.mark.parametrize("method", ["LSODA", "Radau"])
def test_reference_gives_the_exponential(method: str) -> None:
    levels = enthalpy(np.array([353.15, 313.15]))
    times = solve_reference(cup(0.5), levels, 1e5, method=method, relative_tolerance=1e-9).crossing_times
    np.testing.assert_allclose(times, TIME_CONSTANT * np.log([7.0 / 6.0, 3.5]), rtol=1e-7)


def test_reference_leaves_a_limit_that_is_not_reached() -> None:
    solution = solve_reference(cup(0.5), enthalpy(np.array([353.15, 283.15])), 5000.0)
    assert np.isfinite(solution.crossing_times[0])
    assert np.isnan(solution.crossing_times[1])


def test_reference_takes_one_lane() -> None:
    with pytest.raises(ValueError, match="one lane"):
        solve_reference(cup(np.array([0.5, 0.6]), start=np.full(2, 363.15)), enthalpy(353.15), 1e3)


def test_a_method_that_gives_up_says_so() -> None:
    broken = cup(float("nan"))
    with pytest.raises((RuntimeError, ValueError)):
        solve_reference(broken, enthalpy(353.15), 1e3, method="Radau")


CASES: dict[str, tuple[str, dict[str, Any], list[float]]] = {
    "hot": ("stoneware_cup", {"start": "90 C"}, [343.15, 313.15]),
    "single wall": ("single_wall_steel", {"start": "90 C"}, [353.15, 333.15]),
    "lid": ("thin_disc_lid", {"start": "90 C", "fill": "350 mL"}, [353.15]),
    "cold": ("handled_tumbler_straw", {"start": "2 C", "room": "25 C"}, [275.65]),
    "pour": (
        "single_wall_steel",
        {"start": "90 C", "openings": [{"at": "10 min", "duration": "30 s", "pour": "100 mL"}]},
        [343.15],
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_engine_keeps_within_half_a_second(case: str) -> None:
    design, options, limits = CASES[case]
    run = scenario(**options)
    net = assemble(load_container(design), run)
    levels = limit_enthalpies(run, limits, 1)
    horizon = 30000.0
    ours = integrate(net, levels, np.full(1, horizon))
    reference = solve_reference(net, levels[:, 0], 1.02 * float(ours.end_time[0]), relative_tolerance=1e-8)
    assert np.all(np.isfinite(ours.crossing_times))
    np.testing.assert_allclose(ours.crossing_times[:, 0], reference.crossing_times, rtol=0.0, atol=0.5)


def test_engine_comes_nearer_as_its_tolerance_falls() -> None:
    """The coarsest is as far as coarser ones go: the error of a node is bounded (`GREATEST_ALLOWANCE`)."""
    run = scenario(start="90 C")
    net = assemble(load_container("air_gap_mug"), run)
    levels = limit_enthalpies(run, [343.15], 1)
    reference = float(solve_reference(net, levels[:, 0], 3600.0, relative_tolerance=1e-10).crossing_times[0])
    errors = [
        abs(float(integrate(net, levels, lane(1e5), tolerance=t).crossing_times[0, 0]) - reference)
        for t in (Tolerance(5e-3, 0.1), Tolerance(), Tolerance(5e-7, 5e-5))
    ]
    assert errors[0] > 4.0 * errors[1]
    assert errors[1] > 4.0 * errors[2]
    assert errors[2] < 1e-3
