"""How fast a run loses its excess over the room, and where it started: straight from the readings, without a model."""

import math
from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.reduce.evidence import Points

SETTLED = 1500.0
"""After so long the walls have taken their share. [s]"""

EARLY = 4.0 * 3600.0
"""The start is extrapolated from readings up to here. [s]"""

LEAST_EXCESS = 3.0
"""Points nearer to the room are left out of fits of its logarithm. [K]"""

LEAST_POINTS_FOR_START = 6


@dataclass(frozen=True)
class CoolingRate:
    """Mean relative loss of excess, -d ln(T - room)/dt.

    Attributes
    ----------
    rate : float
        [s-1]
    spread : float
        Its standard uncertainty, relative: readings, and the room's. [-]
    first, last : float
        Times between which it holds. [s]
    count : int
        Points used.
    per_kelvin : float
        By what share it looks faster if the display stands a kelvin nearer to the room than the contents. [K-1]
    """

    rate: float
    spread: float
    first: float
    last: float
    count: int
    per_kelvin: float


def cooling_rate(points: Points, room_spread: float, until: float = math.inf) -> CoolingRate | None:
    """Fit the rate at which a run loses its excess after the walls have settled.

    Parameters
    ----------
    points : Points
    room_spread : float
        Standard uncertainty of the room temperature. [K]
    until : float
        Later points are left out: runs are compared over the same stretch. [s]

    Returns
    -------
    CoolingRate or None
        None where fewer than three points lie in an hour or more.
    """
    used = points.take((points.time >= SETTLED) & (points.time <= until) & (np.abs(points.excess) > LEAST_EXCESS))
    if len(used) < 3 or used.time[-1] - used.time[0] < 3600.0 or not math.isfinite(room_spread):
        return None
    coefficients, covariance = _fit(used, 1)
    rate = -float(coefficients[1])
    if rate <= 0.0:
        return None
    elapsed = float(used.time[-1] - used.time[0])
    inverse = 1.0 / np.abs(used.excess[[0, -1]])
    per_kelvin = float(inverse[1] - inverse[0]) / (elapsed * rate)
    systematic = math.hypot(room_spread, float(used.offset_spread[0])) * per_kelvin
    spread = math.hypot(math.sqrt(float(covariance[1, 1])) / rate, systematic)
    return CoolingRate(rate, spread, float(used.time[0]), float(used.time[-1]), len(used), per_kelvin)


@dataclass(frozen=True)
class ExtrapolatedStart:
    """Where a run would have started had the walls taken nothing.

    Attributes
    ----------
    temperature : float
        [K]
    spread : float
        Standard uncertainty, the probe's offset included. [K]
    """

    temperature: float
    spread: float


def extrapolated_start(points: Points) -> ExtrapolatedStart | None:
    """Extrapolate settled readings back to the moment of pouring, None where there are too few.

    The logarithm of the excess is taken as a parabola in time: the rate falls as contents cool.
    """
    is_used = (points.time >= SETTLED) & (points.time <= EARLY) & (np.abs(points.excess) > LEAST_EXCESS)
    used = points.take(is_used)
    if len(used) < LEAST_POINTS_FOR_START or used.time[-1] < 3.0 * used.time[0]:
        return None
    coefficients, covariance = _fit(used, 2)
    sign = 1.0 if used.excess[0] > 0.0 else -1.0
    excess = math.exp(float(coefficients[0]))
    spread = math.hypot(excess * math.sqrt(float(covariance[0, 0])), float(used.offset_spread[0]))
    return ExtrapolatedStart(float(used.room[0]) + sign * excess, spread)


def _fit(points: Points, degree: int) -> tuple[Array, Array]:
    """Fit ln|excess| by a polynomial in time, weighted; returns coefficients from the lowest, and covariance.

    Scatter larger than the readings' own widens the covariance; readings within one step of the display count once.
    """
    excess = np.abs(points.excess)
    weights = excess / points.deviation
    powers = np.vander(points.time / 3600.0, degree + 1, increasing=True)
    design = powers * weights[:, None]
    target = np.log(excess) * weights
    coefficients, *_ = np.linalg.lstsq(design, target, rcond=None)
    residual = target - design @ coefficients
    freedom = max(len(points) - degree - 1, 1)
    scale = max(float(residual @ residual) / freedom, points.repeats)
    covariance = scale * np.linalg.pinv(design.T @ design)
    per_second = 3600.0 ** -np.arange(degree + 1.0)
    return coefficients * per_second, covariance * np.outer(per_second, per_second)
