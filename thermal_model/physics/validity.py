"""Ranges in which published correlations hold, attached to them as data."""

import inspect
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, wraps
from typing import Any, TypeVar, cast

import numpy as np

from geometries.numeric import Numeric

_Function = TypeVar("_Function", bound=Callable[..., Any])

_COLLECTED: ContextVar[dict[str, None] | None] = ContextVar("collected", default=None)
"""Where the breaches of this thread or task go; None: nobody asks."""


def valid_for(
    derived: Mapping[str, Callable[..., Numeric]] | None = None, /, **ranges: tuple[float, float]
) -> Callable[[_Function], _Function]:
    """Attach ranges to a correlation; its calls within `broken_ranges` are compared with them.

    Elsewhere nothing is checked: a correlation stands in a hot loop, and is called with values that only note what is
    done to them where code is made of it.

    Parameters
    ----------
    derived : mapping of str to callable, optional
        How a quantity that is no argument follows from arguments, which it names as its own.
    **ranges : tuple of two floats
        Lowest and highest value for each named quantity, both included; infinite where the source sets no
        bound.

    Returns
    -------
    callable
        A decorator; what it returns has the ranges as `validity`.

    Raises
    ------
    ValueError
        If a range is empty, or its quantity is neither an argument nor derived: it could not be watched.

    Examples
    --------
    >>> @valid_for(rayleigh=(1e4, 1e9))
    ... def nusselt(rayleigh):
    ...     return 0.59 * rayleigh**0.25
    >>> nusselt.validity
    {'rayleigh': (10000.0, 1000000000.0)}
    """
    for name, (low, high) in ranges.items():
        if not low < high:
            raise ValueError(f"the range of {name} is empty: {low:g} to {high:g}")

    formulas = dict(derived or {})

    def attach(function: _Function) -> _Function:
        unwatched = set(ranges) - set(formulas) - set(_arguments(function))
        if unwatched:
            raise ValueError(f"{function.__name__} has no argument {', '.join(sorted(unwatched))}")

        @wraps(function)
        def watched(*arguments: Any, **named: Any) -> Any:
            found = _COLLECTED.get()
            if found is not None:
                found.update(dict.fromkeys(_breaches(watched, arguments, named)))
            return function(*arguments, **named)

        watched.__dict__.update(validity=ranges, derived=formulas)
        return cast("_Function", watched)

    return attach


@contextmanager
def broken_ranges() -> Iterator[dict[str, None]]:
    """Collect what leaves the range of any correlation that is called within the block.

    Zeros are passed over: a zero Rayleigh number stands for a flow that is not there. A block sees the calls of its own
    thread or task alone; within another block, the inner one sees them.

    Yields
    ------
    dict
        Its keys are plain sentences, one for each bound that is broken, in the order found.

    Examples
    --------
    >>> from thermal_model.physics import free_convection
    >>> with broken_ranges() as found:
    ...     _ = free_convection.nusselt_vertical_plate_churchill_chu(3.1e13, 0.7)
    >>> list(found)
    ['rayleigh 3.1e+13 is above 1e+12 (nusselt_vertical_plate_churchill_chu)']
    """
    found: dict[str, None] = {}
    token = _COLLECTED.set(found)
    try:
        yield found
    finally:
        _COLLECTED.reset(token)


@contextmanager
def nothing_told() -> Iterator[None]:
    """Let no call within the block be watched: on the way to a result, values may leave a range for a while."""
    token = _COLLECTED.set(None)
    try:
        yield
    finally:
        _COLLECTED.reset(token)


def _breaches(function: Callable[..., Any], arguments: tuple[Any, ...], named: dict[str, Any]) -> Iterator[str]:
    """Yield a plain sentence for each bound that is broken."""
    ranges, derived = function.__dict__["validity"], function.__dict__["derived"]
    values = _signature(function).bind(*arguments, **named).arguments
    for name, formula in derived.items():
        values[name] = formula(**{argument: values[argument] for argument in _arguments(formula)})
    for name, value in values.items():
        if name in ranges:
            yield from (f"{name} {problem} ({function.__name__})" for problem in _problems(value, *ranges[name]))


@cache
def _signature(function: Callable[..., Any]) -> inspect.Signature:
    return inspect.signature(function)


def _arguments(function: Callable[..., Any]) -> tuple[str, ...]:
    code = function.__code__
    return code.co_varnames[: code.co_argcount + code.co_kwonlyargcount]


def _problems(value: Numeric, low: float, high: float) -> Iterator[str]:
    """Yield what is wrong with a value, or with the worst elements of an array; zeros are passed over."""
    numbers = np.atleast_1d(value)
    numbers = numbers[numbers != 0.0]
    if not numbers.size:
        return
    if np.any(np.isnan(numbers)):
        yield "is not a number"
        return
    smallest, largest = float(np.min(numbers)), float(np.max(numbers))
    if smallest < low:
        yield f"{smallest:.3g} is below {low:.3g}"
    if largest > high:
        yield f"{largest:.3g} is above {high:.3g}"
