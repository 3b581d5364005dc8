"""Numbers for a picture: hours, and no more digits than can be seen."""

import math
from collections.abc import Iterable

import numpy as np

from geometries.numeric import Array
from thermal_model.words.numbers import HOUR, MINUTE, Scale

DIGITS = 6


def number(value: float | None) -> float | None:
    """Return a number to six digits, None for one that is not finite."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{float(value):.{DIGITS}g}")


def hours(seconds: float | None) -> float | None:
    """Return hours of seconds, None for a time that is not finite."""
    return None if seconds is None else number(float(seconds) / HOUR)


def gaps(values: Iterable[float]) -> tuple[float | None, ...]:
    """Return numbers to six digits, None where there is none."""
    return tuple(number(float(value)) for value in values)


def known(values: Iterable[float]) -> tuple[float, ...]:
    """Return finite numbers to six digits."""
    return tuple(float(f"{float(value):.{DIGITS}g}") for value in values)


def shown(kelvin: Array, scale: Scale) -> tuple[float, ...]:
    """Return temperatures on a scale, to six digits."""
    return known(scale.number(value) for value in kelvin.tolist())


def time_unit(seconds: Array | list[float]) -> tuple[float, str]:
    """Return the unit in which times are shown, hours from three on, and its name. [s]"""
    times = np.asarray(seconds, dtype=float)
    longest = float(np.max(times, initial=0.0, where=np.isfinite(times)))
    return (HOUR, "h") if longest >= 3.0 * HOUR else (MINUTE, "min")


def with_point(x: Array, y: Array, at: float, value: float) -> tuple[Array, Array]:
    """Return a curve led through one more point, so that a dot there lies on it.

    Parameters
    ----------
    x, y : (n,) array
        x rising.
    at, value : float
        Not beyond the ends of x, or the curve stays as it is.

    Examples
    --------
    >>> with_point(np.array([0.0, 2.0]), np.array([1.0, 3.0]), 1.0, 5.0)[1].tolist()
    [1.0, 5.0, 3.0]
    """
    if not len(x) or not x[0] <= at <= x[-1] or not np.isfinite(value):
        return x, y
    place = int(np.searchsorted(x, at))
    if x[place] == at:
        return x, y
    return np.insert(x, place, at), np.insert(y, place, value)
