"""Ranges in which published correlations hold, attached to them as data."""

import inspect
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any, TypeVar

import numpy as np

from geometries.numeric import Array, Numeric

_Function = TypeVar("_Function", bound=Callable[..., Any])


def valid_for(**ranges: tuple[float, float]) -> Callable[[_Function], _Function]:
    """Attach ranges to a correlation and return the very same function.

    The function itself never checks them: it stands in a hot loop and may be compiled. Whoever reports a
    result asks `out_of_range`.

    Parameters
    ----------
    **ranges : tuple of two floats
        Lowest and highest value for each named quantity, both included; infinite where the source sets no
        bound.

    Returns
    -------
    callable
        A decorator that sets the function's `validity`.

    Raises
    ------
    ValueError
        If a range is empty.

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

    def attach(function: _Function) -> _Function:
        function.__dict__["validity"] = ranges
        return function

    return attach


def validity(function: Callable[..., Any]) -> dict[str, tuple[float, float]]:
    """Return the ranges attached to a function; empty if it has none."""
    ranges: dict[str, tuple[float, float]] = getattr(function, "validity", {})
    return ranges


def out_of_range(function: Callable[..., Any], **values: Numeric) -> list[str]:
    """Say in plain sentences which values leave the range of a correlation.

    Parameters
    ----------
    function : callable
        A function decorated with `valid_for`.
    **values : float or array
        Values by the names used in `valid_for`; of an array the worst element is named.

    Returns
    -------
    list of str
        One sentence for each bound that is broken; empty if all is well.

    Raises
    ------
    ValueError
        If a value is named for which the function has no range.

    Examples
    --------
    >>> from thermal_model.physics.free_convection import nusselt_vertical_plate_churchill_chu
    >>> out_of_range(nusselt_vertical_plate_churchill_chu, rayleigh=3.1e13)
    ['rayleigh 3.1e+13 is above 1e+12 (nusselt_vertical_plate_churchill_chu)']
    """
    ranges = validity(function)
    unknown = [name for name in values if name not in ranges]
    if unknown:
        raise ValueError(f"{function.__name__} has no range for {', '.join(unknown)}; it has {list(ranges)}")
    return [
        f"{name} {problem} ({function.__name__})"
        for name, value in values.items()
        for problem in _problems(value, *ranges[name])
    ]


@contextmanager
def broken_ranges(*modules: ModuleType) -> Iterator[dict[str, None]]:
    """Collect what leaves the range of any correlation of some modules that is called within the block.

    Zeros are passed over: a zero Rayleigh number stands for a flow that is not there. The correlations are watched
    only here, by calls through their module, so that the hot loop stays free of checks. Not for use from several
    threads at once.

    Parameters
    ----------
    *modules : module
        Modules of `physics`.

    Yields
    ------
    dict
        Its keys are the sentences of `out_of_range`, in the order found.

    Examples
    --------
    >>> from thermal_model.physics import free_convection
    >>> with broken_ranges(free_convection) as found:
    ...     _ = free_convection.nusselt_vertical_plate_churchill_chu(3.1e13, 0.7)
    >>> list(found)
    ['rayleigh 3.1e+13 is above 1e+12 (nusselt_vertical_plate_churchill_chu)']
    """
    found: dict[str, None] = {}
    originals = [
        (module, name, function)
        for module in modules
        for name, function in vars(module).items()
        if callable(function) and validity(function)
    ]
    for module, name, function in originals:
        setattr(module, name, _watched(function, found))
    try:
        yield found
    finally:
        for module, name, function in originals:
            setattr(module, name, function)


def _watched(function: Callable[..., Any], found: dict[str, None]) -> Callable[..., Any]:
    signature, ranges = inspect.signature(function), validity(function)

    def watched(*arguments: Any, **named: Any) -> Any:
        values = signature.bind(*arguments, **named).arguments
        known = {name: _without_zeros(value) for name, value in values.items() if name in ranges}
        known = {name: value for name, value in known.items() if value.size}
        found.update(dict.fromkeys(out_of_range(function, **known)))
        return function(*arguments, **named)

    return watched


def _without_zeros(value: Numeric) -> Array:
    array = np.atleast_1d(value)
    return array[array != 0.0]


def _problems(value: Numeric, low: float, high: float) -> list[str]:
    if np.any(np.isnan(value)):
        return ["is not a number"]
    smallest, largest = float(np.min(value)), float(np.max(value))
    problems = []
    if smallest < low:
        problems.append(f"{smallest:.3g} is below {low:.3g}")
    if largest > high:
        problems.append(f"{largest:.3g} is above {high:.3g}")
    return problems
