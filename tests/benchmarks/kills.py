"""Commands killed at random (kill -9): what is lost, what is left half done, what comes out when they run again.

    python -m tests.benchmarks.kills --count 100 --seed 0

A killed sweep is started again with the same line until it ends; the other commands begin anew. Allowed: no input
changed, no half file under a name that was asked for, every result the same to the byte as that of a run left alone.
"""

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from geometries.design_file import catalogue_path
from tests.thermal_model.bench.folders import bench_folder

COMMAND = [sys.executable, "-c", "from thermal_model.cli.main import run; run()"]
SWEEP = ["sweep", "design.toml", "--vary", "body.neck.mouth_diameter=30..60 mm:40", "--chunk", "2", "--output", "s.csv"]
LINES = {
    "sweep": [*SWEEP, "--until", "60C"],
    "calibrate": ["calibrate", "bench", "--output", "known.json"],
    "compare": ["compare", "design.toml", "thin_disc_lid", "--draws", "20", "--no-cold", "--csv", "ranks.csv"],
    "reduce": ["bench", "reduce", "bench", "--output", "reduced.json"],
}
"""Commands, and by their last-named file what they write."""
OUTPUTS = {"sweep": "s.csv", "calibrate": "known.json", "compare": "ranks.csv", "reduce": "reduced.json"}


@dataclass
class Found:
    """What the kills did.

    Attributes
    ----------
    kills : Counter
        By command; those that came too late are not counted.
    failures : list of str
    parts : int
        Temporary files left behind, under names of their own.
    """

    kills: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    parts: int = 0


def prepare(folder: Path) -> dict[str, bytes]:
    """Write inputs into a folder and return them."""
    (folder / "bench").mkdir()
    bench_folder(folder / "bench")
    (folder / "design.toml").write_bytes(catalogue_path("thin_disc_lid").read_bytes())
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def alone(folder: Path, name: str) -> tuple[bytes, float]:
    """Run a command to its end and return what it wrote, and how long it took [s]."""
    start = time.perf_counter()
    subprocess.run([*COMMAND, *LINES[name]], cwd=folder, check=True, capture_output=True)
    output = folder / OUTPUTS[name]
    data = output.read_bytes()
    output.unlink()
    return data, time.perf_counter() - start


def kill_once(folder: Path, name: str, after: float) -> bool:
    """Start a command, kill it and its children after a while [s]; tell whether it was still running."""
    process = subprocess.Popen(
        [*COMMAND, *LINES[name]],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        process.wait(after)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        return True
    return False


def try_kills(folder: Path, count: int, seed: int) -> Found:
    """Kill commands a number of times, by turns, and look at what is there after each."""
    draw, found, inputs = random.Random(seed), Found(), prepare(folder)
    wanted = {name: alone(folder, name) for name in LINES}
    done = 0
    while done < count:
        name = [*LINES][done % len(LINES)]
        data, length = wanted[name]
        if not kill_once(folder, name, draw.uniform(0.2, 1.0) * length):
            _judge_finished(folder, name, data, found)
            continue
        done += 1
        found.kills[name] += 1
        _judge_killed(folder, name, inputs, data, found)
    for name, (data, _) in wanted.items():
        again, _ = alone(folder, name)
        if again != data:
            found.failures.append(f"{name}: another result after kills")
    found.parts = len([*folder.rglob("*.part")])
    return found


def _judge_finished(folder: Path, name: str, data: bytes, found: Found) -> None:
    output = folder / OUTPUTS[name]
    if output.read_bytes() != data:
        found.failures.append(f"{name}: another result when it was resumed")
    output.unlink()


def _judge_killed(folder: Path, name: str, inputs: dict[str, bytes], data: bytes, found: Found) -> None:
    changed = [path for path, before in inputs.items() if (folder / path).read_bytes() != before]
    if changed:
        found.failures.append(f"{name}: changed {changed}")
    output = folder / OUTPUTS[name]
    if output.exists():
        _judge_finished(folder, name, data, found)


def main() -> None:
    """Print figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        found = try_kills(Path(name), given.count, given.seed)
    for command, kills in found.kills.items():
        print(f"{command}: killed {kills} times")
    print(f"temporary files left behind: {found.parts}")
    print(*found.failures, sep="\n")
    print(f"failures: {len(found.failures)}, allowed: 0")


if __name__ == "__main__":
    main()
