"""A run under way: what its readings so far say of the rest of it, and when to look next."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.records import Reading, Run
from thermal_model.follow import DEFAULT_HORIZON, follow
from thermal_model.prediction import CURVE_REACH, check_fill, check_limits
from thermal_model.uncertainty import draw_sample

MODEL_SPREAD = 0.7
"""By how much a container that is drawn may miss a reading and still be like this one, thermometer apart [K];
judgement."""

LIKELY = (0.05, 0.5, 0.95)
"""Quantiles of the time to a mark."""

FIRST_LOOK = 0.1
"""Share of cases in which a mark is passed already when it is looked at first."""

CURVE_TIMES = 121

DRAWS = 200
"""Containers that are computed besides the best guess."""

MOST_COUNTED = 6
"""Readings of a run that are counted."""


@dataclass(frozen=True)
class RunAhead:
    """What is to come of a run.

    Attributes
    ----------
    limit : float
        [K]
    low, middle, high : float
        Time to the limit, with readings counted; infinite where it is not reached. [s]
    next_look : float or None
        When to look for it first; None if it is not expected. [s]
    time, temperature, lower, upper : (k,) array
        The curve from the start on, and where nine in ten lie. [s, K]
    likeness : float
        Share of the drawn containers that the readings leave, as their effective number. [-]
    """

    limit: float
    low: float
    middle: float
    high: float
    next_look: float | None
    time: Array
    temperature: Array
    lower: Array
    upper: Array
    likeness: float


def run_ahead(
    run: Run,
    limit: float,
    *,
    display_spread: float,
) -> RunAhead:
    """Predict the rest of a run from the model and its readings so far.

    Parameters
    ----------
    run : Run
        With its readings; its start is the temperature poured in.
    limit : float
        [K]
    display_spread : float
        Standard deviation of what the thermometer may be off by. [K]

    Returns
    -------
    RunAhead

    Raises
    ------
    InputError
        As `predict`.

    Notes
    -----
    Each container of the sample counts by how near its curve lies to the readings; those that are far off count
    for nothing. What a mark's passing says is not counted.
    """
    container, scenario = run.container_at_run, run.scenario
    check_fill(container, scenario)
    check_limits(scenario, [limit], can_evaporate=container.lid is None)
    sample = draw_sample(container, scenario, DRAWS, 1)
    seen = _some([reading for reading in run.readings if reading.time > 0.0])
    reach = max((reading.time for reading in seen), default=0.0)
    nominal = follow(sample.take(np.zeros(1, dtype=np.intp)), [limit])
    at_least = min(max(CURVE_REACH * float(nominal.end_time[0]), reach / float(sample.stretch.min())), DEFAULT_HORIZON)
    horizons = DEFAULT_HORIZON / sample.stretch
    found = follow(sample, [limit], horizon=horizons, at_least=at_least, record=True)
    if not found.is_good[0]:
        raise found.failure(0)
    good = np.flatnonzero(found.is_good)[1:]
    stretch = sample.stretch[good]
    at_readings = found.stretched_temperatures(good, np.array([r.time for r in seen]), sample.stretch)
    weights = _weights(at_readings, [r.temperature for r in seen], display_spread)
    crossing = np.where(np.isnan(found.hold_times[0, good]), np.inf, found.hold_times[0, good] * stretch)
    low, middle, high, first = (weighted_quantile(crossing, weights, q) for q in (*LIKELY, FIRST_LOOK))
    time = np.linspace(0.0, float((found.end_time[good] * stretch).min()), CURVE_TIMES)
    at = found.stretched_temperatures(good, time, sample.stretch)
    bounds = [np.array([weighted_quantile(column, weights, q) for column in at.T]) for q in LIKELY]
    look = max(first, reach) if np.isfinite(first) else None
    likeness = float(1.0 / (weights**2).sum() / len(weights))
    return RunAhead(limit, low, middle, high, look, time, bounds[1], bounds[0], bounds[2], likeness)


def _some(readings: Sequence[Reading]) -> list[Reading]:
    """Return a few readings, evenly and the last among them: a log's own misses are not independent of each other."""
    if len(readings) <= MOST_COUNTED:
        return list(readings)
    return [readings[k] for k in np.linspace(0, len(readings) - 1, MOST_COUNTED).round().astype(int).tolist()]


def _weights(curves: Array, shown: Sequence[float], display_spread: float) -> Array:
    """Return how much each drawn container counts; a thermometer's error is common to its readings."""
    if not len(shown):
        return np.full(len(curves), 1.0 / len(curves))
    miss = np.asarray(shown)[None, :] - curves
    mean, rest = miss.mean(axis=1), miss - miss.mean(axis=1, keepdims=True)
    log = -0.5 * (mean**2 / (display_spread**2 + MODEL_SPREAD**2) + (rest**2).sum(axis=1) / MODEL_SPREAD**2)
    weights = np.exp(log - log.max())
    return np.asarray(weights / weights.sum())


def weighted_quantile(values: Array, weights: Array, quantile: float) -> float:
    """Return the value below which a share of the weight lies.

    Examples
    --------
    >>> weighted_quantile(np.array([3.0, 1.0, 2.0]), np.array([0.5, 0.25, 0.25]), 0.4)
    2.0
    """
    order = np.argsort(values)
    below = np.cumsum(weights[order])
    return float(values[order][min(int(np.searchsorted(below, quantile)), len(values) - 1)])
