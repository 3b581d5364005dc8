"""How likely the readings are: every kind of evidence as rows that a linearised model predicts.

A reading, and a mark that was passed between two times, say that a display stood at a temperature at a time that is
known so well; a mark that was not passed by the end says that it stood beyond. The noise has the heavy tails of
Student's t, so that an outlier pulls little.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, vstack

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import (
    OFFSET,
    PLACEMENT,
    PLACEMENT_SPREAD,
    RATE_LEVEL,
    RATE_SPREAD,
    RATE_TILT,
    Coordinates,
    Owner,
)
from thermal_model.bench.calibration.response import Response, Watched
from thermal_model.bench.records import Bench, Probe, Run
from thermal_model.solver.scatter import Indices

DEGREES_OF_FREEDOM = 4.0
"""Of the noise. A reading five deviations off counts a sixth of one on the curve; common practice, no source."""

INFORMATION = (DEGREES_OF_FREEDOM + 1.0) / (DEGREES_OF_FREEDOM + 3.0)
"""Fisher information of the location of Student's t, in units of the scale; Lange, Little and Taylor 1989, appendix."""


@dataclass(frozen=True)
class Evidence:
    """All m pieces of evidence of a bench, row by row: run after run, then the checks of two probes.

    Attributes
    ----------
    run : (m,) int array
        Number of the run, -1 for a check of two probes.
    probe : (m,) int array
        Number of the probe, -1 for a check of two.
    moment : (m,) int array
        Number of the time among those at which the run is watched.
    shown : (m,) array
        What the display showed, the mark, or the difference of two displays. [K]
    time : (m,) array
        [s]
    display_variance, time_variance : (m,) array
        Of noise and rounding; of the time. [K2, s2]
    side : (m,) int array
        0 for a value; +1 if the display stood above `shown`, -1 if below.
    line : (m,) int array
        In the file it came from.
    is_mark : (m,) bool array
        A mark passed or not, rather than a reading.
    """

    run: Indices
    probe: Indices
    moment: Indices
    shown: Array
    time: Array
    display_variance: Array
    time_variance: Array
    side: Indices
    line: Indices
    is_mark: NDArray[np.bool_]

    @property
    def count(self) -> int:
        """Number of pieces m."""
        return len(self.run)

    def of_run(self, number: int) -> Indices:
        """Return the rows of a run."""
        return np.flatnonzero(self.run == number)


class _Piece(NamedTuple):
    run: int
    probe: int
    time: float
    shown: float
    display_variance: float
    time_variance: float
    side: int
    line: int
    is_mark: bool


def display_variance(probe: Probe) -> float:
    """Return the variance of noise and of rounding to a display's step. [K2]"""
    return probe.noise**2 + probe.resolution**2 / 12.0


def gather_evidence(bench: Bench) -> tuple[Evidence, list[Watched]]:
    """Return all evidence, and the times at which each run is watched."""
    pieces: list[_Piece] = []
    watched, moments = [], []
    for number, run in enumerate(bench.runs):
        of_run = _pieces_of(number, run, bench)
        times, inverse = np.unique([piece.time for piece in of_run], return_inverse=True)
        watched.append(Watched(run, np.asarray(times, dtype=float)))
        pieces += of_run
        moments += inverse.tolist()
    for check in bench.checks:
        variance = display_variance(bench.probes[check.first]) + display_variance(bench.probes[check.second])
        difference = check.first_temperature - check.second_temperature
        pieces.append(_Piece(-1, -1, 0.0, difference, variance, 0.0, 0, check.line, False))
        moments.append(0)
    columns = {name: np.array([getattr(piece, name) for piece in pieces]) for name in _Piece._fields}
    return Evidence(moment=np.array(moments, dtype=np.intp), **columns), watched


def _pieces_of(number: int, run: Run, bench: Bench) -> list[_Piece]:
    names = list(bench.probes)
    pieces = []
    for r in run.readings:
        name = r.probe or run.probe
        variance, probe = display_variance(bench.probes[name]), names.index(name)
        pieces.append(_Piece(number, probe, r.time, r.temperature, variance, r.time_spread**2, 0, r.line, False))
    for p in run.passings:
        name = p.probe or run.probe
        variance, probe = display_variance(bench.probes[name]), names.index(name)
        if np.isfinite(p.latest):
            # Somewhere between two times, anywhere alike: the variance of a uniform distribution.
            width, middle = p.latest - p.earliest, 0.5 * (p.latest + p.earliest)
            pieces.append(_Piece(number, probe, middle, p.mark, variance, width**2 / 12.0, 0, p.line, True))
        else:
            side = 1 if _starts_above(run, p.mark) else -1
            pieces.append(_Piece(number, probe, p.earliest, p.mark, variance, 0.0, side, p.line, True))
    return pieces


