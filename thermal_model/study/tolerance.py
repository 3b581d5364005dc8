"""The share of a production run that meets a hold time, when its dimensions spread."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.errors import InputError, told_of
from geometries.numeric import Array
from geometries.quantities import Dimension, parse_quantity
from geometries.ranges import NumberField
from thermal_model.batch import Table
from thermal_model.solver.engine import Outcome
from thermal_model.study.question import Question
from thermal_model.uncertainty import low_high, variance_shares
from thermal_model.work_done import ShareDone

CONFIDENCE = 0.9
"""Of the interval of the share."""


@dataclass(frozen=True)
class ProductionSpread:
    """A dimension of production, normal about the design's own value.

    Attributes
    ----------
    field : NumberField
    deviation : float
        Standard deviation. [SI]
    """

    field: NumberField
    deviation: float


@dataclass(frozen=True)
class Production:
    """What becomes of pieces that are made with spreads.

    Attributes
    ----------
    spreads : tuple of ProductionSpread
    hold : float
        To be met. [s]
    nominal : float
        Hold time of the piece as drawn; infinite if the limit is not reached. [s]
    pieces, met : int
        Pieces that make a container, and those of them that hold long enough.
    rejected : int
        Pieces whose dimensions make no container; not counted among the pieces.
    reason : str
        Why the first of them does not.
    share, share_low, share_high : float
        met / pieces with its Wilson interval.
    low, high : float
        Quantiles INTERVAL of the pieces' hold times. [s]
    times : (pieces,) array
        Hold times of the pieces, the shortest first; infinite where the limit is not reached. [s]
    causes : tuple of (str, float)
        Paths, and the share of the variance of the hold time that a linear fit gives to each; the largest first.
    seed : int
    """

    spreads: tuple[ProductionSpread, ...]
    hold: float
    nominal: float
    pieces: int
    met: int
    rejected: int
    reason: str
    share: float
    share_low: float
    share_high: float
    low: float
    high: float
    times: Array
    causes: tuple[tuple[str, float], ...]
    seed: int


def spread_dimension(dimension: Dimension) -> Dimension:
    """Return what a spread of a quantity measures: of temperatures a difference."""
    return Dimension.TEMPERATURE_DIFFERENCE if dimension is Dimension.TEMPERATURE else dimension


def read_spread(field: NumberField, text: str, source: str) -> ProductionSpread:
    """Return the spread that a text such as "0.3 mm" describes.

    Raises
    ------
    InputError
        If the unit is wrong, it is not above zero, or the design leaves the field out.
    """
    if field.value is None:
        raise InputError("is left out in this design; give it first, with --set", field.path, source=source)
    with told_of(field.path, source):
        deviation = parse_quantity(text, spread_dimension(field.quantity.dimension))
    if deviation <= 0.0:
        raise InputError("a spread must be above zero", field.path, text, source)
    return ProductionSpread(field, deviation)


def production_share(
    question: Question,
    spreads: Sequence[ProductionSpread],
    hold: float,
    *,
    pieces: int,
    seed: int,
    progress: ShareDone | None = None,
) -> Production:
    """Draw pieces at random and count those that hold long enough, every unknown at its best guess.

    Parameters
    ----------
    question : Question
    spreads : sequence of ProductionSpread
        Independent of each other.
    hold : float
        [s]
    pieces : int
        To draw.
    seed : int
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If no piece makes a container.
    """
    normals = np.random.default_rng(seed).standard_normal((len(spreads), pieces))
    columns = {s.field.path: _column(s, normal) for s, normal in zip(spreads, normals, strict=True)}
    result = question.answers(Table(columns), progress)
    times = np.where(result.outcome == Outcome.NOT_REACHED, np.inf, result.hold_times[0])
    is_good = ~np.isnan(times[1:])
    reason = "" if is_good.all() else question.why_none(result, 1 + int(np.argmin(is_good)))
    if not is_good.any():
        raise InputError(f"no piece makes a container; the first: {reason}")
    good = times[1:][is_good]
    met = int((good >= hold).sum())
    return Production(
        tuple(spreads),
        hold,
        float(times[0]),
        len(good),
        met,
        int((~is_good).sum()),
        reason,
        met / len(good),
        *wilson_interval(met, len(good)),
        *low_high(good),
        np.sort(good),
        _causes(spreads, normals[:, is_good], good),
        seed,
    )


def _column(spread: ProductionSpread, normal: Array) -> Array:
    """Return the values of a dimension, the design's own first."""
    assert spread.field.value is not None
    return spread.field.value + spread.deviation * np.append(0.0, normal)


def wilson_interval(met: int, pieces: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Return the Wilson interval of a share.

    References
    ----------
    Wilson, E. B. (1927), J. Am. Stat. Assoc. 22, 209-212; computed by SciPy.

    Examples
    --------
    >>> [round(bound, 3) for bound in wilson_interval(19, 20)]
    [0.804, 0.989]
    """
    from scipy.stats import binomtest

    interval = binomtest(met, pieces).proportion_ci(confidence, method="wilson")
    return float(interval.low), float(interval.high)


def _causes(spreads: Sequence[ProductionSpread], normals: Array, times: Array) -> tuple[tuple[str, float], ...]:
    """Split the variance that a linear fit explains among the spreads."""
    is_finite = np.isfinite(times)
    if is_finite.sum() < 4 * len(spreads):
        return ()
    centred = normals[:, is_finite] - normals[:, is_finite].mean(axis=1, keepdims=True)
    target = times[is_finite] - times[is_finite].mean()
    return tuple((spreads[k].field.path, share) for k, share in variance_shares(centred.T, target))
