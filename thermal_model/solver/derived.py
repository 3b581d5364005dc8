"""A function of numbers and its derivatives as one numpy function, without the cost of carrying derivatives along.

Carrying them costs a call of Python for every number. So it is done once, and what was done is written down as code.
"""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np

from thermal_model.solver.trace import Operand, Program, traced_with_slopes

SYMBOLS = {"add": "+", "subtract": "-", "multiply": "*", "divide": "/"}


@lru_cache(maxsize=128)  # a script's own laws are new functions every time
def derived(function: Callable[..., Any], argument_count: int) -> Callable[..., Any]:
    """Return what gives a function's value and its derivatives by its first two arguments.

    Parameters
    ----------
    function : callable
    argument_count : int
        How many arguments it takes.

    Raises
    ------
    Exception
        If it does what can't be traced or derived: NotImplementedError of numpy's functions, or what Python raises.

    Examples
    --------
    >>> [float(each) for each in derived(lambda a, b: a * b + np.sqrt(b), 2)(3.0, 4.0)]
    [14.0, 4.0, 3.25]
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