def _starts_above(run: Run, mark: float) -> bool:
    if np.isfinite(run.start_spread):
        return bool(run.scenario.start > mark)
    return bool(mark > run.scenario.room)  # a mark lies between start and room


@dataclass(frozen=True)
class Linearised:
    """What the displays would show about a point, to first order.

    Attributes
    ----------
    evidence : Evidence
    at : (p,) array
        The point. [-]
    predicted : (m,) array
        There. [K]
    direct : (m, p) sparse array
        Derivatives of `predicted` by what the model is nearly straight in. [K]
    scale : (m,) array
        Of the noise, with that of the time. [K]
    coordinates : Coordinates
        What `at` lists.
    widths : (p,) array
        Standard deviations of the coordinates before any reading. [-]
    """

    evidence: Evidence
    at: Array
    predicted: Array
    direct: csr_array
    scale: Array
    coordinates: Coordinates
    widths: Array

    @cached_property
    def matrix(self) -> csr_array:
        """Derivatives of `predicted` by all coordinates, (m, p). [K]"""
        return csr_array(self.slopes_at(self.at))

    def shown_at(self, x: Array) -> Array:
        """Return what the displays would show at a point. [K]"""
        return self.predicted + self.direct @ (self.coordinates.straight(x, self.at))

    def slopes_at(self, x: Array) -> csr_array:
        """Return the derivatives of `shown_at` at a point, (m, p). [K]"""
        return csr_array(self.direct.multiply(self.coordinates.straight_slopes(x, self.at)))

    def residuals(self, x: Array) -> Array:
        """Return residuals, (m,), whose squares add up to twice the loss against a perfect fit. [-]"""
        return robust_residuals(self._distance(x), self.evidence.side)

    def residual_factor(self, x: Array) -> Array:
        """Return what turns derivatives of the predictions into those of the residuals, (m,). [K-1]"""
        return robust_slopes(self._distance(x), self.evidence.side) / self.scale

    def weights(self, x: Array) -> Array:
        """Return what each row counts, (m,): its information in units of a reading of perfect Gaussian noise."""
        return robust_weights(self._distance(x), self.evidence.side)

    def _distance(self, x: Array) -> Array:
        """Return how far the predictions are above what was shown, in units of the noise."""
        return (self.shown_at(x) - self.evidence.shown) / self.scale


def robust_residuals(distance: Array, side: Indices) -> Array:
    """Return residuals of distances from what was shown, in units of the noise.

    Parameters
    ----------
    distance : (m,) array
    side : (m,) int array
        As in Evidence.

    Notes
    -----
    Half the square is -log p + log p_max, for Student's t about the value, or for the normal probability to stand on
    a side of it.
    """
    nu = DEGREES_OF_FREEDOM
    value = np.sign(distance) * np.sqrt((nu + 1.0) * np.log1p(distance**2 / nu))
    return np.where(side == 0, value, -side * np.sqrt(-2.0 * _log_side(side * distance)))


def robust_slopes(distance: Array, side: Indices) -> Array:
    """Return the derivative of `robust_residuals` by the distance, (m,)."""
    nu = DEGREES_OF_FREEDOM
    residual = robust_residuals(distance, side)
    is_small = np.abs(residual) < 1e-9
    safe = np.where(is_small, 1.0, residual)
    value = np.where(is_small, np.sqrt((nu + 1.0) / nu), (nu + 1.0) * distance / (nu + distance**2) / safe)
    beyond = side * distance
    density = np.exp(-0.5 * beyond**2 - _log_side(beyond)) / np.sqrt(2.0 * np.pi)
    return np.where(side == 0, value, np.where(is_small, 0.0, -side * density / safe))


def robust_weights(distance: Array, side: Indices) -> Array:
    """Return the information of rows at distances from what was shown, in units of perfect Gaussian noise.

    Values far off count less.
    """
    nu = DEGREES_OF_FREEDOM
    values = INFORMATION * np.minimum((nu + 1.0) / (nu + distance**2), 1.0)
    return np.where(side == 0, values, robust_slopes(distance, side) ** 2)


def _log_side(distance: Array) -> Array:
    from scipy.special import log_ndtr

    return log_ndtr(np.clip(distance, -1e3, 8.0))


