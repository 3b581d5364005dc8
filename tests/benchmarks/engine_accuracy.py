"""How far hold times of random designs lie from the reference: the engine's error, no more and no less.

Run as `python -m tests.benchmarks.engine_accuracy [designs] [judged by SciPy]`, or with `--quick [designs] [seed]` for
the coarser engine of searches against the engine as it is by default, and what each costs.

Every design of the catalogue has all its dimensions and materials' data moved at random; what
makes no container is drawn again. A third is filled hot, a
third cold, a third with ice. The reference solver at 1e-10 takes half a minute a design: so each design is held to the
engine at a thousandth of its tolerance, and that, on some designs, to the reference solver.
"""

import sys
from dataclasses import dataclass
from time import process_time

import numpy as np

from geometries.checks import dimension_problems
from geometries.container import closed_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.numeric import Array
from geometries.overrides import with_values
from tests.reference_solver import solve_reference
from tests.thermal_model.runs import numeric_leaves
from thermal_model.assemble.build import assemble
from thermal_model.batch import Table, evaluate, with_numbers
from thermal_model.follow import reachable_limits
from thermal_model.scenario import Scenario
from thermal_model.solver.compiled.stepper import CompiledStepper
from thermal_model.solver.engine import Outcome
from thermal_model.solver.stepping import SCREENING, Tolerance

TIGHT = Tolerance(5e-8, 5e-6)
SPREAD = 0.3
"""Every dimension lies within this share of the catalogue's."""

CONDITIONS = {
    "hot": (Scenario.model_validate({"start": "92 C"}), 333.15, {"scenario.room": (268.0, 305.0)}),
    "cold": (Scenario.model_validate({"start": "3 C", "room": "25 C"}), 285.15, {"scenario.room": (290.0, 313.0)}),
    "ice": (
        Scenario.model_validate({"start": "5 C", "room": "25 C", "ice": "40 g"}),
        283.15,
        {"scenario.room": (290.0, 313.0), "scenario.ice": (0.01, 0.06)},
    ),
}
HORIZON = 30 * 86400.0


@dataclass(frozen=True)
class Batch:
    """Designs of one kind under one condition."""

    design: str
    condition: str
    table: Table


def random_table(name: str, ranges: dict[str, tuple[float, float]], count: int, seed: int) -> Table:
    """Rows of a design whose numbers are moved at random, all of them containers."""
    container = load_container(name)
    generator = np.random.default_rng([seed, *name.encode()])
    leaves = {path: value for path, value in numeric_leaves(container) if value > 0.0}
    kept: dict[str, list[Array]] = {path: [] for path in leaves}
    found = 0
    while found < count:
        drawn = {path: value * generator.uniform(1 - SPREAD, 1 + SPREAD, 500) for path, value in leaves.items()}
        drawn = {path: np.minimum(v, 1.0) if "emissivity" in path else v for path, v in drawn.items()}
        valid = np.ones(500, dtype=bool)
        for problem in dimension_problems(with_values(container, drawn)):
            valid &= ~np.broadcast_to(problem.mask, 500)
        for path, values in drawn.items():
            kept[path].append(values[valid])
        found += int(valid.sum())
    numbers = {path: np.concatenate(columns)[:count] for path, columns in kept.items()}
    capacity = np.broadcast_to(closed_capacity(with_values(container, numbers)), (count,))
    numbers["scenario.fill"] = capacity * generator.uniform(0.3, 0.8, count)
    numbers |= {path: generator.uniform(*bounds, count) for path, bounds in ranges.items()}
    return Table(numbers, {})


