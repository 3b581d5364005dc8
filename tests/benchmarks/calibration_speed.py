"""What a calibration costs: 30 containers, 4 runs each, two probes; seconds, and the ratio to finite differences.

Run as `python -m tests.benchmarks.calibration_speed [containers] [runs]`. The other way to the same derivatives is a
difference over SciPy solves of the same right-hand side: one solve a run and unknown
(`tests.reference_solver`, LSODA at rtol 1e-6). A few of them are timed and counted up to as many as the
calibration asked the engine for.
"""

import sys
import time

import numpy as np

from tests.reference_solver import solve_reference
from tests.thermal_model.bench.calibration.invented import (
    DESIGNS,
    GUESS,
    LOG,
    START_AND_END,
    VIDEO,
    Plan,
    bench_of,
    invent,
)
from thermal_model.assemble.build import assemble
from thermal_model.bench.calibration.coordinates import NETWORK_NAMES
from thermal_model.bench.calibration.fit import fit
from thermal_model.bench.calibration.response import run_with
from thermal_model.bench.calibration.sampling import sample
from thermal_model.bench.records import Bench

TIMED_SOLVES = 4
KINDS = (LOG, START_AND_END, VIDEO, GUESS)


def large_bench(containers: int, runs: int) -> Bench:
    """Containers of the catalogue's designs with runs of mixed kinds, hot and cold, by two probes."""
    plans = []
    for number in range(containers):
        for run in range(runs):
            plans.append(
                Plan(
                    DESIGNS[number % len(DESIGNS)],
                    kind=KINDS[run % len(KINDS)] if run else LOG,
                    probe=("log", "dial")[run % 2],
                    start="4 C" if run == 3 else "90 C",
                    share=(0.9, 0.7)[run % 2],
                    piece=number,
                )
            )
    return invent(bench_of(plans), seed=1).bench


def seconds_per_scipy_solve(bench: Bench) -> float:
    """Mean over a few runs, to the end of what was watched."""
    spent = []
    for run in bench.runs[:: max(len(bench.runs) // TIMED_SOLVES, 1)][:TIMED_SOLVES]:
        runs = run_with(run, np.zeros((1, len(NETWORK_NAMES))))
        network = assemble(runs.container, runs.scenario, runs.unknowns)
        times = [reading.time for reading in run.readings] + [p.earliest for p in run.passings]
        began = time.perf_counter()
        solve_reference(network, np.empty(0), max(times), relative_tolerance=1e-6)
        spent.append(time.perf_counter() - began)
    return float(np.mean(spent))


def main() -> None:
    """Print seconds and the ratio."""
    containers, runs = (int(text) for text in (*sys.argv[1:], *("30", "4")[len(sys.argv) - 1 :]))
    bench = large_bench(containers, runs)
    fit(large_bench(8, 4))  # so that the kernel is compiled and kept by now
    began = time.perf_counter()
    found = fit(bench)
    seconds = time.perf_counter() - began
    solves = found.problem.model.lanes_computed
    by_scipy = solves * seconds_per_scipy_solve(bench)
    print(f"{containers} containers x {runs} runs, 2 probes: {found.coordinates.count} unknowns")
    print(f"MAP and Laplace: {seconds:.1f} s for {solves} runs of the model, converged: {found.converged}")
    print(f"the same runs by SciPy: {by_scipy:.0f} s, {by_scipy / seconds:.0f} times as long")
    began = time.perf_counter()
    drawn = sample(found, seed=1)
    print(f"sample: {time.perf_counter() - began:.1f} s for {len(drawn.draws)} draws, {drawn.divergences} divergences;")
    print(f"R-hat {drawn.largest_r_hat:.3f} and effective size {drawn.smallest_size:.0f} of the worst unknown,")
    print(f"{len(drawn.unsettled)} beyond 1.01 or 400; the emulator errs by {drawn.emulator_error:.2f} of the noise")


if __name__ == "__main__":
    main()
