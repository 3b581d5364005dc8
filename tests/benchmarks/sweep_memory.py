"""How much memory a sweep holds while it streams a million designs to Parquet.

Run as `python -m tests.benchmarks.sweep_memory [--designs N] [--real N]`. Two rows, each in a fresh process so that
its memory is its own, in as many threads as there are cores:

- the real engine, for so many designs as can be waited for (`--real`): what the compiled stepper, its compiler's
  library and the blocks in hand take. It does not grow with the number of designs: no block is kept;
- an engine that is made up, for a million (`--designs`): rows are drawn, blocks handed out, chunks kept in the journal
  and read back, and the file is written for real; only the hold times are invented. What grows would grow here.

Allowed: 1000 MB resident; aimed at: 500 MB.
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

from tests.benchmarks.sweep_throughput import sweep_of
from thermal_model.solver.cores import cores
from thermal_model.study.crew import threads
from thermal_model.study.journal import Journal, Results
from thermal_model.study.sweep import Progress, Sweep, run, summary_of
from thermal_model.study.sweep_files import write_results
from thermal_model.words.numbers import Scale

ALLOWED_MB, AIM_MB = 1000.0, 500.0


class MadeUp(Sweep):
    """A sweep whose rows are drawn and whose hold times are invented."""

    def block(self, start: int, stop: int, progress: Progress | None = None) -> Results:  # noqa: ARG002
        rows, count = self.plan.rows(start, stop), stop - start
        times = 1e5 * np.stack([rows.values["body.neck.mouth_diameter"]])
        return Results(times, np.zeros(count, np.int8), np.full(count, -1, np.int32), ())


def measured(kind: str, designs: int) -> dict[str, float]:
    """Stream a sweep to Parquet in this process; seconds, megabytes of file and of memory."""
    whole = sweep_of(designs)
    sweep = whole if kind == "real" else MadeUp(whole.container, whole.scenario, whole.limits, whole.plan)
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        journal, target = Journal(Path(folder) / "j", sweep.inputs()), Path(folder) / "a.parquet"
        with threads(cores()) as crew:
            run(sweep, journal, crew=crew)
        write_results(sweep, journal, summary_of(sweep, journal), target, Scale.CELSIUS)
        size = target.stat().st_size / 1e6
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return {"seconds": time.perf_counter() - began, "file_MB": size, "peak_MB": peak}


def in_a_process(kind: str, designs: int) -> dict[str, float]:
    arguments = [sys.executable, "-m", "tests.benchmarks.sweep_memory", "--task", kind, "--designs", str(designs)]
    done = subprocess.run(arguments, check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def main() -> int:
    """Print the table; exit code 1 if more memory is taken than allowed."""
    parser = argparse.ArgumentParser(description="memory of a sweep that streams to Parquet")
    parser.add_argument("--designs", type=int, default=1_000_000, metavar="N", help="made up")
    parser.add_argument("--real", type=int, default=2000, metavar="N", help="with the real engine")
    parser.add_argument("--task", choices=["real", "made up"], help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.task:
        print(json.dumps(measured(given.task, given.designs)))
        return 0
    print(f"five numbers varied, Sobol' sequence, Parquet, {cores()} threads")
    print(f"{'engine':>8s} {'designs':>9s} {'wall time [s]':>14s} {'file [MB]':>10s} {'peak [MB]':>10s}")
    highest = 0.0
    for kind, designs in (("real", given.real), ("made up", 1000), ("made up", given.designs)):
        found = in_a_process(kind, designs)
        highest = max(highest, found["peak_MB"])
        row = f"{kind:>8s} {designs:9d} {found['seconds']:14.1f} {found['file_MB']:10.2f}"
        print(f"{row} {found['peak_MB']:10.0f}", flush=True)
    verdict = "within the aim" if highest <= AIM_MB else "allowed" if highest <= ALLOWED_MB else "TOO MUCH"
    print(f"highest {highest:.0f} MB: {verdict} (allowed {ALLOWED_MB:.0f}, aim {AIM_MB:.0f})")
    return int(highest > ALLOWED_MB)


if __name__ == "__main__":
    sys.exit(main())
