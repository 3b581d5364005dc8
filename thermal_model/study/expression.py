"""A user's own figure of a design, such as its cost, from masses, counts and sizes: arithmetic and nothing else.

    14*wall_kg + 9*lid_kg + 0.6*seals + 1.5*shields

The text is parsed, every part of it is looked at, and what is not arithmetic is refused; nothing of it is run as code.
"""

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries import container as geometry
from geometries.container import Container
from geometries.errors import InputError, nearest_hint
from geometries.lid import PocketLayer
from geometries.numeric import Numeric

LONGEST, DEEPEST = 500, 40
"""Of an expression: letters, and levels of its parts."""

Figure = Callable[[Container], Numeric]


def _counted(count: Callable[[Container], int]) -> Figure:
    return lambda container: float(count(container))


FIGURES: dict[str, Figure] = {
    "mass_kg": geometry.empty_mass,
    "wall_kg": geometry.wall_mass,
    "lid_kg": geometry.lid_mass,
    "fittings_kg": geometry.fittings_mass,
    "layers": _counted(lambda c: 0 if c.lid is None else len(c.lid.layers)),
    "pockets": _counted(
        lambda c: 0 if c.lid is None else sum(isinstance(layer, PocketLayer) for layer in c.lid.layers)
    ),
    "plugs": _counted(lambda c: int(c.lid is not None and c.lid.plug is not None)),
    "seals": _counted(lambda c: 0 if c.lid is None else len(c.lid.seals)),
    "holes": _counted(lambda c: 0 if c.lid is None else len(c.lid.openings)),
    "shields": _counted(lambda c: 0 if c.body.gap is None else c.body.gap.shields),
    "walls": _counted(lambda c: 1 if c.body.gap is None else 2),
    "mouth_mm": lambda c: 2e3 * c.body.mouth_radius,
    "diameter_mm": lambda c: 1e3 * geometry.outside_diameter(c),
    "height_mm": lambda c: 1e3 * geometry.total_height(c),
    "capacity_L": lambda c: 1e3 * geometry.closed_capacity(c),
}
"""What an expression may name; each takes containers of n lanes."""

_BINARY: dict[type[ast.operator], Callable[[Any, Any], Any]] = {
    ast.Add: np.add,
    ast.Sub: np.subtract,
    ast.Mult: np.multiply,
    ast.Div: np.divide,
    ast.Pow: np.power,
}
_UNARY: dict[type[ast.unaryop], Callable[[Any], Any]] = {ast.UAdd: np.positive, ast.USub: np.negative}
_CALLS: dict[str, Callable[[Any, Any], Any]] = {"min": np.minimum, "max": np.maximum}


@dataclass(frozen=True)
class Expression:
    """Arithmetic on the figures of a design.

    Attributes
    ----------
    text : str
        As typed.
    """

    text: str

    def of(self, container: Container) -> Numeric:
        """Return its value for containers of n lanes; NaN where there is none, as one over zero."""
        tree = ast.parse(self.text, mode="eval").body
        with np.errstate(all="ignore"):
            value = np.asarray(_value(tree, container), dtype=float)
        return np.where(np.isfinite(value), value, np.nan)


def read_expression(text: str, source: str) -> Expression:
    """Return the expression that a text describes.

    Raises
    ------
    InputError
        If it is not arithmetic, or names something that a design does not have.

    Examples
    --------
    >>> from geometries.design_file import load_container
    >>> float(read_expression("2*layers + seals**2", "--cost").of(load_container("slim_neck_double_seal")))
    10.0
    """
    text = text.strip()
    if len(text) > LONGEST:
        raise InputError(f"is longer than {LONGEST} letters; shorten it", source=source)
    try:
        tree = ast.parse(text, mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        raise _refused(text, "is not arithmetic", source) from None
    for problem in _problems(tree, 0):
        raise _refused(text, problem, source)
    return Expression(text)


def _refused(text: str, problem: str, source: str) -> InputError:
    return InputError(f"'{text}' {problem}; write for example 14*wall_kg + 9*lid_kg + 0.6*seals", source=source)


def _problems(node: ast.expr, depth: int) -> Iterator[str]:
    """Yield what is not arithmetic in a part of an expression."""
    if depth > DEEPEST:
        yield "has too many brackets in each other"
        return
    below: list[ast.expr] = []
    if isinstance(node, ast.BinOp) and type(node.op) in _BINARY:
        below = [node.left, node.right]
    elif isinstance(node, ast.UnaryOp) and type(node.op) in _UNARY:
        below = [node.operand]
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _CALLS:
        below = list(node.args)
        if len(below) != 2 or node.keywords:
            yield f"is not arithmetic: {node.func.id} takes two numbers"
    elif isinstance(node, ast.Name):
        if node.id not in FIGURES:
            yield f"names '{node.id}'; {nearest_hint(node.id, FIGURES)}allowed: {', '.join(FIGURES)}"
    elif not (isinstance(node, ast.Constant) and type(node.value) in (int, float) and _is_sensible(node.value)):
        yield "is not arithmetic: numbers, names, + - * / **, brackets, min and max are"
    for part in below:
        yield from _problems(part, depth + 1)


def _is_sensible(value: Any) -> bool:
    return abs(value) < 1e15


def _value(node: ast.expr, container: Container) -> Any:
    if isinstance(node, ast.BinOp):
        return _BINARY[type(node.op)](_value(node.left, container), _value(node.right, container))
    if isinstance(node, ast.UnaryOp):
        return _UNARY[type(node.op)](_value(node.operand, container))
    if isinstance(node, ast.Call):
        assert isinstance(node.func, ast.Name)
        return _CALLS[node.func.id](*(_value(part, container) for part in node.args))
    if isinstance(node, ast.Name):
        return FIGURES[node.id](container)
    assert isinstance(node, ast.Constant)
    return float(node.value)  # type: ignore[arg-type]
