"""Commands killed at random (kill -9): what is lost, what is left half done, what comes out when they run again.

    python -m tests.benchmarks.kills --count 100 --seed 0

Sweep, calibrate, compare and the commands of the bench take turns. Every second kill comes at any moment of a run, the
others just after something new stands in the folder, when files are being written. After each kill the same line is
given again, and left alone; half of the time a sweep is killed again first. Allowed: no input changed; under a name
that was asked for nothing, or all of it; every result the same to the byte as that of a run that nobody killed.
"""

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
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
    "bench demo": ["bench", "demo", "galley"],
    "bench new": ["bench", "new", "mine"],
    "bench reduce": ["bench", "reduce", "bench", "--output", "reduced.json"],
}
OUTPUTS = {
    "sweep": "s.csv",
    "calibrate": "known.json",
    "compare": "ranks.csv",
    "bench demo": "galley",
    "bench new": "mine",
    "bench reduce": "reduced.json",
}
"""The file or folder that each command writes."""

INPUTS = ("bench", "design.toml")

WRITING = 0.03
"""How long after something new stands in the folder a kill may come. [s]"""

Written = dict[str, bytes]
"""Files by their path."""


class CommandFailedError(Exception):
    """A command that nobody killed did not end well."""


@dataclass
class Found:
    """What the kills did.

    Attributes
    ----------
    kills : Counter
        By command; those that came too late are not counted.
    finished : Counter
        By command: times the output was there, whole, although the command was killed.
    compared : int
        Results held to those of runs that nobody killed.
    failures : list of str
    parts : int
        Temporary files and folders left behind, under names of their own.
    """

    kills: Counter[str] = field(default_factory=Counter)
    finished: Counter[str] = field(default_factory=Counter)
    compared: int = 0
    failures: list[str] = field(default_factory=list)
    parts: int = 0


class Place:
    """A folder with inputs, in which commands are killed.

    Parameters
    ----------
    folder : Path
        Empty.
    seed : int
    names : sequence of str
        Commands, of LINES.
    """

    def __init__(self, folder: Path, seed: int, names: Sequence[str] = tuple(LINES)) -> None:
        self.folder, self.names, self.found = folder, names, Found()
        self._draw = random.Random(seed)
        (folder / "bench").mkdir()
        bench_folder(folder / "bench")
        (folder / "design.toml").write_bytes(catalogue_path("thin_disc_lid").read_bytes())
        self.inputs = self._inputs()
        self._lengths: dict[str, float] = {}
        self._wanted = {name: self._undisturbed(name) for name in names}

    def kill(self, count: int) -> Found:
        """Kill commands a number of times, by turns, and look at what is there after each."""
        turn = 0
        while sum(self.found.kills.values()) < count:
            name = self.names[turn % len(self.names)]
            turn += 1
            if self._kill_once(name, is_writing=turn // len(self.names) % 2 == 1):
                self.found.kills[name] += 1
                self._judge_killed(name)
                if name == "sweep" and self._draw.random() < 0.5:
                    continue
                self._run(name)
            self._judge_result(name)
        if (self.folder / "s.csv.partial").exists():
            self._run("sweep")
            self._judge_result("sweep")
        self.found.parts = len([*self.folder.rglob(".holdtime-*.part")])
        return self.found

    def _undisturbed(self, name: str) -> Written:
        """Return what a command writes."""
        self._run(name)
        return self._taken(name)

    def _run(self, name: str) -> None:
        """Run a command to its end, and note how long it takes now."""
        line, start = [*COMMAND, *LINES[name]], time.perf_counter()
        done = subprocess.run(line, cwd=self.folder, check=False, capture_output=True, text=True, timeout=300)
        if done.returncode:
            raise CommandFailedError(f"{name}: exit code {done.returncode}: {done.stderr.strip()}")
        self._lengths[name] = time.perf_counter() - start

    def _kill_once(self, name: str, *, is_writing: bool) -> bool:
        """Start a command and kill it and its children; tell whether it was still running."""
        before = self._names()
        process = subprocess.Popen(
            [*COMMAND, *LINES[name]],
            cwd=self.folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        if is_writing:
            while process.poll() is None and self._names() == before:
                time.sleep(0.0005)
            after = WRITING * self._draw.random() ** 2
        else:
            after = self._draw.uniform(0.1, 1.0) * self._lengths[name]
        try:
            process.wait(after)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            return True
        if process.returncode:
            raise CommandFailedError(f"{name}: exit code {process.returncode} when it was given again")
        return False

    def _judge_killed(self, name: str) -> None:
        now = self._inputs()
        if now != self.inputs:
            changed = sorted(path for path in now.keys() | self.inputs.keys() if now.get(path) != self.inputs.get(path))
            self.found.failures.append(f"{name}: changed {', '.join(changed)}")
        if (self.folder / OUTPUTS[name]).exists():
            self.found.finished[name] += 1
            self._judge_result(name)

    def _judge_result(self, name: str) -> None:
        """Hold what a command wrote to what it writes when it is left alone, and take it away."""
        self.found.compared += 1
        wanted, got = self._wanted[name], self._taken(name)
        if got != wanted:
            wrong = sorted(path for path in got.keys() | wanted.keys() if got.get(path) != wanted.get(path))
            self.found.failures.append(f"{name}: another result, or half of one: {', '.join(wrong)}")

    def _taken(self, name: str) -> Written:
        output = self.folder / OUTPUTS[name]
        written = _files(output)
        shutil.rmtree(output) if output.is_dir() else output.unlink()
        return written

    def _inputs(self) -> Written:
        return {path: data for name in INPUTS for path, data in _files(self.folder / name).items()}

    def _names(self) -> set[str]:
        return {path for path, *_ in os.walk(self.folder)} | {entry.path for entry in os.scandir(self.folder)}


def _files(place: Path) -> Written:
    """Return a file, or all of a folder."""
    paths = [place] if place.is_file() else [path for path in sorted(place.rglob("*")) if path.is_file()]
    return {str(path.relative_to(place.parent)): path.read_bytes() for path in paths}


def main() -> None:
    """Print figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100, help="kills, over all commands")
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        found = Place(Path(name), given.seed).kill(given.count)
    for command, kills in found.kills.items():
        print(f"{command}: killed {kills} times, {found.finished[command]} of them with all of its output there")
    print(f"results compared with those of runs that nobody killed: {found.compared}")
    print(f"unfinished files and folders left behind, under names of their own: {found.parts}")
    print(*found.failures, sep="\n", end="\n" if found.failures else "")
    print(f"failures: {len(found.failures)}, allowed: 0")
    sys.exit(bool(found.failures))


if __name__ == "__main__":
    main()
