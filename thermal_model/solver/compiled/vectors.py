"""Traced functions as vector instructions: each runs on WIDTH lanes at once, called from code that numba compiles.

Numba turns loops into vector code only where its compiler sees that it may; here the instructions are written out. The
arrays that an operation is called with say in which format of numbers it is done.
"""

import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

from thermal_model.solver.compiled.arguments import WIDTH
from thermal_model.solver.compiled.vector_math import DOUBLE, SINGLE, VectorMath
from thermal_model.solver.laws import Law
from thermal_model.solver.trace import Operand, Program, traced, traced_with_slopes

_PLACE = ir.IntType(64)
_COMPARISONS = {"greater": ">", "greater_equal": ">=", "less": "<", "less_equal": "<=", "equal": "=="}
_MAY_FUSE = ("contract",)
"""A product and a sum may become one instruction: every lane runs the same code, so results stay the same."""


@dataclass(frozen=True)
class _Format:
    """How numbers of one format, and their bits, are written in vectors."""

    math: VectorMath
    number: Any
    integer: Any

    @property
    def numbers(self) -> Any:
        return ir.VectorType(self.number, WIDTH)

    @property
    def integers(self) -> Any:
        return ir.VectorType(self.integer, WIDTH)

    def row(self, context: Any, builder: Any, kind: Any, array: Any, row: Any) -> Any:
        """Return the address of WIDTH numbers of a flat array."""
        return self.at(context, builder, kind, array, builder.mul(row, ir.Constant(_PLACE, WIDTH)))

    def at(self, context: Any, builder: Any, kind: Any, array: Any, place: Any) -> Any:
        """Return the address of WIDTH numbers that begin at a place."""
        data = context.make_array(kind)(context, builder, array).data
        return builder.bitcast(builder.gep(data, [place]), self.numbers.as_pointer())

    def load(self, builder: Any, address: Any) -> Any:
        value = builder.load(address)
        value.align = self.integer.width // 8
        return value

    def store(self, builder: Any, value: Any, address: Any) -> None:
        builder.store(value, address).align = self.integer.width // 8


_FORMATS = {
    types.float64: _Format(DOUBLE, ir.DoubleType(), ir.IntType(64)),
    types.float32: _Format(SINGLE, ir.FloatType(), ir.IntType(32)),
}


WORTH_A_BRANCH = 12
"""Operations that are left out where no lane needs them; fewer are done sooner than asked about."""


class _Code:
    """Writes a program's operations with an LLVM builder.

    What only one value of a choice needs is done only if a lane needs it: what a lane gets is the same either way.
    """

    def __init__(self, builder: Any, form: _Format, inputs: dict[str, Any]) -> None:
        self.builder, self.form, self.values = builder, form, dict(inputs)

    def run(self, program: Program, *results: Operand) -> list[Any]:
        """Return the vectors of the results."""
        arms = {arm: only for arm, only in program.arms(*results).items() if len(only) >= WORTH_A_BRANCH}
        self._write(program, arms, range(len(program.operations)))
        return [self._value(result, self.form.numbers) for result in results]

    def _write(self, program: Program, arms: dict[tuple[int, int], list[int]], numbers: Sequence[int]) -> None:
        later = {inner for (choice, _), only in arms.items() if choice in numbers for inner in only}
        for number in numbers:
            if number in later:
                continue
            operation, operands = program.operations[number]
            for place in (1, 2):
                if (number, place) in arms:
                    needed = self.values[str(operands[0])]
                    needed = needed if place == 1 else self.builder.not_(needed)
                    name = str(operands[place])
                    self.values[name] = self._if_any(needed, program, arms, arms[number, place], name)
            self.values[f"#{number}"] = self._result(operation, operands)

    def _if_any(
        self, needed: Any, program: Program, arms: dict[tuple[int, int], list[int]], numbers: Sequence[int], name: str
    ) -> Any:
        """Return the vector of a value that is computed if any lane needs it, else zeros."""
        build = self.builder
        lanes = ir.IntType(WIDTH)
        before, any_lane = build.block, build.icmp_unsigned("!=", build.bitcast(needed, lanes), lanes(0))
        with build.if_then(any_lane):
            self._write(program, arms, numbers)
            value, inside = self.values[name], build.block
        either = build.phi(value.type)
        either.add_incoming(value, inside)
        either.add_incoming(ir.Constant(value.type, [0] * WIDTH), before)
        return either

    def _value(self, operand: Operand, kind: Any) -> Any:
        if isinstance(operand, str):
            return self.values[operand]
        number = int(operand) if kind == self.form.integers else float(operand)
        return ir.Constant(kind, [number] * WIDTH)

    def _result(self, operation: str, operands: tuple[Operand, ...]) -> Any:
        kinds = [self.values[operand].type for operand in operands if isinstance(operand, str)]
        numbers, integers = self.form.numbers, self.form.integers
        kind = integers if integers in kinds and operation not in ("number", "bits") else numbers
        values = [self._value(operand, kind) for operand in operands]
        build = self.builder
        if operation in _COMPARISONS:
            return build.fcmp_ordered(_COMPARISONS[operation], *values)
        if operation == "where":
            return build.select(*values)
        # A comparison with NaN is false: so the first value, where a law has what it computed, keeps its NaN.
        if operation == "maximum":
            return build.select(build.fcmp_ordered("<", *values), values[1], values[0])
        if operation == "minimum":
            return build.select(build.fcmp_ordered(">", *values), values[1], values[0])
        if operation in ("sqrt", "absolute"):
            name = f"llvm.{'sqrt' if operation == 'sqrt' else 'fabs'}.v{WIDTH}f{self.form.integer.width}"
            function = cgutils.get_or_insert_function(build.module, ir.FunctionType(numbers, [numbers]), name)
            return build.call(function, values)
        if operation == "bits":
            return build.bitcast(values[0], integers)
        if operation == "number":
            return build.bitcast(values[0], numbers)
        return self._arithmetic(operation, values, kind == integers)

    def _arithmetic(self, operation: str, values: list[Any], is_integer: bool) -> Any:
        build = self.builder
        whole = {
            "add": build.add,
            "subtract": build.sub,
            "left_shift": build.shl,
            "right_shift": build.ashr,
        }
        logical = {"bitwise_and": build.and_, "bitwise_or": build.or_}
        floating = {"add": build.fadd, "subtract": build.fsub, "multiply": build.fmul, "divide": build.fdiv}
        if operation in logical:
            return logical[operation](*values)
        if operation == "negative":
            return build.fneg(*values)
        if is_integer:
            return whole[operation](*values)
        return floating[operation](*values, flags=_MAY_FUSE)


