"""Runs held against others of their kind: how well they repeat, and which ones went wrong."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TypeAlias

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.records import Run
from thermal_model.bench.reduce.cooling_rate import CoolingRate
from thermal_model.bench.reduce.pour_dip import PourDip
from thermal_model.scenario import contents_kind

SAME_FILL = 0.05
"""Fills that differ by less are comparable. [-]"""

SUSPICIOUS = 3.0
"""A run is flagged if it lies so many standard deviations from the middle of its kind."""

LEAST_RATE_SCATTER, LEAST_DIP_SCATTER = 0.02, 0.3
"""Runs scatter at least by so much: in the logarithm of the rate, and in the start [-, K]; judgement."""

MAD_TO_DEVIATION = 1.4826
"""Standard deviation over median absolute deviation, for a normal distribution."""

LEAST_RUNS = 3
"""Of two runs that differ nobody can say which went wrong."""


def comparable_groups(runs: Sequence[Run]) -> list[list[Run]]:
    """Return runs in groups that differ in nothing but day, probe, start and room."""
    groups: list[list[Run]] = []
    for run in runs:
        home = next((group for group in groups if _are_comparable(group[0], run)), None)
        if home is None:
            groups.append([run])
        else:
            home.append(run)
    return groups


def _are_comparable(one: Run, other: Run) -> bool:
    a, b = one.scenario, other.scenario
    is_alike = (
        one.container == other.container
        and one.container_at_run == other.container_at_run
        and _is_hot(one) == _is_hot(other)
        and contents_kind(a.contents) == contents_kind(b.contents)
        and all(getattr(a, field) == getattr(b, field) for field in _SAME_FIELDS)
    )
    if not is_alike or (a.fill is None) != (b.fill is None):
        return False
    return a.fill is None or b.fill is None or abs(float(a.fill) / float(b.fill) - 1.0) < SAME_FILL


_SAME_FIELDS = ("walls", "preheat", "orientation", "ice", "openings", "wind", "sunlight", "stands_on", "pins")


def _is_hot(run: Run) -> bool:
    return float(run.scenario.start) > float(run.scenario.room)


@dataclass(frozen=True)
class Flag:
    """A run that differs from others of its kind.

    Attributes
    ----------
    run : str
    cause : str
        The likely one, in words.
    evidence : str
        What was seen.
    """

    run: str
    cause: str
    evidence: str


@dataclass(frozen=True)
class MeasuredRepeatability:
    """Scatter between runs of a kind, pooled over kinds.

    Attributes
    ----------
    rate : float
        Standard deviation of the logarithm of the cooling rate; NaN if nothing was repeated. [-]
    rate_freedom : int
        Degrees of freedom.
    start : float
        Standard deviation of the pour-over dip; NaN if nothing was repeated. [K]
    start_freedom : int
    """

    rate: float
    rate_freedom: int
    start: float
    start_freedom: int


_Told: TypeAlias = Mapping[str, tuple[float, float]]
"""A number of each run by its name, and its standard uncertainty."""


def flagged_runs(
    groups: Sequence[Sequence[Run]], rates: Mapping[str, CoolingRate], dips: Mapping[str, PourDip]
) -> list[Flag]:
    """Return the runs that went wrong, with the likely cause; nothing is taken out of the bench for it.

    The scatter that a run is held against is robust, and pooled over all groups, so that a wrong run does not
    hide itself.
    """
    rate_scores = _scores(groups, _log_rates(rates), LEAST_RATE_SCATTER)
    dip_scores = _scores(groups, _dips(dips), LEAST_DIP_SCATTER)
    flags = []
    for run in chain.from_iterable(groups):
        rate, dip = rate_scores.get(run.name), dip_scores.get(run.name)
        flags.append(_flag(run, _explained(rate, dip, rates.get(run.name)), dip))
    return [flag for flag in flags if flag is not None]


@dataclass(frozen=True)
class _Score:
    """Distance from the middle, in the number's own unit and in standard deviations."""

    distance: float
    deviations: float


