"""What a fit says: of every unknown, of every container's next run, of what the displays showed."""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import (
    OFFSET,
    PLACEMENT,
    PLACEMENT_SPREAD,
    RATE_SPREAD,
    SEATING,
    SEATING_SPREAD,
    SEATING_WIDTH,
    Coordinate,
    Owner,
    seating_spread,
)
from thermal_model.bench.calibration.fit import NORMAL_90, Fit
from thermal_model.bench.calibration.response import fill_spread, start_spread
from thermal_model.solver.scatter import Indices
from thermal_model.uncertainty import PRIORS, Belief, Spread

TIME_SPREAD = float(np.sqrt(2.0)) * RATE_SPREAD
"""Of a time that is forecast: level and tilt of what the model leaves out both count at the end of a run. [-]"""


@dataclass(frozen=True)
class Finding:
    """What is now known of one unknown.

    Attributes
    ----------
    coordinate : Coordinate
    value, low, high : float
        Most probable, and the 90 % interval: a factor, or a shift. [-, SI]
    is_factor : bool
    moved : float
        How far the data moved it, in standard deviations of its prior.
    spread : float
        What is left of its prior's standard deviation, 0 to 1.
    """

    coordinate: Coordinate
    value: float
    low: float
    high: float
    is_factor: bool
    moved: float
    spread: float


def findings(fit: Fit) -> list[Finding]:
    """Return what is known of every coordinate, in their order; rates and seats in standard deviations apart."""
    found = []
    for place, coordinate in enumerate(fit.coordinates.listed):
        centre, deviation = float(fit.centre[place]), fit.standard_deviation(place)
        low_high = centre + NORMAL_90 * deviation * np.array([-1.0, 1.0]) if fit.ends is None else fit.ends[:, place]
        width, is_factor = _width(fit, coordinate)
        ends = width * np.append(centre, low_high)
        value, low, high = np.exp(ends).tolist() if is_factor else ends.tolist()
        found.append(Finding(coordinate, value, low, high, is_factor, centre, min(deviation, 1.0)))
    return found


def _width(fit: Fit, coordinate: Coordinate) -> tuple[float, bool]:
    """Return the width of a coordinate's prior, and whether it is of a factor's logarithm."""
    if coordinate.kind is Owner.RUN:
        return _run_width(fit, coordinate)
    if coordinate.kind is Owner.PROBE:
        return fit.problem.bench.probes[coordinate.owner].offset_spread, False
    if coordinate.name == SEATING_SPREAD:
        return SEATING_WIDTH, True
    prior = PRIORS[coordinate.name]
    return prior.width, prior.spread is Spread.FACTOR


def _run_width(fit: Fit, coordinate: Coordinate) -> tuple[float, bool]:
    run = next(run for run in fit.problem.bench.runs if run.name == coordinate.owner)
    if coordinate.name in SEATING:
        return seating_of_next_run(fit), True
    widths = {
        "fill": (fill_spread(run), True),
        "start": (start_spread(run), False),
        "room": (run.room_spread if np.isfinite(run.room_spread) else 3.75, False),
        PLACEMENT: (PLACEMENT_SPREAD, False),
    }
    return widths.get(coordinate.name, (RATE_SPREAD, True))


def seating_of_next_run(fit: Fit) -> float:
    """Return the run-to-run standard deviation of the logarithm of what a lid's seat lets through."""
    return seating_spread(float(fit.centre[fit.coordinates.place(Owner.COMMON, "", SEATING_SPREAD)]))


def probe_offsets(fit: Fit) -> dict[str, tuple[float, float]]:
    """Return by how much each probe shows too much, and the standard deviation of that. [K]"""
    found = {}
    for name, probe in fit.problem.bench.probes.items():
        place, width = fit.coordinates.place(Owner.PROBE, name, OFFSET), probe.offset_spread
        found[name] = width * float(fit.centre[place]), width * fit.standard_deviation(place)
    return found


def belief(fit: Fit, container: str | None, *, seats_anew: bool = True) -> Belief:
    """Return what is known of a container; None: of a container that was not on the bench.

    Its lid will seat anew in the next run: the run-to-run variation is added, unless the container itself is asked
    about, as where containers are ranked.
    """
    names, places = fit.coordinates.belief_places(container)
    spread = seating_of_next_run(fit) if seats_anew else 0.0
    return belief_of(names, fit.centre[places], fit.spread[np.ix_(places, places)], spread)


def belief_of(names: tuple[str, ...], mean: Array, covariance: Array, spread: float) -> Belief:
    """Return what is known where a lid seats anew with so much spread, 0 if it does not."""
    root = np.linalg.cholesky(covariance + seating_covariance(names, spread))
    return Belief(names, mean, np.asarray(root, dtype=float), TIME_SPREAD)


def seating_covariance(names: tuple[str, ...], spread: float) -> Array:
    """Return what a lid that seats anew adds to a covariance of standard normals, (k, k)."""
    added = np.zeros((len(names), len(names)))
    for members in SEATING.values():
        here = [names.index(name) for name in members if name in names]
        widths = np.array([PRIORS[names[k]].width for k in here])
        added[np.ix_(here, here)] += np.outer(spread / widths, spread / widths)
    return added


@dataclass(frozen=True)
class Shown:
    """What the fitted model says the displays showed in a run, beside what they did show.

    Attributes
    ----------
    rows : (k,) int array
        In the evidence.
    predicted : (k,) array
        [K]
    deviation : (k,) array
        Standard deviation of the prediction, noise apart. [K]
    residual : (k,) array
        Shown less predicted. [K]
    """

    rows: Indices
    predicted: Array
    deviation: Array
    residual: Array


def shown_of_run(fit: Fit, number: int) -> Shown:
    """Return predictions and residuals of a run's evidence."""
    rows = fit.evidence.of_run(number)
    matrix = fit.linearised.matrix[rows].toarray()
    deviation = np.sqrt(np.sum((matrix @ fit.covariance) * matrix, axis=1))
    predicted = fit.linearised.predicted[rows]
    return Shown(rows, predicted, deviation, fit.evidence.shown[rows] - predicted)
