"""How many runs it takes to tell two containers apart, with stated power.

Hold times are compared by their ratio, so that every spread is one of log hold time, about the same as a relative one.
Tests are two-sided t tests; their power is that of the noncentral t distribution.
"""

from bisect import bisect_left
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

DEFAULT_POWER, DEFAULT_SIGNIFICANCE = 0.8, 0.05

MOST_REPEATS = 1000
"""More runs of one container than that nobody makes; the difference is then too small to be shown."""


class ContainerComparison(StrEnum):
    """How the runs of two containers stand to each other."""

    UNPAIRED = "unpaired"
    """Each run on its own day."""

    PAIRED = "paired"
    """Both containers side by side on a day: what the day does to both falls out."""

    CROSSOVER = "crossover"
    """Paired, and the probes change containers from pair to pair: what the probes do falls out too."""


@dataclass(frozen=True)
class Repeatability:
    """Spread of log hold time between runs of one container. [-]

    Attributes
    ----------
    within_day : float
        Standard deviation of what differs between two containers side by side: seating of the lid, fill, start.
    between_days : float
        Standard deviation of what a day does to all containers alike: the room.
    """

    within_day: float
    between_days: float = 0.0

    def of(self, comparison: ContainerComparison) -> float:
        """Return the standard deviation that counts in a comparison: of a run, or of a difference within a pair."""
        if comparison is ContainerComparison.UNPAIRED:
            return float(np.hypot(self.within_day, self.between_days))
        return float(np.sqrt(2.0) * self.within_day)


@dataclass(frozen=True)
class Repeats:
    """A number of runs of each container, and the power that it gives.

    Attributes
    ----------
    comparison : ContainerComparison
    repeats : int or None
        Runs of each container; None if more than MOST_REPEATS would be needed.
    power : float
        Reached with that number, or with MOST_REPEATS.
    """

    comparison: ContainerComparison
    repeats: int | None
    power: float


def power_two_sided_t(noncentrality: float, degrees_of_freedom: float, significance: float) -> float:
    """Return the probability that a two-sided t test finds a difference.

    Parameters
    ----------
    noncentrality : float
        Difference over the standard error of its estimate. [-]
    degrees_of_freedom : float
        Above zero.
    significance : float
        Of the test, 0 to 1.

    Notes
    -----
    P(|T| > t_crit) with T noncentral t.

    References
    ----------
    .. [1] Cohen, Statistical Power Analysis for the Behavioral Sciences, 2nd ed. (1988), ch. 2.

    Examples
    --------
    >>> round(power_two_sided_t(0.5 * 32**0.5, 126, 0.05), 3)
    0.801
    """
    from scipy.stats import nct, t

    critical = t.ppf(1.0 - 0.5 * significance, degrees_of_freedom)
    above = nct.sf(critical, degrees_of_freedom, noncentrality)
    below = nct.cdf(-critical, degrees_of_freedom, noncentrality)
    # Far in its tails the noncentral t gives NaN for what is nothing.
    return float(np.nan_to_num(above, nan=1.0) + np.nan_to_num(below, nan=0.0))


def power_of(
    comparison: ContainerComparison, difference: float, spread: float, repeats: int, significance: float
) -> float:
    """Return the power of a comparison of two containers.

    Parameters
    ----------
    comparison : ContainerComparison
    difference : float
        Of mean log hold times. [-]
    spread : float
        As `Repeatability.of` gives it. [-]
    repeats : int
        Runs of each container.
    significance : float

    Notes
    -----
    Unpaired: standard error s sqrt(2/n), 2n - 2 degrees of freedom. Paired: s_d / sqrt(n), n - 1. Crossover: half the
    pairs each way, the effect of the probes estimated along: s_d / sqrt(n), n - 2.
    """
    freedom = {
        ContainerComparison.UNPAIRED: 2 * repeats - 2,
        ContainerComparison.PAIRED: repeats - 1,
        ContainerComparison.CROSSOVER: repeats - 2,
    }[comparison]
    if freedom < 1:
        return 0.0
    variances = 2.0 if comparison is ContainerComparison.UNPAIRED else 1.0
    return power_two_sided_t(abs(difference) / (spread * np.sqrt(variances / repeats)), freedom, significance)


def repeats_for(
    comparison: ContainerComparison,
    difference: float,
    repeatability: Repeatability,
    *,
    power: float = DEFAULT_POWER,
    significance: float = DEFAULT_SIGNIFICANCE,
) -> Repeats:
    """Return the least number of runs of each container that reaches a power; even for a crossover.

    Parameters
    ----------
    comparison : ContainerComparison
    difference : float
        Of mean log hold times that is to be found, not zero. [-]
    repeatability : Repeatability
    power, significance : float
        0 to 1.

    Examples
    --------
    >>> repeats_for(ContainerComparison.UNPAIRED, 0.05, Repeatability(0.1)).repeats
    64
    """
    spread = repeatability.of(comparison)
    step = 2 if comparison is ContainerComparison.CROSSOVER else 1

    def reached(steps: int) -> float:
        return power_of(comparison, difference, spread, steps * step, significance)

    most = MOST_REPEATS // step
    if reached(most) < power:
        return Repeats(comparison, None, reached(most))
    steps = 1 + bisect_left(range(1, most), power, key=reached)
    return Repeats(comparison, steps * step, reached(steps))


def difference_found(
    comparison: ContainerComparison, repeats: int, repeatability: Repeatability, *, power: float, significance: float
) -> float:
    """Return the difference of mean log hold times that a number of runs finds with a power. [-]

    Infinite if the runs are too few for a test at all.
    """
    from scipy.optimize import brentq

    spread = repeatability.of(comparison)

    def lacking(difference: float) -> float:
        return power_of(comparison, difference, spread, repeats, significance) - power

    largest = 1e3 * spread
    if lacking(largest) < 0.0:
        return float("inf")
    return float(brentq(lacking, 1e-9 * spread, largest, xtol=1e-9 * spread))
