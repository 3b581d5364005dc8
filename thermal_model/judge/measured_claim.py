"""A claim judged by readings alone: whether the contents were still on the right side when the claimed time was over.

Nothing is carried to other conditions: where a run was not made as the claim asks, its verdict is undecided, unless
what differed could only have helped the other side.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from geometries.constants import ZERO_CELSIUS
from geometries.errors import InputError
from thermal_model.bench.records import Probe, Run, temperature_at_start
from thermal_model.bench.reduce.evidence import Offsets
from thermal_model.bench.reduce.hold_times import MeasuredHoldTime, measured_hold_time
from thermal_model.judge.claims import Claim, Verdict, verdict_of

START_TOLERANCE, ROOM_TOLERANCE, FILL_TOLERANCE = 1.0, 2.0, 0.05
"""A run counts as made at a start, in a room and at a fill if it is so near [K, K, -]: what JIS S 2006 (second-hand)
allows of start and room; of the fill judgement."""


@dataclass(frozen=True)
class AskedConditions:
    """In what a claim is to hold; None where nobody asks. [K, K, m3]"""

    start: float | None = None
    room: float | None = None
    fill: float | None = None


@dataclass(frozen=True)
class Departure:
    """Where a run was not made as asked.

    Attributes
    ----------
    words : str
    helps : bool or None
        Whether it lets the contents hold longer; None where it can't be said.
    """

    words: str
    helps: bool | None


@dataclass(frozen=True)
class MeasuredClaim:
    """A claim against a run.

    Attributes
    ----------
    claim : Claim
    limit : float
        [K]
    run : str
    verdict : Verdict
    probability : float or None
        That the contents held for as long as claimed; None where the readings only bound the time.
    held : MeasuredHoldTime
        What the readings say of the time.
    departures : tuple of Departure
    """

    claim: Claim
    limit: float
    run: str
    verdict: Verdict
    probability: float | None
    held: MeasuredHoldTime
    departures: tuple[Departure, ...]


def judge_claim(
    claim: Claim, limit: float, run: Run, probes: Mapping[str, Probe], offsets: Offsets, asked: AskedConditions
) -> MeasuredClaim:
    """Judge a claim by one run.

    Parameters
    ----------
    claim : Claim
    limit : float
        Above which hot, below which cold. [K]
    run : Run
    probes : mapping of str to Probe
    offsets : Offsets
        Taken off the readings; their uncertainty enters the probability.
    asked : AskedConditions

    Raises
    ------
    InputError
        If the run did not begin on the side of the limit that the claim says.
    """
    start, sign = temperature_at_start(run), 1.0 if claim.is_hot else -1.0
    if sign * (start - limit) <= 0.0:
        side = "above" if claim.is_hot else "below"
        message = (
            f"started at {start - ZERO_CELSIUS:.1f} C, which is not {side} {limit - ZERO_CELSIUS:g} C; take another run"
        )
        raise InputError(message, run.name)
    held = measured_hold_time(run, limit, probes, offsets)
    probability = _probability(held, claim.duration)
    departures = tuple(departures_from(asked, claim, run))
    return MeasuredClaim(
        claim, limit, run.name, _verdict(held, claim.duration, probability, departures), probability, held, departures
    )


def _probability(held: MeasuredHoldTime, duration: float) -> float | None:
    """Return the probability that a hold time is at least a duration, normal about its best value."""
    if held.time is None or held.spread is None:
        return None
    from scipy.special import ndtr

    return float(ndtr((held.time - duration) / max(held.spread, 1e-9)))


def _verdict(
    held: MeasuredHoldTime, duration: float, probability: float | None, departures: tuple[Departure, ...]
) -> Verdict:
    if probability is not None:
        plain = verdict_of(probability)
    elif held.low >= duration:
        plain = Verdict.PASS
    else:
        plain = Verdict.FAIL if held.high <= duration else Verdict.UNDECIDED
    # Conditions that made it harder do not take a pass back, nor do those that made it easier a failure.
    stands = {Verdict.PASS: False, Verdict.FAIL: True}.get(plain)
    return plain if all(d.helps is stands for d in departures) else Verdict.UNDECIDED


def departures_from(asked: AskedConditions, claim: Claim, run: Run) -> list[Departure]:
    """Return where a run was not made as asked."""
    found = []
    if asked.start is not None:
        start = temperature_at_start(run)
        if not math.isfinite(run.start_spread):
            found.append(Departure("nobody measured the start", None))
        elif abs(start - asked.start) > START_TOLERANCE:
            words = f"started at {start - ZERO_CELSIUS:.1f} °C, asked are {asked.start - ZERO_CELSIUS:.1f} °C"
            found.append(Departure(words, (start > asked.start) is claim.is_hot))
    if asked.room is not None:
        found += _room_departures(asked.room, claim, run)
    fill = run.scenario.fill
    if asked.fill is not None and fill is None:
        found.append(Departure("nobody measured the fill", None))
    elif asked.fill is not None and fill is not None and abs(float(fill) / asked.fill - 1.0) > FILL_TOLERANCE:
        words = f"filled with {1e6 * float(fill):.0f} mL, asked are {1e6 * asked.fill:.0f} mL"
        found.append(Departure(words, bool(float(fill) > asked.fill)))
    return found


def _room_departures(asked: float, claim: Claim, run: Run) -> list[Departure]:
    if not math.isfinite(run.room_spread):
        return [Departure("nobody measured the room", None)]
    profile = run.scenario.room_profile
    temperatures = [float(run.scenario.room)] if profile is None else [float(t) for t in profile.temperatures]
    low, high = min(temperatures), max(temperatures)
    if max(abs(low - asked), abs(high - asked)) <= ROOM_TOLERANCE:
        return []
    shown = (
        f"{low - ZERO_CELSIUS:.1f} °C" if low == high else f"{low - ZERO_CELSIUS:.1f} to {high - ZERO_CELSIUS:.1f} °C"
    )
    words = f"the room was at {shown}, asked are {asked - ZERO_CELSIUS:.1f} °C"
    if low >= asked or high <= asked:
        return [Departure(words, (low >= asked) is claim.is_hot)]
    return [Departure(words, None)]
