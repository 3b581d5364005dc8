"""Which features of containers go with their hold times, and which of them a set of containers can't tell apart."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from geometries.container import Container, annulus_depth, closed_capacity
from geometries.errors import InputError
from geometries.lid import PocketLayer
from geometries.numeric import Array
from thermal_model.assemble.annulus import lowest_seal

FEWEST = 4
"""Containers below which ranks say nothing."""

ALIASED = 0.8
"""Rank correlation between two features from which their credit is told as shared; judgement, no source."""

NOTABLE = 0.5
"""Rank correlation with hold time from which a feature is worth a word; judgement, no source."""

CONTAINERS_PER_FEATURE, MOST_FEATURES = 5, 3
"""Containers for each feature in a regression; common practice asks for 5 to 10, no source."""


@dataclass(frozen=True)
class Feature:
    """Something a ruler or an eye tells of a container.

    Attributes
    ----------
    name : str
    unit : str
        "" for a count, "yes" for what is there or not.
    step : float
        Change in which an effect is told, in the unit.
    value : callable
        Of a container, in the unit.
    presupposes : str
        Name of the feature without which it can't be.
    """

    name: str
    unit: str
    step: float
    value: Callable[[Container], float]
    presupposes: str = ""

    @property
    def is_yes_or_no(self) -> bool:
        """Whether it is there or not."""
        return self.unit == "yes"


def _pocket_depth(container: Container) -> float:
    layers = () if container.lid is None else container.lid.layers
    return sum(float(layer.depth) for layer in layers if isinstance(layer, PocketLayer))


def _plug_depth(container: Container) -> float:
    lid = container.lid
    return 0.0 if lid is None or lid.plug is None else float(lid.plug.depth)


def _has_deep_seal(container: Container) -> bool:
    """Tell whether the lowest seal lies in the lower half of the clearance around the plug."""
    return bool(lowest_seal(container)[0] > 0.5 * annulus_depth(container))


def _has_open_hole(container: Container) -> bool:
    return container.lid is None or any(not hole.closed for hole in container.lid.openings)


def _has_vacuum(container: Container) -> bool:
    gap = container.body.gap
    return gap is not None and gap.kind == "vacuum"


FEATURES = (
    Feature("mouth diameter", "mm", 10.0, lambda c: 2e3 * float(c.body.mouth_radius)),
    Feature("lid layers", "", 1.0, lambda c: float(0 if c.lid is None else len(c.lid.layers))),
    Feature("depth of pockets in the lid", "mm", 10.0, lambda c: 1e3 * _pocket_depth(c)),
    Feature("plug depth", "mm", 10.0, lambda c: 1e3 * _plug_depth(c)),
    Feature("seal deep in the neck", "yes", 1.0, lambda c: float(_has_deep_seal(c)), "plug depth"),
    Feature("open hole over the contents", "yes", 1.0, lambda c: float(_has_open_hole(c))),
    Feature("neck length", "mm", 10.0, lambda c: 0.0 if c.body.neck is None else 1e3 * float(c.body.neck.length)),
    Feature("double wall", "yes", 1.0, lambda c: float(c.body.gap is not None)),
    Feature("vacuum between the walls", "yes", 1.0, lambda c: float(_has_vacuum(c)), "double wall"),
    Feature("inside diameter", "mm", 10.0, lambda c: 2e3 * float(c.body.radius)),
    Feature("capacity under the lid", "mL", 100.0, lambda c: 1e6 * float(closed_capacity(c))),
)


@dataclass(frozen=True)
class Association:
    """How a feature goes with hold time.

    Attributes
    ----------
    feature : Feature
    correlation, low, high : float
        Spearman's rank correlation, and its 90 % interval.
    """

    feature: Feature
    correlation: float
    low: float
    high: float


@dataclass(frozen=True)
class Alias:
    """Two features that occur together, so that the set can't say which of them matters.

    Attributes
    ----------
    one, other : Feature
    correlation : float
        Spearman's, between the two.
    bound : float
        Where one is there or not and the other a number: the value that parts those with it from those without;
        NaN if none does. In the other's unit.
    """

    one: Feature
    other: Feature
    correlation: float
    bound: float


@dataclass(frozen=True)
class Regression:
    """A few features that together tell the log of the hold time.

    Attributes
    ----------
    features : tuple of k Feature
    slopes : (k,) array
        Change of log hold time for each feature's step. [-]
    explained, foretold : float
        Share of the variance it explains, and that it foretells of containers left out one at a time.
    """

    features: tuple[Feature, ...]
    slopes: Array
    explained: float
    foretold: float


@dataclass(frozen=True)
class FeatureStudy:
    """What a set of containers can say of features.

    Attributes
    ----------
    names : tuple of n str
    hold_times : (n,) array
        [s]
    values : dict of str to (n,) array
        Of each feature by name, in its unit.
    associations : tuple of Association
        Strongest first; of features that differ in the set.
    aliases : tuple of Alias
        Strongest first.
    same : tuple of Feature
        That do not differ.
    regression : Regression or None
        None if the set is too small, or nothing foretells better than the mean.
    """

    names: tuple[str, ...]
    hold_times: Array
    values: dict[str, Array]
    associations: tuple[Association, ...]
    aliases: tuple[Alias, ...]
    same: tuple[Feature, ...]
    regression: Regression | None


def study_features(containers: Mapping[str, Container], hold_times: Sequence[float]) -> FeatureStudy:
    """Tell which features go with hold time, measured or predicted, and which can't be told apart.

    Parameters
    ----------
    containers : mapping of str to n Container
    hold_times : sequence of n float
        In the same conditions; all reached. [s]

    Raises
    ------
    InputError
        If there are too few containers.
    """
    if len(containers) < FEWEST:
        message = f"{len(containers)} designs are too few to say what goes with hold time; give {FEWEST} or more"
        raise InputError(message, "designs")
    values = {f.name: np.array([f.value(c) for c in containers.values()]) for f in FEATURES}
    times = np.asarray(hold_times, dtype=float)
    varied = [f for f in FEATURES if np.ptp(values[f.name]) > 1e-9]
    associations = sorted((_association(f, values[f.name], times) for f in varied), key=lambda a: -abs(a.correlation))
    return FeatureStudy(
        names=tuple(containers),
        hold_times=times,
        values=values,
        associations=tuple(associations),
        aliases=tuple(_aliases(varied, values)),
        same=tuple(f for f in FEATURES if f not in varied),
        regression=_best_regression([a.feature for a in associations], values, np.log(times)),
    )


def rank_correlation(one: Array, other: Array) -> float:
    """Return Spearman's rank correlation of two (n,) arrays; ties get their mean rank.

    References
    ----------
    .. [1] Spearman, Am. J. Psychol. 15 (1904) 72-101.

    Examples
    --------
    >>> round(rank_correlation(np.array([1.0, 2.0, 3.0, 4.0]), np.array([2.0, 1.0, 4.0, 3.0])), 6)
    0.6
    """
    from scipy.stats import rankdata

    return float(np.corrcoef(rankdata(one), rankdata(other))[0, 1])


def rank_correlation_interval(correlation: float, count: int) -> tuple[float, float]:
    """Return the 90 % interval of Spearman's correlation of `count` pairs.

    Notes
    -----
    Fisher's z with the variance (1 + r^2 / 2) / (n - 3). Ranks that agree wholly count as half a swap of neighbours
    short of it: a few containers may agree by chance.

    References
    ----------
    .. [1] Bonett and Wright, Psychometrika 65 (2000) 23-28; from memory.
    """
    most = 1.0 - 6.0 / (count * (count**2 - 1))
    held = float(np.clip(correlation, -most, most))
    spread = 1.645 * np.sqrt((1.0 + 0.5 * held**2) / (count - 3))
    middle = np.arctanh(held)
    return float(np.tanh(middle - spread)), float(np.tanh(middle + spread))


def _association(feature: Feature, values: Array, times: Array) -> Association:
    correlation = rank_correlation(values, times)
    return Association(feature, correlation, *rank_correlation_interval(correlation, len(times)))


# --- what can't be told apart ---------------------------------------------------------------------------------


def _aliases(features: Sequence[Feature], values: Mapping[str, Array]) -> list[Alias]:
    found = []
    for one, other in combinations(features, 2):
        correlation = rank_correlation(values[one.name], values[other.name])
        flag, number = (one, other) if one.is_yes_or_no else (other, one)
        bound = _parting_bound(values[flag.name], values[number.name]) if _is_mixed(flag, number) else np.nan
        if abs(correlation) >= ALIASED or np.isfinite(bound):
            found.append(Alias(flag, number, correlation, bound))
    return sorted(found, key=lambda alias: -abs(alias.correlation))


def _is_mixed(flag: Feature, number: Feature) -> bool:
    return flag.is_yes_or_no and not number.is_yes_or_no


def _parting_bound(flag: Array, number: Array) -> float:
    """Return the extreme value of those with a feature if none without it reaches as far, else NaN."""
    with_it, without = number[flag > 0.5], number[flag < 0.5]
    if with_it.max() < without.min():
        return float(with_it.max())
    if with_it.min() > without.max():
        return float(with_it.min())
    return float("nan")


# --- regression on a few --------------------------------------------------------------------------------------


def _best_regression(features: Sequence[Feature], values: Mapping[str, Array], target: Array) -> Regression | None:
    """Return the features that best foretell containers left out one at a time; None if none do."""
    most = min(len(target) // CONTAINERS_PER_FEATURE, MOST_FEATURES)
    best: tuple[float, tuple[Feature, ...]] = (0.0, ())
    for count in range(1, most + 1):
        for chosen in combinations(features, count):
            foretold = _foretold(_design(chosen, values), target)
            if foretold > best[0] + 1e-9:
                best = foretold, chosen
    if not best[1]:
        return None
    design = _design(best[1], values)
    slopes, *_ = np.linalg.lstsq(design, target, rcond=None)
    residual = target - design @ slopes
    explained = 1.0 - float(residual @ residual) / _variation(target)
    return Regression(best[1], np.asarray(slopes[1:], dtype=float), explained, best[0])


def _design(features: Sequence[Feature], values: Mapping[str, Array]) -> Array:
    """Return columns in steps of each feature, after one of ones."""
    columns = [values[f.name] / f.step for f in features]
    return np.stack([np.ones(len(columns[0])), *columns], axis=1)


def _variation(target: Array) -> float:
    centred = target - target.mean()
    return float(centred @ centred)


def _foretold(design: Array, target: Array) -> float:
    """Return the share of the variation foretold of rows left out, 1 - PRESS / variation; -inf if they can't be."""
    basis, triangle = np.linalg.qr(design)
    leverage: NDArray[np.float64] = np.sum(basis**2, axis=1)
    if np.abs(np.diag(triangle)).min() < 1e-9 or leverage.max() > 1.0 - 1e-6:
        return -np.inf
    left_out = (target - basis @ (basis.T @ target)) / (1.0 - leverage)
    return 1.0 - float(left_out @ left_out) / _variation(target)
