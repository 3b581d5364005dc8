"""Imports point one way, and what is slow to import waits until it is needed."""

import ast
import importlib
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

LAYERS = (
    ("cli",),
    ("workbench",),
    ("api",),
    ("bundle",),
    ("report",),
    ("judge", "plan", "reasons"),
    ("study", "bench"),
    ("gradients", "batch"),
    ("prediction",),
    ("uncertainty", "follow"),
    ("assemble",),
    ("scenario", "unknowns", "room_file"),
    ("words", "csv_columns", "version", "work_done"),
    ("solver",),
    ("properties",),
    ("physics",),
)
"""From the command down to physics: each layer imports from those below it, and within itself."""


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


@pytest.mark.parametrize("place", range(len(LAYERS)))
def test_imports_point_down(place: int) -> None:
    above = inside(*(name for layer in LAYERS[:place] for name in layer))
    assert breaches(inside(*LAYERS[place]), above) == []


def test_every_module_has_a_layer() -> None:
    heads = {name.split(".")[1] for name in MODULES if name.startswith("thermal_model.")}
    assert heads == {name for layer in LAYERS for name in layer}


def test_the_solver_knows_no_container() -> None:
    assert breaches(inside("solver"), ("geometries",), ("geometries.numeric",)) == []


def test_nothing_but_the_command_imports_the_command() -> None:
    others = tuple(name for name in MODULES if name != "thermal_model" and not within(name, "thermal_model.cli"))
    assert breaches(tuple(n for n in others if n.count(".") >= 1), ("thermal_model.cli",)) == []


@pytest.mark.parametrize(
    "module",
    [
        "physics",
        "properties",
        *(f"solver.{n}" for n in ("rates", "laws", "engine", "stepping", "steppers", "scatter", "elimination")),
    ],
)
def test_slow_libraries_wait(module: str) -> None:
    for name, path in modules_of(f"thermal_model.{module}").items():
        heads = {target.split(".")[0] for target in imports(path, at_module_level=True)}
        assert not heads & SLOW, name


CHECKED_AS_IT_IS_MADE = {"geometries.container": {"geometries.checks", "geometries.unsure"}}
"""A container is checked as it is made, and the checks measure containers: the one pair that needs each other."""


def test_no_circles() -> None:
    graph = {
        name: {target for target in imports(path) if target in MODULES and target != name}
        - CHECKED_AS_IT_IS_MADE.get(name, set())
        for name, path in MODULES.items()
    }
    while leaves := {name for name, targets in graph.items() if not targets}:
        graph = {name: targets - leaves for name, targets in graph.items() if name not in leaves}
    assert graph == {}


PUBLIC = ("geometries", "thermal_model")
"""Packages that offer names; every other one is empty but for its docstring."""

OFFER = "import lazy_loader\n__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)"


def test_packages_are_empty_or_offer_the_names_of_their_stub() -> None:
    for name, path in MODULES.items():
        if path.name == "__init__.py":
            docstring, *rest = ast.parse(path.read_text()).body
            assert isinstance(docstring, ast.Expr), path
            assert "\n".join(map(ast.unparse, rest)) == (OFFER if name in PUBLIC else ""), path
            assert path.with_suffix(".pyi").exists() == (name in PUBLIC), path


@pytest.mark.parametrize("package", PUBLIC)
def test_a_stub_only_says_where_names_are(package: str) -> None:
    stub = ast.parse((ROOT / package / "__init__.pyi").read_text())
    for statement in stub.body:
        assert isinstance(statement, ast.ImportFrom)
        assert statement.level == 1
        assert f"{package}.{statement.module}" in MODULES
        assert all(alias.asname == alias.name for alias in statement.names)


def test_nothing_inside_goes_through_the_public_names() -> None:
    offered = {f"{package}.{name}" for package in PUBLIC for name in importlib.import_module(package).__all__}
    assert offered
    found = [f"{name} imports {target}" for name, path in MODULES.items() for target in imports(path)]
    assert [line for line in found if line.rpartition(" ")[2] in offered] == []


def test_the_command_starts_without_slow_libraries() -> None:
    code = "import sys, thermal_model.cli.main; print(*{name.split('.')[0] for name in sys.modules})"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "typer" in loaded
    assert not loaded & {"scipy", "matplotlib", "CoolProp", "pint", "numba"}
