"""A standard test evaluated from readings: the temperature after six hours, as well as display and probe know it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container, closed_capacity
from geometries.errors import InputError
from geometries.numeric import Array
from geometries.unsure import NINE_IN_TEN
from thermal_model.bench.records import Probe, Reading
from thermal_model.judge.claims import Verdict, verdict_of
from thermal_model.judge.standards import CONDITIONS, Procedure, StandardResult, Vessel, limit_notes, minimum_of

TIME_TOLERANCE = 300.0
"""How far from six hours a test may be read [s]; EN 12546-1, second-hand, taken for both."""

FILL_TOLERANCE = 0.05
"""By which a fill may miss the stopper's lower end, relative; judgement."""

STANDARD_ROOM = 293.15
"""Taken between two readings where nobody measured the room. [K]"""


@dataclass(frozen=True)
class MeasuredRun:
    """What a bench has of a run.

    Attributes
    ----------
    name : str
    readings : sequence of Reading
        Times rising.
    start : float or None
        Measured when the lid was closed; None where nobody did. [K]
    room : float or None
        None where nobody measured. [K]
    probe : Probe
    fill : float or None
        None where nobody measured. [m3]
    """

    name: str
    readings: Sequence[Reading]
    start: float | None
    room: float | None
    probe: Probe
    fill: float | None = None


def evaluate(procedure: Procedure, container: Container, run: MeasuredRun, vessel: Vessel) -> StandardResult:
    """Judge a run by a standard test's limit.

    Parameters
    ----------
    procedure : Procedure
    container : Container
    run : MeasuredRun
    vessel : Vessel
        Whose limits are asked for.

    Returns
    -------
    StandardResult
        Undecided where the run was not the standard's procedure, whatever it shows.

    Raises
    ------
    InputError
        If there are no readings about six hours after the start.

    Notes
    -----
    The temperature is normal about its interpolated value: noise and display (its step over the square root of 12)
    of the reading, the probe's offset, and the time's spread times the rate of cooling.
    """
    temperature, spread = temperature_after(run, CONDITIONS[procedure].after)
    low, high = temperature - NINE_IN_TEN * spread, temperature + NINE_IN_TEN * spread
    minimum = minimum_of(procedure, container, vessel)
    departures = tuple(departures_from(procedure, container, run))
    notes = tuple(limit_notes(procedure, container, vessel))
    if minimum is None:
        return StandardResult(
            procedure, Verdict.NO_LIMIT, None, low, temperature, high, None, None, None, notes, departures
        )
    from scipy.special import ndtr

    probability = float(ndtr((temperature - minimum.minimum) / spread))
    verdict = Verdict.UNDECIDED if departures else verdict_of(probability)
    return StandardResult(
        procedure, verdict, minimum, low, temperature, high, probability, None, None, notes, departures
    )


def temperature_after(run: MeasuredRun, after: float) -> tuple[float, float]:
    """Return the temperature at a time, from the readings about it, and its standard deviation. [K]

    Between two readings the excess over the room is taken to fall exponentially.

    Raises
    ------
    InputError
        If no readings enclose the time and none is within TIME_TOLERANCE.
    """
    times = np.array([reading.time for reading in run.readings])
    shown = np.array([reading.temperature for reading in run.readings])
    if not len(times) or after > times[-1] + TIME_TOLERANCE or after < times[0] - TIME_TOLERANCE:
        span = f"they go from {times[0] / 3600.0:.2f} to {times[-1] / 3600.0:.2f} h" if len(times) else "there are none"
        raise InputError(f"needs readings about {after / 3600.0:g} h after the start; {span}", run.name)
    excess = shown - (STANDARD_ROOM if run.room is None else run.room)
    rate = _relative_rate(times, excess, after)
    near = int(np.argmin(np.abs(times - after)))
    temperature = shown[near] + excess[near] * np.expm1(rate * (after - times[near]))
    probe, drift = run.probe, abs(rate * excess[near]) * run.readings[near].time_spread
    spread = np.linalg.norm([probe.noise, probe.resolution / np.sqrt(12.0), probe.offset_spread, drift])
    return float(temperature), float(spread)


def _relative_rate(times: Array, excess: Array, after: float) -> float:
    """Return the rate of an exponential through the two readings about a time, zero where there is none. [s-1]"""
    if len(times) < 2:
        return 0.0
    k = int(np.clip(np.searchsorted(times, after), 1, len(times) - 1))
    before, later = excess[k - 1], excess[k]
    return float(np.log(later / before) / (times[k] - times[k - 1])) if before * later > 0.0 else 0.0


def departures_from(procedure: Procedure, container: Container, run: MeasuredRun) -> list[str]:
    """Return where a run was not the procedure's."""
    asked, notes = CONDITIONS[procedure], []
    if run.start is None:
        notes.append("nobody measured the start")
    elif abs(run.start - asked.start) > asked.start_tolerance:
        notes.append(
            f"started at {run.start - ZERO_CELSIUS:.1f} °C, asked are {asked.start - ZERO_CELSIUS:.0f} "
            f"± {asked.start_tolerance:g} °C"
        )
    if run.room is None:
        notes.append("nobody measured the room")
    elif abs(run.room - asked.room) > asked.room_tolerance:
        notes.append(
            f"the room was at {run.room - ZERO_CELSIUS:.1f} °C, asked are {asked.room - ZERO_CELSIUS:.0f} "
            f"± {asked.room_tolerance:g} °C"
        )
    full = float(closed_capacity(container))
    if run.fill is not None and abs(run.fill - full) > FILL_TOLERANCE * full:
        notes.append(f"filled with {1e6 * run.fill:.0f} mL, asked are {1e6 * full:.0f} mL, up to lid or stopper")
    return notes
