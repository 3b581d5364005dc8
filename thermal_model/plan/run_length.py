"""How long a run must be to see a limit passed, and when it is worth to stand beside it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.container import Container
from geometries.numeric import Array
from thermal_model.follow import DEFAULT_HORIZON
from thermal_model.prediction import drawn_runs
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import Belief, low_median_high
from thermal_model.work_done import ShareDone

DEFAULT_MARGIN = 0.1
"""Of the latest time that is expected: a run that ends just before its limit is passed is a run lost; judgement."""

ROUNDED_TO = 900.0
"""A length is rounded up to whole quarters of an hour. [s]"""

EARLY_READINGS = (0.0, 300.0, 900.0, 1800.0)
"""While walls and lid take their share of the heat; judgement. [s]"""

LATE_READINGS = 6
"""Readings between the first half hour and the end of a run; judgement."""


@dataclass(frozen=True)
class RunLength:
    """When a limit is passed, and how long to run.

    Attributes
    ----------
    container : Container
    limit : float
        [K]
    low, median, high : float
        Quantiles 5, 50 and 95 % of the time to the limit; infinite where it is not reached. [s]
    share_reached : float
        Of the draws that reach the limit within the horizon.
    length : float or None
        Of the run; None if more than a twentieth of the draws never get there. [s]
    draws, seed : int
    failed : int
        Draws besides those that could not be computed.
    """

    container: Container
    limit: float
    low: float
    median: float
    high: float
    share_reached: float
    length: float | None
    draws: int
    seed: int
    failed: int = 0


def run_length(
    container: Container,
    scenario: Scenario,
    limit: float,
    *,
    draws: int,
    seed: int,
    margin: float = DEFAULT_MARGIN,
    horizon: float = DEFAULT_HORIZON,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> RunLength:
    """Return how long a run must be to pass a limit in nineteen of twenty cases, with a margin on top.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limit : float
        [K]
    draws : int
        At least 1.
    seed : int
    margin : float
        Of the 95 % quantile. [-]
    horizon : float
        [s]
    belief : Belief, optional
    progress : callable, optional

    Raises
    ------
    InputError
        As `predict`.
    """
    runs = drawn_runs(
        container, scenario, [limit], draws=draws, seed=seed, horizon=horizon, belief=belief, progress=progress
    )
    times = runs.crossing_times[0, 1:]
    low, median, high = low_median_high(times)
    reached = float(np.isfinite(times).mean())
    length = rounded_up((1.0 + margin) * high) if np.isfinite(high) else None
    return RunLength(container, limit, low, median, high, reached, length, runs.draws, seed, runs.failed)


def rounded_up(duration: float, step: float = ROUNDED_TO) -> float:
    """Return a duration rounded up to whole steps. [s]

    Examples
    --------
    >>> rounded_up(3601.0)
    4500.0
    """
    return float(np.ceil(duration / step - 1e-9) * step)


def reading_times(length: float) -> Array:
    """Return when to read: often while walls and lid warm up, then evenly to the end. [s]

    Examples
    --------
    >>> (reading_times(6 * 3600.0) / 60.0).round().astype(int).tolist()
    [0, 5, 15, 30, 85, 140, 195, 250, 305, 360]
    """
    early = np.array([time for time in EARLY_READINGS if time < 0.5 * length])
    late = np.linspace(early[-1], length, LATE_READINGS + 1)[1:]
    return np.concatenate([early, late])


def longest(lengths: Sequence[RunLength]) -> float | None:
    """Return a length that does for several containers run side by side; None if one of them has none. [s]"""
    known = [one.length for one in lengths if one.length is not None]
    return max(known) if len(known) == len(lengths) else None
