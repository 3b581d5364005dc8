"""Print what a sweep costs as it grows: time per design, its ratio to the smallest sweep, and peak memory.

Run as `python -m tests.benchmarks.sweep_throughput [DESIGNS ...]`, for example with 100 1000 10000; left out: 100 and
1000. With `--write N` it also writes a Parquet file of N designs from a journal of made-up results, to show that
memory does not grow with their number. Each size runs in a process of its own. Nothing here passes or fails by time.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from geometries.design_file import load_container
from thermal_model.scenario import Scenario
from thermal_model.study.axes import read_axes
from thermal_model.study.journal import Journal, Results
from thermal_model.study.sampling import planned
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import BLOCK, Sweep, run, summary_of
from thermal_model.study.sweep_files import write_results
from thermal_model.wording import Scale

DESIGN, LIMIT = "slim_neck_double_seal", 333.15
VARIED = [
    ("body.neck.mouth_diameter", "34..56 mm"),
    ("body.inside_depth", "180..260 mm"),
    ("lid.layers.1.depth", "4..25 mm"),
    ("lid.plug.depth", "38..43 mm"),
    ("scenario.room", "10..25 C"),
]


def sweep_of(designs: int) -> Sweep:
    """A Sobol' sequence over five numbers."""
    container, scenario = load_container(DESIGN), Scenario()
    axes = tuple(read_axes(VARIED, container, scenario, "--vary"))
    return Sweep(container, scenario, (LIMIT,), planned(axes, Sampling.SOBOL, designs, 1))


def computed(designs: int, folder: Path) -> dict[str, float]:
    """Compute and write a sweep; seconds for each, and the peak of resident memory in megabytes."""
    sweep = sweep_of(designs)
    journal = Journal(folder / "j", sweep.inputs())
    started = time.perf_counter()
    run(sweep, journal)
    ran = time.perf_counter()
    summary = summary_of(sweep, journal)
    write_results(sweep, journal, summary, folder / "a.parquet", Scale.CELSIUS)
    return {"compute_s": ran - started, "write_s": time.perf_counter() - ran, "possible": summary.valid}


def written(designs: int, folder: Path) -> dict[str, float]:
    """Write a sweep whose results are made up; its rows are drawn for real."""
    sweep = sweep_of(designs)
    journal = Journal(folder / "j", sweep.inputs())
    for start in range(0, designs, 8 * BLOCK):
        count = min(8 * BLOCK, designs - start)
        times = np.full((1, count), 2e4) + np.arange(start, start + count)
        journal.keep(start, Results(times, np.zeros(count, np.int8), np.full(count, -1, np.int32), ()))
    started = time.perf_counter()
    write_results(sweep, journal, summary_of(sweep, journal), folder / "a.parquet", Scale.CELSIUS)
    return {"write_s": time.perf_counter() - started, "file_MB": (folder / "a.parquet").stat().st_size / 1e6}


def in_a_process(task: str, designs: int) -> dict[str, float]:
    """Run a task in a fresh process, so that its memory is its own."""
    arguments = [sys.executable, "-m", "tests.benchmarks.sweep_throughput", "--task", task, str(designs)]
    done = subprocess.run(arguments, check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def measured(task: str, designs: int) -> dict[str, float]:
    with tempfile.TemporaryDirectory() as folder:
        found = {"compute": computed, "write": written}[task](designs, Path(folder))
    kilobytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return found | {"peak_MB": kilobytes / 1024.0}


def main() -> int:
    parser = argparse.ArgumentParser(description="what a sweep costs as it grows")
    parser.add_argument("designs", nargs="*", type=int)
    parser.add_argument("--write", type=int, metavar="N")
    parser.add_argument("--task", choices=["compute", "write"], help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.task:
        print(json.dumps(measured(given.task, given.designs[0])))
        return 0
    print(f"{DESIGN}, five numbers varied, until {LIMIT - 273.15:g} C, Sobol' sequence, Parquet")
    headings = ("designs", "possible", "per design [ms]", "ratio", "writing [ms]", "peak [MB]")
    print("{:>9s} {:>9s} {:>16s} {:>6s} {:>13s} {:>10s}".format(*headings))
    first = None
    for designs in given.designs or [100, 1000]:
        found = in_a_process("compute", designs)
        each = 1e3 * found["compute_s"] / designs
        first = first or each
        row = f"{designs:9d} {found['possible']:9.0f} {each:16.3f} {each / first:6.2f}"
        print(f"{row} {1e3 * found['write_s'] / designs:13.4f} {found['peak_MB']:10.0f}", flush=True)
    if given.write:
        found = in_a_process("write", given.write)
        print(f"writing alone, {given.write} designs: {found['write_s']:.1f} s, {found['file_MB']:.0f} MB", end="")
        print(f" file, {found['peak_MB']:.0f} MB peak")
    return 0


if __name__ == "__main__":
    sys.exit(main())
