"""How many small faults, put into the physics on purpose, the tests find: a mutation run.

Run as `python -m tests.benchmarks.mutation [mutants] [seed]`, 120 if left out; needs cosmic-ray, which is no dependency
(`pip install cosmic-ray`). Faults are drawn among all that can be made in the laws, the assembly, the grouping of
networks and the likelihood: an operator exchanged, a number moved by one, a comparison turned round, a branch left out.
Each is put into a copy of the checkout, where the tests of that part run until one fails. Every fault that no test
finds is printed as a difference of text. Asked: 85 % found.
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

ROOT = Path(__file__).parents[2]
WANTED = 0.85
LONGEST = 1800.0
"""A fault that makes tests last longer than this is found: it has trapped the solver. [s]"""

NETWORK_TESTS = (
    "tests/thermal_model/assemble",
    "tests/published/test_fem_cases.py",
    "tests/thermal_model/solver/test_laws.py",
    "tests/thermal_model/test_follow.py",
    "tests/thermal_model/solver/test_engine.py",
    "tests/published",
    "tests/thermal_model/test_prediction.py",
    "tests/thermal_model/test_field_sweeps.py",
    "tests/thermal_model/test_batch.py",
)
PARTS = {
    "thermal_model/solver/laws.py": NETWORK_TESTS,
    **{
        str(path.relative_to(ROOT)): NETWORK_TESTS
        for path in sorted((ROOT / "thermal_model/assemble").glob("*.py"))
        if path.name != "__init__.py"
    },
    "thermal_model/bench/calibration/likelihood.py": ("tests/thermal_model/bench/calibration",),
}
"""What is changed, and the tests that should find it, the quickest first."""

LEFT_OUT = ("BitOr", "ZeroIterationForLoop", "ExceptionReplacer", "RemoveDecorator")
"""Faults that break a type hint or an import, found by anything; or that concern the words of a message."""


@dataclass(frozen=True)
class Fault:
    """A place and a kind of fault."""

    module: str
    operator: str
    occurrence: int
    line: int


def faults_of(module: str) -> Iterator[Fault]:
    """Yield all faults that can be put into a module."""
    tree = get_ast_from_path(ROOT / module)
    for name in operator_names():
        operator = get_operator(name)
        if operator.arguments() or any(word in name for word in LEFT_OUT):
            continue
        places = (start for node in ast_nodes(tree) for start, _ in operator().mutation_positions(node))
        for occurrence, (line, _) in enumerate(places):
            yield Fault(module, name, occurrence, line)


def sample(faults: list[Fault], count: int, generator: random.Random) -> list[Fault]:
    """Draw lines and kinds first, then a fault of each: an operator has ten others in its place, a number two."""
    places: dict[tuple[str, int, str], list[Fault]] = {}
    for fault in faults:
        places.setdefault((fault.module, fault.line, fault.operator.partition("_")[0]), []).append(fault)
    drawn = generator.sample(sorted(places), min(count, len(places)))
    return [generator.choice(places[place]) for place in drawn]


def is_found(copy: Path, fault: Fault) -> bool:
    """Tell whether a test fails in a copy of the checkout that has a fault."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *PARTS[fault.module]]
    try:
        return subprocess.run(command, cwd=copy, capture_output=True, timeout=LONGEST, check=False).returncode != 0
    except subprocess.TimeoutExpired:
        return True


def difference(before: str, after: str) -> str:
    """Return the lines that a fault changes."""
    pairs = zip(before.splitlines(), after.splitlines(), strict=False)
    return "\n".join(f"    - {old.strip()}\n    + {new.strip()}" for old, new in pairs if old != new)


def main(mutants: int = 120, seed: int = 1) -> int:
    faults = [fault for module in PARTS for fault in faults_of(module)]
    drawn = sample(faults, mutants, random.Random(seed))
    print(f"{len(drawn)} of {len(faults)} faults that can be made, seed {seed}", flush=True)
    found = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "checkout"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", "__pycache__", ".*_cache"))
        for number, fault in enumerate(drawn, start=1):
            began = time.monotonic()
            before, after = apply_mutation(copy / fault.module, get_operator(fault.operator)(), fault.occurrence)
            caught = is_found(copy, fault)
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
    sys.exit(main(*(int(text) for text in sys.argv[1:])))
