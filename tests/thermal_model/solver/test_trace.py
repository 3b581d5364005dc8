"""A traced law does what the law does, and what can't be traced is refused."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from thermal_model.solver.compiled.vector_math import DOUBLE
from thermal_model.solver.laws import LAWS, Law
from thermal_model.solver.trace import Operand, Program, Traced, WrittenOut, traced

NUMPY = {
    "add": np.add,
    "subtract": np.subtract,
    "multiply": np.multiply,
    "divide": np.divide,
    "negative": np.negative,
    "maximum": np.maximum,
    "minimum": np.minimum,
    "sqrt": np.sqrt,
    "exp": np.exp,
    "log": np.log,
    "cbrt": np.cbrt,
    "power": np.power,
    "absolute": np.absolute,
    "greater": np.greater,
    "greater_equal": np.greater_equal,
    "less": np.less,
    "less_equal": np.less_equal,
    "equal": np.equal,
    "bitwise_and": np.bitwise_and,
    "bitwise_or": np.bitwise_or,
    "left_shift": np.left_shift,
    "right_shift": np.right_shift,
    "where": np.where,
    "bits": DOUBLE.bits_of,
    "number": DOUBLE.number_of,
}


def run(program: Program, result: Operand, inputs: dict[str, Any]) -> Any:
    """Carry a program out with numpy."""
    values = dict(inputs)

    def value(operand: Operand) -> Any:
        return values[operand] if isinstance(operand, str) else operand

    for number, (operation, operands) in enumerate(program.operations):
        values[f"#{number}"] = NUMPY[operation](*(value(operand) for operand in operands))
    return value(result)


@pytest.mark.parametrize("written_out", [{}, DOUBLE.written_out], ids=["numpy", "written out"])
@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_traced_law_is_the_law(law: Law, written_out: WrittenOut) -> None:
    generator = np.random.default_rng(1)
    ends = generator.uniform(274.0, 372.0, (2, 200))
    parameters = generator.uniform(0.05, 1.0, (len(law.parameters), 200))
    names = ["start", "end", *law.parameters]
    program, result = traced(law.flow, names, written_out)
    inputs = dict(zip(names, [*ends, *parameters], strict=True))
    expected = law.flow(*inputs.values())
    np.testing.assert_allclose(run(program, result, inputs), expected, rtol=1e-9, atol=1e-12)


def test_what_is_done_twice_is_noted_once() -> None:
    program, _ = traced(lambda x: np.sqrt(x) + np.sqrt(x), ["x"])
    assert [operation for operation, _ in program.operations] == ["sqrt", "add"]


def test_every_law_is_found() -> None:
    assert {law.name for law in LAWS} >= {"conduction", "vertical_face", "headspace_film", "vent_exchange"}
    assert len({law.name for law in LAWS}) == len(LAWS)


def _sum(x: Traced) -> Any:
    return np.add.reduce(x)  # type: ignore[call-overload]


@pytest.mark.parametrize(
    "function",
    [np.sin, np.median, np.ravel, _sum, lambda x: np.clip(x, 0.0, 1.0, out=x), lambda x: x if x > 0.0 else -x],
)
def test_what_has_no_operation_is_refused_by_name(function: Callable[..., Any]) -> None:
    with pytest.raises(NotImplementedError, match="can't be traced"):
        traced(function, ["x"])
