"""What the runs of a bench can't tell apart, and which further run would.

Two unknowns are confused where each could still move the readings visibly, and what one adds the other takes away.
Further runs are tried on paper: the engine says how they would answer, linear algebra how far they would narrow it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geometries.container import closed_capacity
from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import (
    NETWORK_NAMES,
    OFFSET,
    PLACEMENT_SPREAD,
    RATE_SPREAD,
    SEATING,
    Coordinate,
    Owner,
)
from thermal_model.bench.calibration.fit import Fit
from thermal_model.bench.calibration.likelihood import display_variance
from thermal_model.bench.calibration.posterior import seating_of_next_run
from thermal_model.bench.calibration.response import Response, ResponseModel, Watched
from thermal_model.bench.records import Run
from thermal_model.scenario import Orientation, Scenario
from thermal_model.uncertainty import PRIORS, Scope

VISIBLE = 1.0
"""A confusion counts if either unknown alone could still move a typical reading by this much of its noise. [-]"""

CONFUSED = 0.3
"""Size of a correlation from which on two unknowns are said to be confused. [-]"""

MOST_CONFUSIONS = 3

_HOURS = np.linspace(0.25, 8.0, 12) * 3600.0

_OF_A_RUN = np.array([PRIORS[name].scope is Scope.RUN for name in NETWORK_NAMES])


@dataclass(frozen=True)
class Remedy:
    """A further run, in words, and by which share it would narrow what is confused."""

    words: str
    narrows: float


@dataclass(frozen=True)
class Confusion:
    """Two unknowns that the runs can't tell apart.

    Attributes
    ----------
    container : str
    first, second : Coordinate
    correlation : float
    remedy : Remedy
        The further run that would help most.
    """

    container: str
    first: Coordinate
    second: Coordinate
    correlation: float
    remedy: Remedy


@dataclass(frozen=True)
class _Pair:
    container: str
    first: int
    second: int
    correlation: float
    size: float


def confusions(fit: Fit) -> list[Confusion]:
    """Return what is most confused, largest first, at most one pair a container, each with the run that would help."""
    pairs = [pair for name in fit.problem.bench.containers if (pair := _largest_pair(fit, name)) is not None]
    pairs = sorted(pairs, key=lambda pair: -pair.size)[:MOST_CONFUSIONS]
    listed = fit.coordinates.listed
    return [
        Confusion(p.container, listed[p.first], listed[p.second], p.correlation, remedy)
        for p, remedy in zip(pairs, _remedies(fit, pairs), strict=True)
    ]


def _largest_pair(fit: Fit, container: str) -> _Pair | None:
    numbers = [n for n, run in enumerate(fit.problem.bench.runs) if run.container == container]
    if not numbers:
        return None
    rows = np.concatenate([fit.evidence.of_run(n) for n in numbers])
    _, places = fit.coordinates.belief_places(container)
    matrix = fit.linearised.matrix[rows].toarray()[:, places] / fit.linearised.scale[rows, None]
    block = fit.covariance[np.ix_(places, places)]
    deviation = np.sqrt(np.diag(block))
    effect = np.sqrt(np.mean(matrix**2, axis=0)) * deviation
    correlation = block / np.outer(deviation, deviation)
    size = np.minimum.outer(effect, effect) * np.abs(correlation)
    size[np.abs(correlation) < CONFUSED] = 0.0
    size[np.minimum.outer(effect, effect) < VISIBLE] = 0.0
    np.fill_diagonal(size, 0.0)
    first, second = np.unravel_index(np.argmax(size), size.shape)
    if size[first, second] <= 0.0:
        return None
    told, largest = float(correlation[first, second]), float(size[first, second])
    return _Pair(container, places[first], places[second], told, largest)


def _remedies(fit: Fit, pairs: Sequence[_Pair]) -> list[Remedy]:
    """Return for each pair the further run that would narrow it most."""
    if not pairs:
        return []
    trials = [(number, words, run) for number, pair in enumerate(pairs) for words, run in _further_runs(fit, pair)]
    # What is a further run's own is not known yet.
    normals = np.stack([np.where(_OF_A_RUN, 0.0, fit.x[fit.coordinates.network_places(run)]) for _, _, run in trials])
    model = ResponseModel([Watched(run, _HOURS) for _, _, run in trials])
    responses = model.with_derivatives(normals, np.arange(len(trials)))
    best = [Remedy("", 0.0)] * len(pairs)
    for (number, words, run), response in zip(trials, responses, strict=True):
        narrows = _narrowing(fit, pairs[number], run, response)
        if narrows > best[number].narrows:
            best[number] = Remedy(words, narrows)
    return best


def _further_runs(fit: Fit, pair: _Pair) -> list[tuple[str, Run]]:
    """Return runs that a kitchen can do, in words and as records."""
    bench = fit.problem.bench
    container = bench.containers[pair.container]
    pattern = next(run for run in bench.runs if run.container == pair.container)
    capacity = float(closed_capacity(container))
    hot, cold, half, full = 363.15, 277.15, 0.5 * capacity, 0.97 * capacity
    plain = Scenario().model_copy(update={"contents": "water", "room": 294.15})
    scenarios: dict[str, dict[str, Any]] = {
        "a cold run, full": {"start": cold, "fill": full},
        "a hot run, full": {"start": hot, "fill": full},
        "a hot run, half full": {"start": hot, "fill": half},
        "a cold run, half full": {"start": cold, "fill": half},
    }
    if container.lid is not None:
        scenarios["a hot run upside down"] = {"start": hot, "fill": full, "orientation": Orientation.INVERTED}
    known = replace(pattern, container_at_run=container, start_spread=0.4, room_spread=0.5, fill_spread=0.01)
    return [(words, replace(known, scenario=plain.model_copy(update=changes))) for words, changes in scenarios.items()]


def _narrowing(fit: Fit, pair: _Pair, run: Run, response: Response) -> float:
    """Return by which share a run would narrow the direction in which a pair is confused."""
    if response.by_normal is None or not np.all(np.isfinite(response.temperature)):
        return 0.0
    probe = fit.problem.bench.probes[run.probe]
    matrix = np.zeros((len(_HOURS), fit.coordinates.count))
    places = np.array(fit.coordinates.network_places(run))
    matrix[:, places[~_OF_A_RUN]] = response.by_normal[:, ~_OF_A_RUN]
    matrix[:, fit.coordinates.place(Owner.PROBE, run.probe, OFFSET)] = probe.offset_spread
    own = _effects_of_run(fit, response.slope, response.by_normal)
    noise = display_variance(probe) * np.eye(len(_HOURS)) + own @ own.T
    direction, here = np.zeros(fit.coordinates.count), [pair.first, pair.second]
    direction[here] = np.linalg.eigh(fit.covariance[np.ix_(here, here)])[1][:, -1]  # in which they are least known
    answer = matrix @ (fit.covariance @ direction)
    innovation = matrix @ fit.covariance @ matrix.T + noise
    before = direction @ fit.covariance @ direction
    gained = answer @ np.linalg.solve(innovation, answer)
    return 1.0 - float(np.sqrt(np.maximum(1.0 - gained / before, 0.0)))


def _effects_of_run(fit: Fit, slope: Array, by_normal: Array) -> Array:
    """Return what a further run would have of its own, as columns of a root of its covariance, (k, e)."""
    stretch = _HOURS * slope * RATE_SPREAD
    columns = [*by_normal[:, _OF_A_RUN].T]
    spread = seating_of_next_run(fit)
    for members in SEATING.values():
        parts = [by_normal[:, NETWORK_NAMES.index(m)] * spread / PRIORS[m].width for m in members]
        columns.append(np.sum(parts, axis=0))
    tilt = 2.0 * _HOURS / _HOURS[-1] - 1.0
    return np.stack([*columns, stretch, stretch * tilt, np.full(len(_HOURS), PLACEMENT_SPREAD)], axis=1)
