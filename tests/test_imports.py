"""Imports point one way, and what is slow to import waits until it is needed."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for package in ("geometries", "thermal_model")
    for path in sorted((ROOT / package).rglob("*.py"))
}

SLOW = {"scipy", "matplotlib", "CoolProp", "pint", "pydantic", "numba", "llvmlite"}
UPPER = ("assemble", "scenario", "predict", "uncertainty", "plots", "cli")
NUMERIC_CORE = ("network", "laws", "rates", "scatter", "elimination", "rosenbrock", "stepping", "compiled")


def imports(path: Path, *, at_module_level: bool = False) -> Iterator[str]:
    """Full names of what a module imports; at module level, without what stands in functions."""
    tree = ast.parse(path.read_text())
    for node in _outside_functions(tree) if at_module_level else ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide where they point"
            yield str(node.module)
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _outside_functions(node: ast.AST) -> Iterator[ast.AST]:
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            yield child
            yield from _outside_functions(child)


def within(name: str, package: str) -> bool:
    return name == package or name.startswith(f"{package}.")


def modules_of(*packages: str) -> dict[str, Path]:
    found = {name: path for name, path in MODULES.items() if any(within(name, p) for p in packages)}
    assert found, packages
    return found


def breaches(packages: tuple[str, ...], forbidden: tuple[str, ...], allowed: tuple[str, ...] = ()) -> list[str]:
    return [
        f"{name} imports {target}"
        for name, path in modules_of(*packages).items()
        for target in imports(path)
        if any(within(target, f) for f in forbidden) and not any(within(target, a) for a in allowed)
    ]


def inside(*names: str) -> tuple[str, ...]:
    return tuple(f"thermal_model.{name}" for name in names)


def test_geometries_hold_no_heat() -> None:
    assert breaches(("geometries",), ("thermal_model",)) == []


# `thermal_model` itself is the package name that `from thermal_model import physics` writes first.
def test_physics_rests_on_nothing_but_physics() -> None:
    assert breaches(inside("physics"), ("thermal_model",), ("thermal_model.physics",)) == []


def test_properties_rest_on_physics_only() -> None:
    assert breaches(inside("properties"), ("thermal_model",), inside("physics", "properties")) == []


def test_numeric_core_knows_no_container_and_no_scenario() -> None:
    assert breaches(inside(*NUMERIC_CORE), inside(*UPPER)) == []
    assert breaches(inside(*NUMERIC_CORE), ("geometries",), ("geometries.numeric",)) == []


def test_solvers_know_no_container_and_no_scenario() -> None:
    assert breaches(inside("engine", "solve"), inside(*UPPER)) == []


def test_assemble_does_not_solve() -> None:
    assert breaches(inside("assemble"), inside("engine", "solve", "predict", "uncertainty", "plots", "cli")) == []


def test_scenario_is_an_input() -> None:
    later = ("assemble", "network", "rates", "engine", "solve", "predict", "uncertainty", "plots", "cli")
    assert breaches(inside("scenario"), inside(*later)) == []


def test_prediction_knows_no_question_no_report_and_no_command() -> None:
    assert breaches(inside("predict", "uncertainty", "batch"), inside("cli", "report", "study", "decide")) == []


def test_questions_know_no_report() -> None:
    assert breaches(inside("study", "decide"), inside("cli", "report")) == []


def test_nothing_but_the_command_imports_the_command() -> None:
    others = tuple(name for name in MODULES if name != "thermal_model" and not within(name, "thermal_model.cli"))
    assert breaches(tuple(n for n in others if n.count(".") >= 1), ("thermal_model.cli",)) == []


@pytest.mark.parametrize(
    "module", ["physics", "properties", "rates", "laws", "engine", "stepping", "steppers", "scatter", "elimination"]
)
def test_slow_libraries_wait(module: str) -> None:
    for name, path in modules_of(f"thermal_model.{module}").items():
        heads = {target.split(".")[0] for target in imports(path, at_module_level=True)}
        assert not heads & SLOW, name


def test_no_circles() -> None:
    graph = {
        name: {target for target in imports(path, at_module_level=True) if target in MODULES and target != name}
        for name, path in MODULES.items()
    }
    while leaves := {name for name, targets in graph.items() if not targets}:
        graph = {name: targets - leaves for name, targets in graph.items() if name not in leaves}
    assert graph == {}


def test_packages_are_empty() -> None:
    for path in MODULES.values():
        if path.name == "__init__.py":
            body = ast.parse(path.read_text()).body
            assert [type(statement) for statement in body] == [ast.Expr], path


def test_the_command_starts_without_slow_libraries() -> None:
    code = "import sys, thermal_model.cli.main; print(*{name.split('.')[0] for name in sys.modules})"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "typer" in loaded
    assert not loaded & {"scipy", "matplotlib", "CoolProp", "pint", "numba"}