def batches(designs: int, first_seed: int = 0) -> list[Batch]:
    """Equal shares of every design and condition."""
    names = list(catalogue_names())
    each = -(-designs // (len(names) * len(CONDITIONS)))
    return [
        Batch(name, condition, random_table(name, ranges, each, seed))
        for name in names
        for seed, (condition, (_, _, ranges)) in enumerate(CONDITIONS.items(), start=first_seed)
    ]


def hold_times(batch: Batch, tolerance: Tolerance) -> tuple[Array, Array]:
    """Hold times, (n,), NaN where none; and which rows could be computed. [s]"""
    scenario, limit, _ = CONDITIONS[batch.condition]
    container = load_container(batch.design)
    found = evaluate(
        container, scenario, batch.table, [limit], horizon=HORIZON, tolerance=tolerance, stepper=CompiledStepper
    )
    return found.hold_times[0], found.outcome <= Outcome.NOT_REACHED  # type: ignore[return-value]


def reference(batch: Batch, row: int) -> float:
    """Hold time of one row by the reference solver at 1e-10. [s]"""
    scenario, limit, _ = CONDITIONS[batch.condition]
    numbers = {path: column[[row]] for path, column in batch.table.numbers.items()}
    container, run, unknowns = with_numbers(load_container(batch.design), scenario, numbers)
    limits = reachable_limits(container, run, [limit], 1)
    net = assemble(container, run, unknowns, lanes=1)
    near = 1.02 * hold_times(batch, Tolerance())[0][row]
    return float(solve_reference(net, limits[:, 0], near, relative_tolerance=1e-10).crossing_times[0])


def quick_against_default(designs: int, seed: int) -> None:
    """Print how far the coarser engine lies off, and processor times from one run."""
    rows: list[tuple[float, float, float, str, str]] = []
    everything, spent, lost = batches(designs, seed), np.zeros(2), 0
    hold_times(everything[0], SCREENING)  # compiles, or loads what is compiled
    for batch in everything:
        began = process_time()
        sharp, _ = hold_times(batch, Tolerance())
        middle = process_time()
        quick, _ = hold_times(batch, SCREENING)
        spent += middle - began, process_time() - middle
        lost += int((np.isfinite(sharp) != np.isfinite(quick)).sum())
        for time, exact in zip(quick, sharp, strict=True):
            if np.isfinite(exact) and np.isfinite(time):
                off = abs(time - exact)
                rows.append((min(off / 10.0, 1e3 * off / exact), off, off / exact, batch.design, batch.condition))
    worst, median = max(rows), float(np.median([row[0] for row in rows]))
    each = 1e3 * spent / len(rows)
    print(f"{len(rows)} designs, quick against default; {lost} reach their limit in one alone")
    print(
        f"worst {worst[0]:.2f} ({worst[1]:.1f} s, {100 * worst[2]:.3f} %, {worst[3]}, {worst[4]}); median {median:.3f}"
    )
    print(f"processor {each[0]:.3f} and {each[1]:.3f} ms a design, assembly included: {each[0] / each[1]:.2f} times")


def main() -> None:
    """Print the largest differences."""
    if "--quick" in sys.argv:
        numbers = [int(text) for text in sys.argv[2:]]
        quick_against_default(*[*numbers, *(10_000, 0)[len(numbers) :]])
        return
    designs = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    judged = int(sys.argv[2]) if len(sys.argv) > 2 else 6
    rows: list[tuple[float, float, str, str]] = []
    failed = 0
    everything = batches(designs)
    for batch in everything:
        (times, good), (sharp, good_sharp) = hold_times(batch, Tolerance()), hold_times(batch, TIGHT)
        failed += int((~(good & good_sharp)).sum())
        for time, exact in zip(times, sharp, strict=True):
            if np.isfinite(exact):
                rows.append((abs(time - exact), abs(time - exact) / exact, batch.design, batch.condition))
    for condition in CONDITIONS:
        mine = [row for row in rows if row[3] == condition]
        worst = max(mine)
        relative = max(row[1] for row in mine)
        print(
            f"{condition:5} {len(mine):5} designs: largest difference {worst[0]:.3f} s ({worst[2]}), "
            f"{100 * relative:.5f} %; median {np.median([row[0] for row in mine]):.4f} s"
        )
    print(f"all   {len(rows):5} of {designs}; {failed} refused or failed; allowed 0.5 s and 0.05 %")
    generator = np.random.default_rng(1)
    for batch in generator.choice(np.array(everything, dtype=object), judged, replace=False):
        sharp = hold_times(batch, TIGHT)[0]
        row = int(np.flatnonzero(np.isfinite(sharp))[0])
        difference = sharp[row] - reference(batch, row)
        print(f"tight engine less reference at 1e-10: {difference:+.1e} s ({batch.design}, {batch.condition})")


if __name__ == "__main__":
    main()
