"""What a sweep costs as it grows, and what threads gain: ratios from one run, no pass by time.

Run as `python -m tests.benchmarks.sweep_throughput [DESIGNS ...] [--gain N]`, for example with 1000 10000 100000; left
out: 1000 and 4000. Every size runs in a process of its own, the engine and the kernel loaded before the clock starts.
The processor's time counts, of all threads, for it is less disturbed by what else the machine does; the wall's stands
beside it. `--gain N` works N designs off in one thread, and in as many as there are cores; it says little where others
keep the cores busy.

Solver: the compiled stepper at its default tolerance, which keeps hold times within 0.5 s.
"""

import argparse
import importlib
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from geometries.design_file import load_container
from thermal_model.scenario import Scenario
from thermal_model.solver.cores import cores
from thermal_model.study.axes import read_axes
from thermal_model.study.crew import threads
from thermal_model.study.journal import Journal
from thermal_model.study.sampling import planned
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import Sweep, run, summary_of
from thermal_model.study.sweep_files import write_results
from thermal_model.words.numbers import Scale

DESIGN, LIMIT = "slim_neck_double_seal", 333.15
VARIED = [
    ("body.neck.mouth_diameter", "34..56 mm"),
    ("body.inside_depth", "180..260 mm"),
    ("lid.layers.1.depth", "4..25 mm"),
    ("lid.plug.depth", "38..43 mm"),
    ("scenario.room", "10..25 C"),
]


def sweep_of(designs: int, *, is_quick: bool = False) -> Sweep:
    """A Sobol' sequence over five numbers."""
    container, scenario = load_container(DESIGN), Scenario()
    axes = tuple(read_axes(VARIED, container, scenario, "--vary"))
    return Sweep(container, scenario, (LIMIT,), planned(axes, Sampling.SOBOL, designs, 1), is_quick=is_quick)


def measured(designs: int, count: int, *, is_quick: bool) -> dict[str, float]:
    """Compute and write a sweep in so many threads; seconds of wall and processor, megabytes of memory."""
    sweep = sweep_of(designs, is_quick=is_quick)
    sweep.block(0, 8)  # compiles, or loads what is compiled
    importlib.import_module("pyarrow.parquet")
    with tempfile.TemporaryDirectory() as folder:
        journal = Journal(Path(folder) / "j", sweep.inputs())
        wall, processor = time.perf_counter(), time.process_time()
        with threads(count) as crew:
            run(sweep, journal, crew=crew)
        computed = {"wall_s": time.perf_counter() - wall, "processor_s": time.process_time() - processor}
        began = time.process_time()
        summary = summary_of(sweep, journal)
        write_results(sweep, journal, summary, Path(folder) / "a.parquet", Scale.CELSIUS)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return computed | {"write_s": time.process_time() - began, "possible": summary.valid, "peak_MB": peak}


def in_a_process(designs: int, count: int, *, is_quick: bool = False) -> dict[str, float]:
    """Run in a fresh process, so that its memory is its own."""
    arguments = [sys.executable, "-m", "tests.benchmarks.sweep_throughput", str(designs), "--threads", str(count)]
    arguments += ["--quick"] if is_quick else []
    done = subprocess.run(arguments, check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def print_growth(sizes: list[int], *, is_quick: bool) -> None:
    print(f"{DESIGN}, five numbers varied, until {LIMIT - 273.15:g} C, Sobol' sequence, Parquet, {cores()} threads")
    headings = ("designs", "possible", "processor [ms]", "ratio", "wall [ms]", "writing [ms]", "peak [MB]")
    print("{:>9s} {:>9s} {:>15s} {:>6s} {:>10s} {:>13s} {:>10s}   per design".format(*headings))
    first = None
    for designs in sizes:
        found = in_a_process(designs, cores(), is_quick=is_quick)
        each = {key: 1e3 * found[key] / designs for key in ("processor_s", "wall_s", "write_s")}
        first = first or each["processor_s"]
        row = f"{designs:9d} {found['possible']:9.0f} {each['processor_s']:15.3f} {each['processor_s'] / first:6.2f}"
        print(f"{row} {each['wall_s']:10.3f} {each['write_s']:13.4f} {found['peak_MB']:10.0f}", flush=True)


def print_gain(designs: int) -> None:
    alone, together = in_a_process(designs, 1), in_a_process(designs, cores())
    for count, found in ((1, alone), (cores(), together)):
        busy = found["processor_s"] / found["wall_s"]
        print(f"{designs} designs, threads {count}: {found['wall_s']:.2f} s, {busy:.2f} cores busy", end="; ")
    print(f"{alone['wall_s'] / together['wall_s']:.2f} times as fast, ", end="")
    print(f"processor time {together['processor_s'] / alone['processor_s']:.2f} times as much")


def main() -> int:
    parser = argparse.ArgumentParser(description="what a sweep costs as it grows")
    parser.add_argument("designs", nargs="*", type=int)
    parser.add_argument("--gain", type=int, metavar="N")
    parser.add_argument("--quick", action="store_true", help="with the coarser engine")
    parser.add_argument("--threads", type=int, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.threads:
        print(json.dumps(measured(given.designs[0], given.threads, is_quick=given.quick)))
        return 0
    print_growth(given.designs or [1000, 4000], is_quick=given.quick)
    if given.gain:
        print_gain(given.gain)
    return 0


if __name__ == "__main__":
    sys.exit(main())