def _explained(rate: _Score | None, dip: _Score | None, found: CoolingRate | None) -> _Score | None:
    """Return the score of a rate, less what a display too near to the room from the start makes of it."""
    if rate is None or dip is None or found is None or dip.deviations <= SUSPICIOUS:
        return rate
    distance = rate.distance - dip.distance * found.per_kelvin
    return _Score(distance, rate.deviations * distance / rate.distance if rate.distance else 0.0)


def _flag(run: Run, rate: _Score | None, dip: _Score | None) -> Flag | None:
    if rate is not None and abs(rate.deviations) > SUSPICIOUS:
        change = 100.0 * (math.exp(rate.distance) - 1.0)
        if change > 0.0:
            seen = f"loses its excess {change:.0f} % faster throughout than others of its kind"
            return Flag(run.name, "lid not seated", seen)
        seen = f"loses its excess {-change:.0f} % slower throughout than others of its kind"
        return Flag(run.name, "fuller than written down, or the lid closed better than in the others", seen)
    if dip is None or abs(dip.deviations) <= SUSPICIOUS:
        return None
    is_low = dip.distance > 0.0
    side, verb = "nearer to" if is_low else "farther from", "cools" if _is_hot(run) else "warms"
    seen = f"starts {abs(dip.distance):.1f} K {side} the room than others of its kind, and {verb} at the same rate"
    if is_low:
        return Flag(run.name, "probe touching the wall, or poured at another temperature than written down", seen)
    return Flag(run.name, "container not soaked: still warm or cold from before", seen)


def _log_rates(rates: Mapping[str, CoolingRate]) -> _Told:
    return {name: (math.log(rate.rate), rate.spread) for name, rate in rates.items()}


def _dips(dips: Mapping[str, PourDip]) -> _Told:
    return {name: (dip.dip, dip.spread) for name, dip in dips.items()}


def _scores(groups: Sequence[Sequence[Run]], told: _Told, least_scatter: float) -> dict[str, _Score]:
    """Return the scores of the runs of large enough groups, by name."""
    names = [[run.name for run in group if run.name in told] for group in groups]
    names = [group for group in names if len(group) >= LEAST_RUNS]
    middles = [float(np.median([told[name][0] for name in group])) for group in names]
    away = {name: told[name][0] - middle for group, middle in zip(names, middles, strict=True) for name in group}
    scatter = max(_robust_scatter(away, told), least_scatter)
    return {name: _Score(distance, distance / math.hypot(scatter, told[name][1])) for name, distance in away.items()}


def _robust_scatter(away: Mapping[str, float], told: _Told) -> float:
    """Return the scatter between runs beyond the readings' own, from the median of all distances."""
    # A median of three is one of the three: its distance is zero and says nothing.
    pairs = [(abs(distance), told[name][1]) for name, distance in away.items() if abs(distance) > 0.0]
    if not pairs:
        return 0.0
    distance, own = np.median(pairs, axis=0).tolist()
    return math.sqrt(max((MAD_TO_DEVIATION * distance) ** 2 - own**2, 0.0))


def repeatability(
    groups: Sequence[Sequence[Run]], rates: Mapping[str, CoolingRate], dips: Mapping[str, PourDip]
) -> MeasuredRepeatability:
    """Pool the standard deviations within groups.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.2.4 and H.5: pooled estimate of variance, weighted by degrees of freedom.
    """
    by_rate, by_start = (
        [np.array([told[run.name][0] for run in group if run.name in told]) for group in groups]
        for told in (_log_rates(rates), _dips(dips))
    )
    return MeasuredRepeatability(*pooled_deviation(by_rate), *pooled_deviation(by_start))


def pooled_deviation(samples: Sequence[Array]) -> tuple[float, int]:
    """Return the standard deviation within samples and its degrees of freedom, NaN and 0 if none has two values.

    Examples
    --------
    >>> pooled_deviation([np.array([1.0, 3.0]), np.array([7.0]), np.array([2.0, 4.0])])
    (1.4142135623730951, 2)
    """
    told = [sample for sample in samples if len(sample) > 1]
    freedom = sum(len(sample) - 1 for sample in told)
    if not freedom:
        return math.nan, 0
    squares = sum(float(np.sum((sample - sample.mean()) ** 2)) for sample in told)
    return math.sqrt(squares / freedom), freedom
