"""What a function of numbers does, as a list of operations: it is called once with values that note what is done.

So neither compiled code nor a law's derivatives need a second copy of any physics. A function must be made of numpy's
functions of numbers and of `np.where`; loops over constants, such as Horner's rule, unroll by themselves.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

from thermal_model.solver.tangents import Tangent, value_and_slopes

ARITHMETIC = ("add", "subtract", "multiply", "divide", "negative", "maximum", "minimum", "sqrt", "absolute")
CHOICE = ("greater", "greater_equal", "less", "less_equal", "equal", "bitwise_and", "bitwise_or", "where")
BITS = ("bits", "number", "left_shift", "right_shift")
FUNCTIONS = ("exp", "log", "cbrt", "power")
KNOWN = {*ARITHMETIC, *CHOICE, *BITS, *FUNCTIONS}
"""Operations by the names of numpy's functions; `bits` and `number` read a number's bits as an integer and back."""

WrittenOut = Mapping[str, Callable[..., Any]]
"""Functions that are traced in place of numpy's of that name."""

Operand = int | float | str
"""A constant, or the name of an input or of an earlier operation's result."""


@dataclass
class Program:
    """Operations one after the other, each a name and its operands; done twice to the same values, it stands once."""

    written_out: WrittenOut = field(default_factory=dict)
    operations: list[tuple[str, tuple[Operand, ...]]] = field(default_factory=list)
    _results: dict[tuple[str, tuple[Operand, ...]], str] = field(default_factory=dict)

    def note(self, operation: str, *values: Any) -> "Traced":
        """Return the result of an operation."""
        if operation not in KNOWN:
            raise NotImplementedError(f"np.{operation} can't be traced")
        if operation == "divide" and isinstance(values[1], (int, float)):
            operation, values = "multiply", (values[0], 1.0 / values[1])  # a division takes as long as eight products
        step = operation, tuple(_operand(value) for value in values)
        if step not in self._results:
            self._results[step] = f"#{len(self.operations)}"
            self.operations.append(step)
        return Traced(self, self._results[step])

    def arms(self, *results: Operand) -> dict[tuple[int, int], list[int]]:
        """Return the operations that only one value of a choice needs, by the choice's number and the value's place.

        Examples
        --------
        >>> program, result = traced(lambda a, b: np.where(a > b, a * a + b, 2.0 * b), ["a", "b"])
        >>> program.arms(result)
        {(4, 1): [1, 2], (4, 2): [3]}
        """
        users: dict[Operand, set[int]] = {result: {len(self.operations)} for result in results}
        for number, (_, operands) in enumerate(self.operations):
            for operand in operands:
                users.setdefault(operand, set()).add(number)
        found = {}
        for number, (operation, operands) in enumerate(self.operations):
            for place in (1, 2) if operation == "where" else ():
                only = self._only_for(number, operands[place], users) if operands.count(operands[place]) == 1 else []
                if only:
                    found[number, place] = only
        return found

    def _only_for(self, user: int, value: Operand, users: dict[Operand, set[int]]) -> list[int]:
        """Return the operations whose results only one operation needs, for one of its operands."""
        if not str(value).startswith("#") or users[value] != {user}:
            return []
        only = {int(str(value)[1:])}
        for number in range(max(only) - 1, -1, -1):
            if users.get(f"#{number}", {user}) <= only:
                only.add(number)
        return sorted(only)


class Traced(NDArrayOperatorsMixin):
    """A value of which only the name is known."""

    def __init__(self, program: Program, name: str) -> None:
        self.program, self.name = program, name

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **_: Any) -> Any:
        """Note a numpy function; in-place operations give a new value. What carries derivatives knows its own way."""
        if any(isinstance(value, Tangent) for value in inputs):
            return NotImplemented
        if method != "__call__":
            raise NotImplementedError(f"np.{ufunc.__name__}.{method} can't be traced")
        if ufunc.__name__ in self.program.written_out:
            return self.program.written_out[ufunc.__name__](*inputs)
        return self.program.note(ufunc.__name__, *inputs)

    def __array_function__(self, function: Any, kinds: Any, arguments: Sequence[Any], options: Any) -> Any:
        """Note `np.where`; `np.all`, which asks for a shortcut that suits all lanes, gets no for an answer."""
        if Tangent in kinds:
            return NotImplemented
        if function is np.all:
            return False
        if options:
            raise NotImplementedError(f"np.{function.__name__} with options can't be traced")
        return self.program.note(function.__name__, *arguments)

    def __bool__(self) -> bool:
        """Refuse to choose a way for all lanes at once."""
        raise NotImplementedError("a branch on values can't be traced")

    def bits(self) -> "Traced":
        """Return the number's bits, an integer."""
        return self.program.note("bits", self)

    def number(self) -> "Traced":
        """Return the number that has these bits."""
        return self.program.note("number", self)


def _operand(value: Any) -> Operand:
    if isinstance(value, Traced):
        return value.name
    return value if isinstance(value, int) and not isinstance(value, bool) else float(value)


NOTHING: WrittenOut = {}


def traced(
    function: Callable[..., Any], inputs: Sequence[str], written_out: WrittenOut = NOTHING
) -> tuple[Program, Operand]:
    """Trace a function of numbers.

    Parameters
    ----------
    function : callable
    inputs : sequence of str
        Names of its arguments.
    written_out : mapping of str to callable

    Returns
    -------
    program : Program
    result : Operand
        What the function returns.

    Raises
    ------
    NotImplementedError
        If it does what can't be traced.

    Examples
    --------
    >>> program, result = traced(lambda a, b: np.maximum(2.0 * a, b) + 2.0 * a, ["a", "b"])
    >>> program.operations
    [('multiply', (2.0, 'a')), ('maximum', ('#0', 'b')), ('add', ('#1', '#0'))]
    >>> result
    '#2'
    """
    program = Program(written_out)
    return program, _operand(function(*(Traced(program, name) for name in inputs)))


def traced_with_slopes(
    function: Callable[..., Any], inputs: Sequence[str], written_out: WrittenOut = NOTHING
) -> tuple[Program, tuple[Operand, ...]]:
    """Trace a function of numbers and its derivatives by its first two arguments, which are results two and three."""
    program = Program(written_out)
    results = value_and_slopes(function, *(Traced(program, name) for name in inputs))
    return program, tuple(_operand(result) for result in results)
