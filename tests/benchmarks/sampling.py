"""Whether a sample of the posterior settles: the demo bench, invented benches of mixed kinds, and a large one.

Run as `python -m tests.benchmarks.sampling [benches] [containers]`, 10 and 30 if left out, four runs a container. A
line each: unknowns, largest R-hat and smallest effective size over all unknowns (Vehtari et al., Bayesian Analysis 16,
2021), the share of draws that diverged, intervals of the normal approximation that differ by more than 15 % of their
width (they are replaced by the sample's, and the output says so), and seconds: fit, sample, and of the processor over
both. Asked for: below 1.01, above 400, below 0.1 %.
"""

import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.benchmarks.calibration_speed import large_bench
from tests.thermal_model.bench.calibration.invented import bench_of, invent, random_plans
from thermal_model.bench.calibration.fit import fit
from thermal_model.bench.calibration.sampling import sample
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.records import Bench
from thermal_model.bench.write.demo import write_demo


def benches(count: int, containers: int) -> Iterator[tuple[str, Bench]]:
    """The demo bench, so many small ones of mixed kinds, and one of so many containers; with a name each."""
    with tempfile.TemporaryDirectory() as folder:
        write_demo(Path(folder))
        yield "demo bench", read_bench(Path(folder))
    for number in range(count):
        generator = np.random.default_rng([7, number])
        yield f"mixed {number}", invent(bench_of(random_plans(generator)), seed=number).bench
    if containers:
        yield f"{containers} x 4", large_bench(containers, 4)


def processor_seconds() -> float:
    """Of this process, all threads."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_utime


def main() -> None:
    """Print a line for each bench."""
    count, containers = (int(text) for text in (*sys.argv[1:], *("10", "30")[len(sys.argv) - 1 :]))
    print(
        f"{'':12} unknowns  R-hat  effective  divergent  unsettled  other intervals  fit s  sample s  processor s",
        flush=True,
    )
    for name, bench in benches(count, containers):
        before, began = processor_seconds(), time.perf_counter()
        fitted = fit(bench)
        between = time.perf_counter()
        found = sample(fitted, 1)
        end = time.perf_counter()
        share = found.divergences / len(found.draws)
        print(
            f"{name:12} {fitted.coordinates.count:8} {found.largest_r_hat:6.3f} {found.smallest_size:10.0f}"
            f" {share:10.2%} {len(found.unsettled):10} {len(found.unlike_fit):16}"
            f" {between - began:6.1f} {end - between:9.1f} {processor_seconds() - before:12.1f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
