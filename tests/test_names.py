"""One meaning a name: no two classes of the packages share one."""

import ast
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).parents[1]
OF_ONE_COMMAND = {"Asked", "Wanted"}
"""What a command is asked; never seen beside that of another."""


def classes() -> dict[str, list[str]]:
    """Files of the public classes, by name."""
    found: dict[str, list[str]] = defaultdict(list)
    for package in ("geometries", "thermal_model"):
        for path in sorted((ROOT / package).rglob("*.py")):
            for node in ast.parse(path.read_text()).body:
                if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                    found[node.name].append(str(path.relative_to(ROOT)))
    return found


def test_every_class_has_a_name_of_its_own() -> None:
    found = classes()
    assert len(found) > 200
    assert {name: files for name, files in found.items() if len(files) > 1 and name not in OF_ONE_COMMAND} == {}