class Displays:
    """What displays show of the contents: probe offsets, and what the model leaves out of the rate of cooling.

    Parameters
    ----------
    bench : Bench
    coordinates : Coordinates
    evidence : Evidence
    """

    def __init__(self, bench: Bench, coordinates: Coordinates, evidence: Evidence) -> None:
        self._bench, self._coordinates, self._evidence = bench, coordinates, evidence

    def linearised(self, responses: Mapping[int, Response], x: Array) -> Linearised:
        """Return what the displays would show about a point, from the responses of some runs there, by number.

        Derivatives by what the networks are built from are those that the responses have.
        """
        evidence = self._evidence
        entries: list[tuple[Array, Array, Array]] = []
        predicted, slope = np.zeros(evidence.count), np.zeros(evidence.count)
        for number, response in responses.items():
            here = evidence.of_run(number)
            moment = evidence.moment[here]
            predicted[here], slope[here] = response.temperature[moment], response.slope[moment]
            if response.by_normal is not None:
                entries.append(self._entries(number, response.by_normal[moment], here, x))
        about_runs = np.flatnonzero(evidence.run >= 0)
        matrix = csr_array(vstack([self.direct(slope[about_runs], about_runs), self._checks()], format="csr"))
        predicted = predicted + matrix @ x
        if entries:
            rows, columns, values = map(np.concatenate, zip(*entries, strict=True))
            matrix = csr_array(csr_array((values, (rows, columns)), shape=matrix.shape) + matrix)
        scale = np.sqrt(evidence.display_variance + slope**2 * evidence.time_variance)
        return Linearised(evidence, x.copy(), predicted, matrix, scale, self._coordinates, np.ones(len(x)))

    def _entries(self, number: int, by_normal: Array, here: Indices, x: Array) -> tuple[Array, Array, Array]:
        """Return the derivatives of a run's rows by what its network is built from: rows, columns, values."""
        local, places, slopes = self._coordinates.network_slopes(self._bench.runs[number], x)
        # Not by how lids seat apart: see SEATING_WIDTH.
        moves = np.any(by_normal[:, local] != 0.0, axis=0) & (places != self._coordinates.spread_place)
        local, places, slopes = local[moves], places[moves], slopes[moves]
        block = by_normal[:, local] * slopes
        return np.repeat(here, len(places)), np.tile(places, len(here)), block.ravel()

    def direct(self, slope: Array, rows: Indices) -> csr_array:
        """Return the derivatives of rows about runs by offsets and by errors of the rate, which act without a network.

        Parameters
        ----------
        slope : (k,) array
            Rate of change of the contents at these rows. [K s-1]
        rows : (k,) int array

        Returns
        -------
        (k, p) sparse array
        """
        about, tilt = self._acts_directly
        stretch = self._evidence.time[rows] * slope * RATE_SPREAD
        offsets = np.array([probe.offset_spread for probe in self._bench.probes.values()])[self._evidence.probe[rows]]
        values = [offsets, stretch, stretch * tilt[rows], np.full(len(rows), PLACEMENT_SPREAD)]
        places = (np.tile(np.arange(len(rows)), len(values)), about[:, rows].ravel())
        return csr_array((np.concatenate(values), places), shape=(len(rows), self._coordinates.count))

    @cached_property
    def _acts_directly(self) -> tuple[Indices, Array]:
        """Places of the offset, level, tilt and placement that rows about runs depend on, and the tilt, -1 to 1."""
        evidence, coordinates = self._evidence, self._coordinates
        rows = np.flatnonzero(evidence.run >= 0)
        run, time = evidence.run[rows], evidence.time[rows]
        probes = np.array([coordinates.place(Owner.PROBE, name, OFFSET) for name in self._bench.probes], dtype=np.intp)
        effects = [
            np.array([coordinates.place(Owner.RUN, one.name, effect) for one in self._bench.runs], dtype=np.intp)[run]
            for effect in (RATE_LEVEL, RATE_TILT, PLACEMENT)
        ]
        last = np.zeros(len(self._bench.runs))
        np.maximum.at(last, run, time)
        return np.stack([probes[evidence.probe[rows]], *effects]), 2.0 * time / np.maximum(last[run], 1.0) - 1.0

    def _checks(self) -> csr_array:
        """Return the derivatives of the checks of two probes, (c, p)."""
        matrix = np.zeros((len(self._bench.checks), self._coordinates.count))
        for row, check in enumerate(self._bench.checks):
            for sign, probe in ((1.0, check.first), (-1.0, check.second)):
                place = self._coordinates.place(Owner.PROBE, probe, OFFSET)
                matrix[row, place] += sign * self._bench.probes[probe].offset_spread
        return csr_array(matrix)
