"""Print how long the command takes to answer, as ratios to `python -c "import numpy"` on the same machine.

Run as `python -m tests.benchmarks.start_up`; exits with 1 if a ratio leaves its limit. Each round runs every
command once, so that a busy machine slows all of them alike.
"""

import statistics
import subprocess
import sys
import time

ROUNDS = 5
_ENTER = "from thermal_model.cli.main import run; run()"

REFERENCE = "import numpy"
COMMANDS: dict[str, tuple[list[str], float]] = {
    REFERENCE: (["-c", "import numpy"], 1.0),
    "holdtime --help": (["-c", _ENTER, "--help"], 3.0),
    "holdtime sweep --help": (["-c", _ENTER, "sweep", "--help"], 8.0),
    "holdtime --version": (["-c", _ENTER, "--version"], 3.0),
    "holdtime predict --no-interval": (["-c", _ENTER, "predict", "slim_neck_double_seal", "--no-interval"], 8.0),
}
"""Arguments of the interpreter, and the largest ratio allowed."""


def wall_time(arguments: list[str]) -> float:
    """Return how long a process takes. [s]"""
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
    return time.perf_counter() - start


def medians(rounds: int = ROUNDS) -> dict[str, float]:
    """Return the median time of each command over alternating rounds; one round before them is not counted. [s]"""
    times: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for counted in [False, *[True] * rounds]:
        for name, (arguments, _) in COMMANDS.items():
            elapsed = wall_time(arguments)
            if counted:
                times[name].append(elapsed)
    return {name: statistics.median(values) for name, values in times.items()}


def main() -> int:
    found = medians()
    exceeded = 0
    print(f"{'command':34s} {'median [s]':>10s} {'ratio':>6s} {'limit':>6s}")
    for name, (_, limit) in COMMANDS.items():
        ratio = found[name] / found[REFERENCE]
        exceeded += ratio > limit
        print(f"{name:34s} {found[name]:10.3f} {ratio:6.2f} {limit:6.1f}")
    return int(exceeded > 0)


if __name__ == "__main__":
    sys.exit(main())
