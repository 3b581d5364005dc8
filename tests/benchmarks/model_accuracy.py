"""Print how accurate the network and its solvers are: `python -m tests.benchmarks.model_accuracy [DESIGN ...]`.

Exits with 1 if a figure misses its mark. The comparison with the reference solver takes a while for all designs.
"""

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from geometries.design_file import catalogue_names, load_container
from tests.published.fem_cases import FemCase, fem_cases
from tests.reference_solver import solve_reference
from tests.thermal_model.networks import HEAT_CAPACITY, cup, enthalpy, lane
from thermal_model.assemble.build import assemble
from thermal_model.follow import limit_enthalpies
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import integrate

DAY = 86400.0
RUNS = {
    "hot": ({"start": "90 C", "room": "20 C"}, (353.15, 333.15, 313.15)),
    "cold": ({"start": "2 C", "room": "25 C"}, (278.15, 283.15)),
}
REFERENCE_TOLERANCE = 1e-11


@dataclass(frozen=True)
class Figure:
    """A measured figure and its mark."""

    name: str
    value: float
    mark: float

    @property
    def passes(self) -> bool:
        return abs(self.value) <= self.mark


def fem_figures(case: FemCase) -> Iterator[tuple[Figure, float, float]]:
    """Differences from the finite elements [%], with ours and the reference. [W K-1, h]"""
    ours, reference = case.heat_paths(), case.results
    yield _percent(f"{case.name} UA", ours["UA"], reference["UA"], 2.0)
    for name, parts in case.paths.items():
        yield _percent(f"{case.name} {name}", sum(ours[p] for p in parts), sum(reference[p] for p in parts), 5.0)
    base = 100.0 * (ours["UA_gap_base"] - reference["UA_gap_base"]) / reference["UA"]
    yield Figure(f"{case.name} UA_gap_base, of UA", base, 3.0), ours["UA_gap_base"], reference["UA_gap_base"]
    for walls, key, mark in (("preheated", "t_cool_tr_preheated_h", 2.0), ("room", "t_cool_tr_coldstart_h", 3.0)):
        yield _percent(f"{case.name} {key}", case.cooling_time(walls) / 3600.0, reference[key], mark)


def _percent(name: str, ours: float, reference: float, mark: float) -> tuple[Figure, float, float]:
    return Figure(name, 100.0 * (ours / reference - 1.0), mark), ours, reference


def grid_figure(case: FemCase) -> Figure:
    """What twice the cells change in the heat loss coefficient. [%]"""
    coarse, fine = (case.heat_paths(refinement)["UA"] for refinement in (1, 2))
    return Figure(f"{case.name} UA, grid doubled", 100.0 * (fine / coarse - 1.0), 0.3)


def solver_figures(design: str, run: str) -> tuple[Figure, Figure]:
    """Largest hold-time difference from the reference solver [s], and the engine's energy balance. [-]"""
    options, limits = RUNS[run]
    scenario = Scenario.model_validate(options)
    network = assemble(load_container(design), scenario)
    levels = limit_enthalpies(scenario, limits, 1)
    ours = integrate(network, levels, np.full(1, DAY))
    reference = solve_reference(network, levels[:, 0], DAY, relative_tolerance=REFERENCE_TOLERANCE)
    times = ours.crossing_times[:, 0]
    reached = np.isfinite(times)
    if not np.array_equal(reached, np.isfinite(reference.crossing_times)):
        difference = np.inf
    else:
        difference = float(np.max(np.abs(times - reference.crossing_times)[reached], initial=0.0))
    return (
        Figure(f"{design} {run}, {reached.sum()} of {len(limits)} limits reached", difference, 0.5),
        Figure(f"{design} {run}, energy balance", float(ours.balance_error[0]), 1e-6),
    )


def lumped_figure() -> Figure:
    """One node against Newton's law of cooling, from 90 to 30 C in 20 C. [%]"""
    ours = integrate(cup(0.5), enthalpy(303.15)[None], lane(1e7)).crossing_times[0, 0]
    exact = 0.5 * HEAT_CAPACITY / 0.5 * np.log(70.0 / 10.0)
    return Figure("one node, 90 to 30 C", float(100.0 * (ours / exact - 1.0)), 0.1)


def main(designs: list[str]) -> int:
    figures: list[Figure] = []

    def show(figure: Figure, unit: str, detail: str = "") -> None:
        figures.append(figure)
        verdict = "" if figure.passes else "  MISSED"
        print(f"{figure.name:<60}{figure.value:>+12.2g} {unit:<3}mark {figure.mark:<7g}{detail}{verdict}", flush=True)

    _print_network(show)
    _print_solver(show, designs)
    missed = sum(not figure.passes for figure in figures)
    print(f"{len(figures)} figures, {missed} missed their mark.")
    return 1 if missed else 0


def _print_network(show: Callable[..., None]) -> None:
    print("Against finite elements (ours, reference)")
    for case in fem_cases():
        for figure, ours, reference in fem_figures(case):
            show(figure, "%", f"{ours:10.5f}{reference:10.5f}")
        show(grid_figure(case), "%")
    print("Against the lumped formula")
    show(lumped_figure(), "%")


def _print_solver(show: Callable[..., None], designs: list[str]) -> None:
    print(f"Hold times over 24 h against LSODA at {REFERENCE_TOLERANCE:g}")
    worst = Figure("largest energy balance error", 0.0, 1e-6)
    for design in designs or catalogue_names():
        for run in RUNS:
            difference, balance = solver_figures(design, run)
            show(difference, "s")
            worst = max(worst, Figure(worst.name, balance.value, 1e-6), key=lambda figure: figure.value)
    show(worst, "-")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
