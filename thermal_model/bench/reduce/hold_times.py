"""Hold times as the readings tell them: interpolated with uncertainty, or an interval where that is all there is."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from geometries.unsure import NINE_IN_TEN
from thermal_model.bench.records import Probe, Run, temperature_at_start
from thermal_model.bench.reduce.cooling_rate import SETTLED
from thermal_model.bench.reduce.evidence import NARROW, Offsets, Points, points_of
from thermal_model.bench.reduce.propagation import propagate

Flags = NDArray[np.bool_]

NEAR = 4.0
"""A smooth log is fitted over points so near to the limit. [K]"""

LEAST_POINTS = 5
"""Fewer near the limit are not fitted: the two that enclose it are interpolated."""


class Basis(StrEnum):
    """What a hold time rests on."""

    FIT = "fit through readings near the limit"
    INTERPOLATION = "between two readings"
    EXTRAPOLATION = "less than 1 K beyond the last reading"
    INTERVAL = "between two looks"
    AT_LEAST = "not reached by the last reading"
    UNKNOWN = "no reading tells"


@dataclass(frozen=True)
class MeasuredHoldTime:
    """Time from pouring to a limit.

    Attributes
    ----------
    limit : float
        [K]
    basis : Basis
    time : float or None
        Best value; None where only an interval is known. [s]
    spread : float or None
        Its standard uncertainty. [s]
    low, high : float
        90 % interval; for an interval between two looks its ends, widened by the probe's uncertainty; high is
        infinite where the limit was not reached. [s]
    """

    limit: float
    basis: Basis
    time: float | None
    spread: float | None
    low: float
    high: float


def measured_hold_time(run: Run, limit: float, probes: Mapping[str, Probe], offsets: Offsets) -> MeasuredHoldTime:
    """Return when a run passed a limit.

    Parameters
    ----------
    run : Run
    limit : float
        True temperature of the contents. [K]
    probes : mapping of str to Probe
    offsets : Offsets
        Taken off the readings; their uncertainty enters the result.
    """
    points = points_of(run, probes, offsets)
    sign = 1.0 if temperature_at_start(run) > limit else -1.0
    before: Flags = sign * (points.temperature - limit) > 0.0
    fitted = _fitted(points, limit, sign)
    if fitted is not None:
        return fitted
    low, high = _bounds(run, points, before, limit, offsets, sign)
    between = _enclosing(points, before)
    # Looks may enclose the passing more closely than readings do.
    if between is not None and high - low >= 0.9 * float(points.time[between[1]] - points.time[between[0]]):
        return _interpolated(points.take(np.array(between)), limit, run)
    if math.isinf(high) and _is_close(points, limit, sign):
        return _interpolated(points.take(np.arange(len(points))[-2:]), limit, run)
    if math.isinf(high):
        basis = Basis.AT_LEAST if low > 0.0 else Basis.UNKNOWN
        return MeasuredHoldTime(limit, basis, None, None, low, high)
    return MeasuredHoldTime(limit, Basis.INTERVAL, None, None, low, high)


BEYOND = 1.0
"""A limit so little beyond the last reading is extrapolated to. [K]"""


def _is_close(points: Points, limit: float, sign: float) -> bool:
    """Tell whether the last two points lead to the limit and end close before it."""
    if len(points) < 2:
        return False
    last, beyond = sign * (points.temperature[-2:] - limit)
    return bool(0.0 <= beyond < BEYOND and last > beyond)


def _enclosing(points: Points, before: Flags) -> tuple[int, int] | None:
    """Return the last point before the limit and the first after it."""
    is_before = np.flatnonzero(before)
    if not len(is_before) or is_before[-1] == len(points) - 1:
        return None
    return int(is_before[-1]), int(is_before[-1]) + 1


# --- a log ------------------------------------------------------------------------------------------------------


def _fitted(points: Points, limit: float, sign: float) -> MeasuredHoldTime | None:
    """Fit a straight line through the logarithm of the excess near the limit; None where points are too few.

    Points must lie on both sides, or end so close before the limit that it is worth extrapolating.
    """
    widest = max(NEAR, 3.0 * float(points.deviation.max(initial=0.0)))
    # Not so far that the logarithm meets the room.
    reach = np.minimum(widest, 0.5 * np.abs(limit - points.room))
    near = points.take((np.abs(points.temperature - limit) < reach) & (points.time > 0.0))
    beyond = sign * (near.temperature - limit)
    encloses = (beyond > 0.0).sum() >= 2 and (beyond < 0.0).sum() >= 2
    if len(near) < LEAST_POINTS or not (encloses or _ends_close(beyond)):
        return None
    aim = math.log(abs(limit - float(near.room.mean())))
    level = np.log(np.abs(near.excess)) - aim
    sigma = near.deviation / np.abs(near.excess)
    weights = 1.0 / sigma
    design = np.vander(near.time, 2, increasing=True) * weights[:, None]
    (intercept, slope), *_ = np.linalg.lstsq(design, level * weights, rcond=None)
    if slope >= 0.0:
        return None
    time = -intercept / slope
    residual = (level - intercept - slope * near.time) * weights
    scale = max(float(residual @ residual) / max(len(near) - 2, 1), near.repeats)
    covariance = scale * np.linalg.inv(design.T @ design)
    gradient = np.array([-1.0 / slope, intercept / slope**2])
    own = float(gradient @ covariance @ gradient)
    kelvin_per_second = abs(slope) * abs(limit - float(near.room.mean()))
    shared = float(near.offset_spread.mean()) / kelvin_per_second
    clock = float(near.time_spread.mean()) / math.sqrt(len(near))
    basis = Basis.FIT if encloses else Basis.EXTRAPOLATION
    return _normal(limit, basis, float(time), math.sqrt(own + shared**2 + clock**2))


def _ends_close(beyond: Array) -> bool:
    """Tell whether points lead to a limit and end less than 1 K before it."""
    return bool(len(beyond) and abs(float(beyond[-2:].mean())) < BEYOND and beyond[0] > 2.0 * BEYOND)


def _normal(limit: float, basis: Basis, time: float, spread: float) -> MeasuredHoldTime:
    reach = NINE_IN_TEN * spread
    return MeasuredHoldTime(limit, basis, time, spread, max(time - reach, 0.0), time + reach)


# --- two readings -----------------------------------------------------------------------------------------------


def _interpolated(pair: Points, limit: float, run: Run) -> MeasuredHoldTime:
    """Interpolate between two points as if the excess fell exponentially.

    Uncertain are both points, the probe's offset (one error in both), the clock, the room, and the shape of the curve
    between: half its difference from a straight line is taken as the half width of a rectangular distribution
    (judgement: the true curve bends more than the line, and not as an exponential where the rate changes).
    """
    room_spread = run.room_spread if math.isfinite(run.room_spread) else 5.0
    mean = np.array([*pair.time, *pair.temperature, 0.0, float(pair.room.mean())])
    offset = float(pair.offset_spread.max())
    spreads = np.array([*pair.time_spread, *pair.deviation, offset, room_spread])
    values, covariance = propagate(lambda x: _exponential_passing(x, limit), mean, np.diag(spreads**2))
    bend = 0.5 * abs(float(values[0]) - _straight_passing(pair, limit))
    if pair.time[0] < SETTLED:
        bend = max(bend, UNSETTLED * float(pair.time[1] - pair.time[0]))
    spread = math.hypot(math.sqrt(float(covariance[0, 0])), bend / math.sqrt(3.0))
    basis = Basis.INTERPOLATION if values[0] <= pair.time[1] else Basis.EXTRAPOLATION
    return _normal(limit, basis, float(values[0]), spread)


UNSETTLED = 0.1
"""Half width of what is not known of a curve's shape while walls still take heat, in the distance of the two points;
judgement."""


def _exponential_passing(x: Array, limit: float) -> Array:
    """Return the time of passing from two times, two temperatures, their common offset, and the room, (1,)."""
    t0, t1, first, second, offset, room = x
    first, second = first - offset, second - offset
    # A room beyond the second point can't be: the curve would end before it.
    room = min(room, second - 0.5, limit - 0.5) if first > second else max(room, second + 0.5, limit + 0.5)
    share = math.log((first - room) / (limit - room)) / math.log((first - room) / (second - room))
    return np.array([t0 + share * (t1 - t0)])


def _straight_passing(pair: Points, limit: float) -> float:
    share = (pair.temperature[0] - limit) / (pair.temperature[0] - pair.temperature[1])
    return float(pair.time[0] + share * (pair.time[1] - pair.time[0]))


# --- looks ------------------------------------------------------------------------------------------------------


def _bounds(
    run: Run, points: Points, before: Flags, limit: float, offsets: Offsets, sign: float
) -> tuple[float, float]:
    """Return the latest time known to be before the passing, and the earliest known to be after it. [s]

    Ends that rest on a reading or a mark near the limit are widened by what the probe may be wrong by.
    """
    rate = _kelvin_per_second(points, run)
    margin = np.abs(points.temperature - limit)
    doubt = np.maximum(NINE_IN_TEN * np.hypot(points.deviation, points.offset_spread) - margin, 0.0) / rate
    low = float((points.time - doubt)[before].max(initial=0.0))
    after = ~before & (points.time > points.time[before].max(initial=0.0))
    high = float((points.time + doubt)[after].min(initial=math.inf))
    for passing in run.passings:
        if passing.latest - passing.earliest <= NARROW:
            continue
        name = passing.probe or run.probe
        beyond = sign * (passing.mark - offsets.of(name) - limit)
        slack = NINE_IN_TEN * offsets.spread(name) + 1e-6  # a mark at the limit itself is one
        # A mark passed before the limit bounds it from below, one passed after it from above; one passed less than
        # 1 K before bounds it from above as well, at half the rate seen so far.
        low = max(low, passing.earliest - max(slack - beyond, 0.0) / rate) if beyond > -slack else low
        reach = max(slack + beyond, 0.0) / (rate if beyond < slack else 0.5 * rate)
        high = min(high, passing.latest + reach) if beyond < max(slack, BEYOND) else high
    return max(low, 0.0), high


def _kelvin_per_second(points: Points, run: Run) -> float:
    """Return about how fast a run cools, from all it shows."""
    marks = [(0.5 * (p.earliest + p.latest), p.mark) for p in run.passings if math.isfinite(p.latest)]
    shown = sorted([*zip(points.time.tolist(), points.temperature.tolist(), strict=True), *marks])
    if len(shown) < 2 or shown[-1][0] == shown[0][0]:
        return 10.0 / 3600.0
    return max(abs(shown[-1][1] - shown[0][1]) / (shown[-1][0] - shown[0][0]), 1.0 / 3600.0)