def operation(function: Callable[..., Any]) -> Any:
    """Return an operation on rows of WIDTH numbers, for numba to call.

    It is called with a flat array and a row's number for each argument; the result goes into the first one's row.

    Parameters
    ----------
    function : callable
        Traced.
    """
    inputs = tuple(inspect.signature(function).parameters)

    def typed(*arguments: Any) -> Any:
        form = _FORMATS[arguments[0].dtype]
        program, result = traced(function, inputs, form.math.written_out)

        def code(target: Any, builder: Any, signature: Any, values: Any) -> Any:
            addresses = [
                form.row(target, builder, signature.args[k], values[k], values[k + 1]) for k in range(0, len(values), 2)
            ]
            vectors = {name: form.load(builder, address) for name, address in zip(inputs, addresses, strict=True)}
            form.store(builder, _Code(builder, form, vectors).run(program, result)[0], addresses[0])
            return target.get_dummy_value()

        return types.void(*arguments), code

    names = ", ".join(f"array_{k}, row_{k}" for k in range(len(inputs)))  # numba wants every argument named
    return _intrinsic(typed, names)


def _intrinsic(typed: Callable[..., Any], names: str) -> Any:
    scope: dict[str, Any] = {"typed": typed}
    exec(f"def call(context, {names}): return typed({names})", scope)
    return intrinsic(scope["call"])


def law_operation(law: Law, targets: Sequence[str]) -> Any:
    """Return a law as an operation on one link and WIDTH lanes, for numba to call.

    It is called with (temperatures, start row, end row, parameters, their place, targets, flow row), the arrays flat;
    parameters lie one after the other, WIDTH lanes of each.

    Parameters
    ----------
    law : Law
    targets : sequence of str
        Names of the arrays that take the flow and, if there are three, what that changes by either temperature.
    """
    inputs = ["start", "end", *law.parameters]

    def typed(*arguments: Any) -> Any:
        form = _FORMATS[arguments[0].dtype]
        results: Sequence[Operand]
        if len(targets) == 3:
            program, results = traced_with_slopes(law.flow, inputs, form.math.written_out)
        else:
            program, *results = traced(law.flow, inputs, form.math.written_out)

        def code(target: Any, builder: Any, signature: Any, values: Any) -> Any:
            kinds, (temperatures, start, end, given, place, *arrays, row) = signature.args, values
            vectors = {}
            for name, node in (("start", start), ("end", end)):
                vectors[name] = form.load(builder, form.row(target, builder, kinds[0], temperatures, node))
            for k, name in enumerate(law.parameters):
                here = builder.add(place, ir.Constant(_PLACE, k * WIDTH))
                vectors[name] = form.load(builder, form.at(target, builder, kinds[3], given, here))
            found = _Code(builder, form, vectors).run(program, *results)
            for kind, array, value in zip(kinds[5:], arrays, found, strict=False):
                form.store(builder, value, form.row(target, builder, kind, array, row))
            return target.get_dummy_value()

        return types.void(*arguments), code

    names = ", ".join(["temperatures", "start", "end", "given", "place", *targets, "row"])
    return _intrinsic(typed, names)
