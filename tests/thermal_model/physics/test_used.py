"""Every function of physics and properties serves a mechanism of the model: none stands there for checks alone."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
FILES = [path for package in ("geometries", "thermal_model") for path in sorted((ROOT / package).rglob("*.py"))]


def public_functions(folder: str) -> dict[str, str]:
    """Name and file of every public function of a folder of thermal_model."""
    return {
        node.name: path.name
        for path in sorted((ROOT / "thermal_model" / folder).glob("*.py"))
        for node in ast.parse(path.read_text()).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    }


def names_used() -> set[str]:
    """Names that code reads, imports and definitions apart; docstrings do not count."""
    trees = [ast.parse(path.read_text()) for path in FILES]
    return {
        node.id if isinstance(node, ast.Name) else node.attr
        for tree in trees
        for node in ast.walk(tree)
        if isinstance(node, ast.Name | ast.Attribute)
    }


@pytest.mark.parametrize("folder", ["physics", "properties"])
def test_every_function_is_used(folder: str) -> None:
    functions = public_functions(folder)
    assert functions
    used = names_used()
    assert {name: file for name, file in functions.items() if name not in used} == {}
