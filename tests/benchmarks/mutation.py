"""How many small faults, put into the physics on purpose, the tests find: a mutation run.

Run as `python -m tests.benchmarks.mutation [mutants] [seed] [part of a path]`, 120 if left out; needs cosmic-ray and
pytest-cov, which are no dependencies. Faults are drawn among all that can be made in the laws, the assembly, the
grouping of networks and the likelihood: an operator exchanged, a number moved by one, a comparison turned round, a
branch left out. Each is put into a copy of the checkout, where the test files that run the faulty line go one after
another, the quickest first, until one fails. Before that they run once without a fault: they must pass, and it is noted
which lines they run and how long they take. Every fault that no test finds is printed as a difference of text. Asked:
85 % found.
"""

import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cosmic_ray.ast import ast_nodes, get_ast_from_path
from cosmic_ray.mutating import apply_mutation
from cosmic_ray.plugins import get_operator, operator_names
from coverage import CoverageData

ROOT = Path(__file__).parents[2]
WANTED = 0.85
PYTEST = (sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider")
MOST_TIMES, LEAST_WAIT = 10.0, 120.0
"""A fault that makes tests last this many times as long, and this long [s], is found: it has trapped the solver."""

NETWORK_TESTS = (
    "tests/thermal_model/assemble",
    "tests/thermal_model/solver",
    "tests/published",
    "tests/thermal_model/test_follow.py",
    "tests/thermal_model/test_prediction.py",
    "tests/thermal_model/test_field_sweeps.py",
    "tests/thermal_model/test_batch.py",
)
FIT_TESTS = ("tests/thermal_model/bench/calibration",)
LAWS = "thermal_model/solver/laws.py"
PARTS = {
    LAWS: NETWORK_TESTS,
    **{
        str(path.relative_to(ROOT)): NETWORK_TESTS
        for path in sorted((ROOT / "thermal_model/assemble").glob("*.py"))
        if path.name != "__init__.py"
    },
    "thermal_model/bench/calibration/likelihood.py": FIT_TESTS,
}
"""What is changed, and where the tests are that should find it."""

LEFT_OUT = ("BitOr", "ZeroIterationForLoop", "ExceptionReplacer", "RemoveDecorator")
"""Faults that break a type hint or an import, found by anything; or that concern the words of a message."""

DECORATES = "@"
"""What a line begins with that changes no number: a record that may be changed works as well."""


@dataclass(frozen=True)
class Fault:
    """A place and a kind of fault."""

    module: str
    operator: str
    occurrence: int
    line: int


def faults_of(module: str) -> Iterator[Fault]:
    """Yield all faults that can be put into a module."""
    tree, lines = get_ast_from_path(ROOT / module), (ROOT / module).read_text().splitlines()
    for name in operator_names():
        operator = get_operator(name)
        if operator.arguments() or any(word in name for word in LEFT_OUT):
            continue
        places = (start for node in ast_nodes(tree) for start, _ in operator().mutation_positions(node))
        for occurrence, (line, _) in enumerate(places):
            if not lines[line - 1].lstrip().startswith(DECORATES):
                yield Fault(module, name, occurrence, line)


def sample(faults: list[Fault], count: int, generator: random.Random) -> list[Fault]:
    """Draw lines and kinds first, then a fault of each: an operator has ten others in its place, a number two."""
    places: dict[tuple[str, int, str], list[Fault]] = {}
    for fault in faults:
        places.setdefault((fault.module, fault.line, fault.operator.partition("_")[0]), []).append(fault)
    drawn = generator.sample(sorted(places), min(count, len(places)))
    return [generator.choice(places[place]) for place in drawn]


@dataclass(frozen=True)
class TestFile:
    """A file of tests that passes without a fault."""

    path: str
    seconds: float
    lines: dict[str, frozenset[int]]

    def runs(self, fault: Fault) -> bool:
        """Tell whether a test, and not an import alone, goes through the line of a fault."""
        return fault.line in self.lines.get(fault.module, frozenset())


def tests_of(fault: Fault, tests: list[TestFile]) -> list[TestFile]:
    """Return the test files that may see a fault, the quickest first.

    A kept kernel runs no line of a law that it was made of, and a constant is read at the import: there, all of them.
    """
    of_part = set(test_files(PARTS[fault.module]))
    candidates = [test for test in tests if test.path in of_part]
    running = [] if fault.module == LAWS else [test for test in candidates if test.runs(fault)]
    return sorted(running or candidates, key=lambda test: test.seconds)


def test_files(places: tuple[str, ...]) -> list[str]:
    """Return the test files of folders and files."""
    found = ([ROOT / place] if place.endswith(".py") else (ROOT / place).rglob("test_*.py") for place in places)
    return sorted(str(path.relative_to(ROOT)) for paths in found for path in paths)


def run_without_a_fault(copy: Path, path: str) -> TestFile:
    """Run a test file as it is; what fails already would find every fault.

    Raises
    ------
    SystemExit
        If a test fails.
    """
    began = time.monotonic()
    packages = ["--cov=thermal_model", "--cov-context=test", "--cov-report="]
    done = subprocess.run([*PYTEST, *packages, path], cwd=copy, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise SystemExit(f"{path} fails without a fault:\n{done.stdout[-2000:]}")
    return TestFile(path, time.monotonic() - began, lines_run(copy))


def lines_run(copy: Path) -> dict[str, frozenset[int]]:
    """Return the lines that the tests of the last run went through, by module; what an import runs is left out."""
    data = CoverageData(str(copy / ".coverage"))
    data.read()
    found = {}
    for module in PARTS:
        contexts = data.contexts_by_lineno(str((copy / module).resolve()))
        found[module] = frozenset(line for line, names in contexts.items() if any(names))
    return found


def is_found(copy: Path, fault: Fault, tests: list[TestFile]) -> bool:
    """Tell whether a test fails in a copy of the checkout that has a fault."""
    for test in tests_of(fault, tests):
        longest = max(LEAST_WAIT, MOST_TIMES * test.seconds)
        try:
            done = subprocess.run([*PYTEST, test.path], cwd=copy, capture_output=True, timeout=longest, check=False)
        except subprocess.TimeoutExpired:
            return True
        if done.returncode != 0:
            return True
    return False


def difference(before: str, after: str) -> str:
    """Return the lines that a fault changes."""
    pairs = zip(before.splitlines(), after.splitlines(), strict=False)
    return "\n".join(f"    - {old.strip()}\n    + {new.strip()}" for old, new in pairs if old != new)


def main(mutants: str = "120", seed: str = "1", part: str = "") -> int:
    faults = [fault for module in PARTS if part in module for fault in faults_of(module)]
    drawn = sample(faults, int(mutants), random.Random(int(seed)))
    print(f"{len(drawn)} of {len(faults)} faults that can be made, seed {seed}", flush=True)
    modules = {fault.module for fault in drawn}
    paths = sorted({path for module in modules for path in test_files(PARTS[module])})
    found = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "checkout"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", "__pycache__", ".*_cache"))
        tests = [run_without_a_fault(copy, path) for path in paths]
        print(f"{len(tests)} files of tests pass without a fault", flush=True)
        for number, fault in enumerate(drawn, start=1):
            began = time.monotonic()
            before, after = apply_mutation(copy / fault.module, get_operator(fault.operator)(), fault.occurrence)
            caught = is_found(copy, fault, tests)
            (copy / fault.module).write_text(before)
            found += caught
            operator = fault.operator.rpartition("/")[2]
            said = "found" if caught else "NOT FOUND"
            print(f"{number:4d} {said:9s} {time.monotonic() - began:5.0f} s  {fault.module}:{fault.line} {operator}")
            if not caught:
                print(difference(before, after))
            print(f"     {found} of {number} found", flush=True)
    print(f"{found / len(drawn):.1%} found, {WANTED:.0%} asked")
    return int(found < WANTED * len(drawn))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
