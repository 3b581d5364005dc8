"""A function of numbers and its derivatives as one numpy function, without the cost of carrying derivatives along.

Carrying them costs a call of Python for every number. So it is done once, and what was done is written down as code.
"""

from collections.abc import Callable
from functools import lru_cache, partial
from typing import Any

import numpy as np

from thermal_model.solver.trace import Operand, Program, traced_with_slopes

DIFFERENCE = 1e-4
"""Step of a derivative by difference [K]: balances rounding and curvature."""

SYMBOLS = {"add": "+", "subtract": "-", "multiply": "*", "divide": "/"}


@lru_cache(maxsize=128)  # a script's own laws are new functions every time
def derived(function: Callable[..., Any], argument_count: int) -> Callable[..., Any]:
    """Return what gives a function's value and its derivatives by its first two arguments.

    A law of a script's own may do whatever arrays can: one that can't be traced is derived by differences.

    Parameters
    ----------
    function : callable
    argument_count : int
        How many arguments it takes.

    Examples
    --------
    >>> [float(each) for each in derived(lambda a, b: a * b + np.sqrt(b), 2)(3.0, 4.0)]
    [14.0, 4.0, 3.25]
    """
    try:
        return _written_down(function, argument_count)
    except Exception:  # NotImplementedError of numpy's functions, or whatever Python says of a value that is no array
        return partial(_by_differences, function)


def _by_differences(function: Callable[..., Any], first: Any, second: Any, *others: Any) -> tuple[Any, Any, Any]:
    value = np.asarray(function(first, second, *others))
    by_first, by_second = (
        (np.asarray(function(first + a, second + b, *others)) - value) / DIFFERENCE
        for a, b in ((DIFFERENCE, 0.0), (0.0, DIFFERENCE))
    )
    return value, by_first, by_second


def _written_down(function: Callable[..., Any], argument_count: int) -> Callable[..., Any]:
    """Return the same as straight code.

    Raises
    ------
    Exception
        If the function does what can't be traced or derived.
    """
    names = [f"given_{number}" for number in range(argument_count)]
    program, results = traced_with_slopes(function, names)
    lines = [f"def computed({', '.join(names)}):", *_statements(program, results)]
    scope: dict[str, Any] = {"inf": np.inf} | {operation: getattr(np, operation) for operation, _ in program.operations}
    exec("\n".join(lines), scope)
    computed: Callable[..., Any] = scope["computed"]
    return computed


def _statements(program: Program, results: tuple[Operand, ...]) -> list[str]:
    """Return a program in Python; a name is used again once its value is no longer needed, so that arrays are freed."""
    last_use = {operand: number for number, (_, operands) in enumerate(program.operations) for operand in operands}
    last_use.update(dict.fromkeys(results, len(program.operations)))
    names: dict[Operand, str] = {}
    free: list[str] = []
    found = []
    for number, (operation, operands) in enumerate(program.operations):
        expression = _expression(operation, [names.get(each, str(each)) for each in operands])
        free += [names[each] for each in dict.fromkeys(operands) if each in names and last_use[each] == number]
        result = f"#{number}"
        if result in last_use:
            names[result] = free.pop() if free else f"value_{number}"
            found.append(f"    {names[result]} = {expression}")
    told = ", ".join(names.get(each, str(each)) for each in results)
    return [*found, f"    return {told}"]


def _expression(operation: str, operands: list[str]) -> str:
    if operation in SYMBOLS:
        return f"{operands[0]} {SYMBOLS[operation]} {operands[1]}"
    return f"{operation}({', '.join(operands)})"
