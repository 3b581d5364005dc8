"""Print what everyday commands take, warm: processor and wall time, as ratios to `python -c "import numpy"` too.

Run as `python -m tests.benchmarks.everyday [rounds]`; exits with 1 if a command takes a second or more by the clock.
Warm means that the kernel is kept, the files have been read once, and modules are compiled to bytecode, as an installed
package's are, whatever PYTHONDONTWRITEBYTECODE says here. Each round runs every command once, so that a busy machine
slows all of them alike; wall time is only worth something on a quiet one.
"""

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Mapping
from tempfile import TemporaryDirectory

from tests.benchmarks.start_up import REFERENCE
from thermal_model.solver.compiled.machine_code import kernel

ROUNDS = 5
ALLOWED = 1.0
"""By the clock, which is what a tester waits: compare steps on all cores. [s]"""

_ENTER = ["-c", "from thermal_model.cli.main import run; run()"]
_FULL = ["--fill", "500mL", "--until", "60C"]
COMMANDS: dict[str, list[str]] = {
    REFERENCE: ["-c", REFERENCE],
    "predict": [*_ENTER, "predict", "slim_neck_double_seal", *_FULL],
    "compare of 4": [
        *_ENTER,
        "compare",
        "slim_neck_double_seal",
        "wide_mouth_disc",
        "single_seal_plug",
        "thin_disc_lid",
        *("--fill", "300mL", "--until", "60C"),
    ],
    "explain": [*_ENTER, "explain", "slim_neck_double_seal", "single_seal_plug", *_FULL],
    "plan run": [*_ENTER, "plan", "run", "slim_neck_double_seal", *_FULL],
}


def times(arguments: list[str], environment: Mapping[str, str]) -> tuple[float, float]:
    """Return the processor time and the wall time of a process. [s]"""
    start, before = time.perf_counter(), os.times()
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True, env=environment)
    after = os.times()
    processor = after.children_user + after.children_system - before.children_user - before.children_system
    return processor, time.perf_counter() - start


def medians(rounds: int) -> dict[str, tuple[float, float]]:
    """Return the median processor and wall time of each command; one round before is not counted. [s]"""
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in COMMANDS}
    with TemporaryDirectory() as bytecode:
        environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": bytecode}
        for counted in [False, *[True] * rounds]:
            for name, arguments in COMMANDS.items():
                taken = times(arguments, environment)
                if counted:
                    found[name].append(taken)
    return {name: (_middle(rows, 0), _middle(rows, 1)) for name, rows in found.items()}


def _middle(rows: list[tuple[float, float]], column: int) -> float:
    return statistics.median(row[column] for row in rows)


def main(arguments: list[str]) -> int:
    kernel()
    found = medians(int(arguments[0]) if arguments else ROUNDS)
    reference = found[REFERENCE]
    print(f"{'command':14s} {'processor [s]':>14s} {'ratio':>6s} {'wall [s]':>9s} {'ratio':>6s}")
    for name, (processor, wall) in found.items():
        mark = " a second or more" if name != REFERENCE and wall >= ALLOWED else ""
        ratios = processor / reference[0], wall / reference[1]
        print(f"{name:14s} {processor:14.3f} {ratios[0]:6.1f} {wall:9.3f} {ratios[1]:6.1f}{mark}")
    return int(any(wall >= ALLOWED for name, (_, wall) in found.items() if name != REFERENCE))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
