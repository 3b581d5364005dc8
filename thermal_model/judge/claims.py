"""Is a claim kept? "Hot for 12 h" says neither above which temperature nor from which start; who asks has to."""

import re
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from geometries.container import Container
from geometries.errors import InputError
from geometries.quantities import Dimension, parse_quantity
from thermal_model.follow import DEFAULT_HORIZON
from thermal_model.prediction import drawn_runs
from thermal_model.scenario import Scenario
from thermal_model.study.tolerance import wilson_interval
from thermal_model.uncertainty import Belief, low_median_high
from thermal_model.work_done import ShareDone

PASS_FROM, FAIL_TO = 0.95, 0.05
"""Probabilities of a pass from which a verdict is pass, and to which it is fail; a convention of ours."""

_HOT, _COLD = ("hot", "warm"), ("cold", "cool", "iced", "chilled")
_DURATION = re.compile(
    r"\d+(?:\.\d+)?\s*(?:hours?|hrs?|h|minutes?|mins?|min|days?|d)\b(?:\s*\d+\s*(?:minutes?|mins?|min)\b)?", re.I
)


class Verdict(StrEnum):
    """What is said of a requirement."""

    PASS = "pass"
    FAIL = "fail"
    UNDECIDED = "undecided"
    NO_LIMIT = "no limit known"


@dataclass(frozen=True)
class Claim:
    """Hot or cold, for how long. [s]"""

    is_hot: bool
    duration: float


@dataclass(frozen=True)
class ClaimResult:
    """A claim against the model.

    Attributes
    ----------
    claim : Claim
    limit : float
        Above which hot, below which cold. [K]
    verdict : Verdict
    probability : float
        Share of the draws that keep it.
    probability_low, probability_high : float
        95 % interval of that share from the size of the sample.
    low, median, high : float
        Quantiles 5, 50, 95 % of the hold time; infinite where the limit is not reached. [s]
    draws, seed : int
    failed : int
        Draws besides those that could not be computed.
    """

    claim: Claim
    limit: float
    verdict: Verdict
    probability: float
    probability_low: float
    probability_high: float
    low: float
    median: float
    high: float
    draws: int
    seed: int
    failed: int


def read_claim(text: str, source: str = "") -> Claim:
    """Return what a claim says.

    Parameters
    ----------
    text : str
        One of hot and cold, and one duration: "hot for 12 h", "keeps drinks cold 24 hours".
    source : str
        Option it came from.

    Raises
    ------
    InputError
        If it says neither or both, or no duration or several.

    Examples
    --------
    >>> read_claim("keeps drinks cold for 24 hours")
    Claim(is_hot=False, duration=86400.0)
    """
    words = set(re.findall(r"[a-z]+", text.lower()))
    is_hot, is_cold = bool(words & set(_HOT)), bool(words & set(_COLD))
    durations = [match.group() for match in _DURATION.finditer(text)]
    if is_hot == is_cold:
        what = (
            "both hot and cold; check one at a time"
            if is_hot
            else "neither hot nor cold; write for example 'hot for 12 h'"
        )
        raise InputError(f"'{text}' says {what}", source=source)
    if len(durations) != 1:
        what = "more than one duration; check one at a time" if durations else "not for how long; write 'hot for 12 h'"
        raise InputError(f"'{text}' says {what}", source=source)
    duration = parse_quantity(durations[0], Dimension.DURATION)
    if not 0.0 < duration <= DEFAULT_HORIZON:
        message = f"'{text}': the duration must be above zero and at most {DEFAULT_HORIZON / 86400.0:g} days"
        raise InputError(message, source=source)
    return Claim(is_hot, duration)


def verdict_of(probability: float) -> Verdict:
    """Return pass or fail where a probability is clear, undecided between.

    Examples
    --------
    >>> [verdict_of(p).value for p in (0.95, 0.5, 0.05)]
    ['pass', 'undecided', 'fail']
    """
    if probability >= PASS_FROM:
        return Verdict.PASS
    return Verdict.FAIL if probability <= FAIL_TO else Verdict.UNDECIDED


def check_claim(
    container: Container,
    scenario: Scenario,
    claim: Claim,
    limit: float,
    *,
    draws: int,
    seed: int,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> ClaimResult:
    """Return how probable it is that a container keeps a claim.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    claim : Claim
    limit : float
        [K]
    draws : int
        At least 1.
    seed : int
    belief : Belief, optional
    progress : callable, optional

    Raises
    ------
    InputError
        If the limit does not lie between start and room, on the side the claim says.
    """
    runs = drawn_runs(container, scenario, [limit], draws=draws, seed=seed, belief=belief, progress=progress)
    times = runs.crossing_times[0, 1:]
    probability, low, high = share(times >= claim.duration)
    chances = (verdict_of(probability), probability, low, high)
    return ClaimResult(claim, limit, *chances, *low_median_high(times), runs.draws, seed, runs.failed)


def share(holds: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Return the share of draws for which something holds, with the 95 % interval of the sample's size.

    Examples
    --------
    >>> [round(x, 3) for x in share(np.array([True] * 95 + [False] * 5))]
    [0.95, 0.888, 0.978]
    """
    met = int(holds.sum())
    return (met / len(holds), *wilson_interval(met, len(holds), 0.95))
