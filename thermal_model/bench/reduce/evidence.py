"""What a run shows of its contents: points in time and temperature, with how well each is known."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.bench.records import Probe, Run

NARROW = 120.0
"""A passing known to so much is a point, anything wider an interval. [s]"""


@dataclass(frozen=True)
class Offsets:
    """What each of k thermometers shows too much.

    Attributes
    ----------
    names : tuple of str
    mean : (k,) array
        [K]
    covariance : (k, k) array
        [K2]
    """

    names: tuple[str, ...]
    mean: Array
    covariance: Array

    def of(self, name: str) -> float:
        """Return the offset of a probe. [K]"""
        return float(self.mean[self.names.index(name)])

    def spread(self, name: str) -> float:
        """Return its standard uncertainty. [K]"""
        k = self.names.index(name)
        return math.sqrt(float(self.covariance[k, k]))

    def difference(self, first: str, second: str) -> tuple[float, float]:
        """Return how much more the first shows than the second, and its standard uncertainty. [K]"""
        i, j = self.names.index(first), self.names.index(second)
        variance = self.covariance[i, i] + self.covariance[j, j] - 2.0 * self.covariance[i, j]
        return float(self.mean[i] - self.mean[j]), math.sqrt(max(float(variance), 0.0))


def unchecked_offsets(probes: Mapping[str, Probe]) -> Offsets:
    """Return what is known of offsets before any check."""
    spreads = np.array([probe.offset_spread for probe in probes.values()])
    return Offsets(tuple(probes), np.zeros(len(spreads)), np.diag(spreads**2))


@dataclass(frozen=True)
class Points:
    """Points of a run in time, n in all.

    Attributes
    ----------
    time, time_spread : (n,) array
        [s]
    temperature : (n,) array
        With the probes' offsets taken off. [K]
    deviation : (n,) array
        Standard uncertainty of each alone: noise and the display's step. [K]
    offset_spread : (n,) array
        Standard uncertainty of the offset of its probe, the same error in all points of that probe. [K]
    room : (n,) array
        [K]
    """

    time: Array
    time_spread: Array
    temperature: Array
    deviation: Array
    offset_spread: Array
    room: Array

    def __len__(self) -> int:
        return len(self.time)

    @property
    def repeats(self) -> float:
        """How many points stand for each different display: their rounding is the same error."""
        return len(self) / len(np.unique(np.round(self.temperature, 4)))

    @property
    def excess(self) -> Array:
        """Temperature over the room, (n,). [K]"""
        return self.temperature - self.room

    def take(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> "Points":
        """Return some of the points."""
        return Points(**{name: column[keep] for name, column in vars(self).items()})


def reading_deviation(probe: Probe) -> float:
    """Return the standard uncertainty of one reading: scatter and rounding to a step. [K]"""
    return math.hypot(probe.noise, probe.resolution / math.sqrt(12.0))


def points_of(run: Run, probes: Mapping[str, Probe], offsets: Offsets) -> Points:
    """Return readings and narrow passings of a run as points, times rising."""
    rows = []
    for r in run.readings:
        name = r.probe or run.probe
        rows.append((r.time, r.time_spread, r.temperature, name, reading_deviation(probes[name])))
    for p in run.passings:
        name, width = p.probe or run.probe, p.latest - p.earliest
        if width <= NARROW:
            # At the moment of passing the display stands between two steps: no rounding.
            middle = 0.5 * (p.earliest + p.latest)
            rows.append((middle, width / math.sqrt(12.0), p.mark, name, probes[name].noise))
    rows.sort(key=lambda row: row[0])
    time = np.array([row[0] for row in rows])
    return Points(
        time,
        np.array([row[1] for row in rows]),
        np.array([row[2] - offsets.of(row[3]) for row in rows]),
        np.array([row[4] for row in rows]),
        np.array([offsets.spread(row[3]) for row in rows]),
        room_at(run, time),
    )


def room_at(run: Run, time: Array) -> Array:
    """Return the room temperature at times [s], (n,). [K]"""
    profile = run.scenario.room_profile
    if profile is None:
        return np.full(len(time), float(run.scenario.room))
    return np.asarray(np.interp(time, *profile.corners()) + float(profile.shift))
