"""Ranges in which published correlations hold, attached to them as data."""

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np

from geometries.numeric import Numeric

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
