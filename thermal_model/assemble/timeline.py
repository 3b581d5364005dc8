"""What happens when: preheat, openings and steps of the room cut a run into stretches, each with one table of links.

Lanes whose stretches follow each other alike share a network; the times themselves may differ from lane to lane.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from typing import Any

import numpy as np

from geometries.checks import DimensionProblem
from geometries.container import Container
from geometries.errors import InputProblem, refuse
from geometries.numeric import Array, Numeric
from thermal_model.assemble.contents import start_volume
from thermal_model.scenario import Opening, Scenario

LONGEST_RUN = 14 * 86400.0
"""Openings are listed up to this time. [s]"""

MOST_OPENINGS = 400
"""Openings that are listed; a run that outlasts the list ends there, as one that can't be computed."""

LEAST_LEFT = 0.02
"""Share of the contents that has to stay: less is an empty container."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """From a time to another [s], with the lid on or off, at a level of the contents."""

    start: float
    end: float
    is_lid_on: bool
    level: int


@dataclass(frozen=True, slots=True)
class Timeline:
    """A run's stretches, one after the other.

    Attributes
    ----------
    stretches : tuple of Stretch
        The first is the preheat where there is one.
    poured : tuple of float
        Up to each level, 0 for the first. [m3]
    known_until : float
        When the list of openings ends; infinite if it holds all of them. [s]
    problem : str
        What of the openings can't be, "" if all is well.
    events : tuple of PourEvent
    """

    stretches: tuple[Stretch, ...]
    poured: tuple[float, ...] = (0.0,)
    known_until: float = np.inf
    problem: str = ""
    events: "tuple[PourEvent, ...]" = ()

    @property
    def pattern(self) -> tuple[tuple[bool, int], ...]:
        """What two lanes must have in common to share a network."""
        return tuple((stretch.is_lid_on, stretch.level) for stretch in self.stretches)


@dataclass(frozen=True, slots=True)
class _Opening:
    """An opening of one lane, as in the scenario. [s, s, m3, s]"""

    at: float
    duration: float
    pour: float
    every: float | None


@dataclass(frozen=True, slots=True)
class PourEvent:
    """The lid comes off at a time, for a duration [s]; so much has been poured from then on [m3]."""

    at: float
    duration: float
    level: int
    poured: float


def timelines(container: Container, scenario: Scenario, lanes: int = 1) -> list[Timeline]:
    """Return the timeline of each of n lanes."""
    steps, before = _room_steps(scenario), scenario.preheat
    if before is None and not scenario.openings:
        return [_timeline(None, np.inf, (), steps)] * lanes
    preheat = [None] * lanes if before is None else np.broadcast_to(before.duration, (lanes,)).tolist()
    pours = any(np.any(np.asarray(opening.pour) > 0.0) for opening in scenario.openings)
    volume = np.broadcast_to(start_volume(container, scenario) if pours else np.inf, (lanes,))
    columns = [tuple(_opening_of(opening, lane) for opening in scenario.openings) for lane in range(lanes)]
    rows = zip(preheat, volume.tolist(), columns, strict=True)
    return [_timeline(duration, held, openings, steps) for duration, held, openings in rows]


@dataclass(frozen=True)
class Timetable:
    """The timelines of n lanes that share a network.

    Attributes
    ----------
    pattern : tuple of (bool, int)
        Whether the lid is on, and the level, in each of k stretches.
    starts, ends : (k, n) array
        [s]
    poured : (l, n) array
        Up to each level. [m3]
    known_until : (n,) array
        [s]
    """

    pattern: tuple[tuple[bool, int], ...]
    starts: Array
    ends: Array
    poured: Array
    known_until: Array


def timetable_of(container: Container, scenario: Scenario, lanes: int) -> Timetable:
    """Return the timetable of n lanes.

    Raises
    ------
    InputError
        If an opening can't be.
    ValueError
        If the lanes' stretches do not follow each other alike.
    """
    each = timelines(container, scenario, lanes)
    first = each[0]
    kinds = {id(one): one for one in each}  # lanes are often alike
    numbers = dict(zip(kinds, range(len(kinds)), strict=True))
    of_lane = np.array([numbers[id(one)] for one in each])
    refuse(
        InputProblem(problem, "openings") for problem in dict.fromkeys(one.problem for one in kinds.values()) if problem
    )
    if any(one.pattern != first.pattern for one in kinds.values()):
        raise ValueError("lanes whose openings follow each other in other orders share no network")
    starts, ends = (
        np.array([[getattr(stretch, what) for stretch in one.stretches] for one in kinds.values()])[of_lane].T
        for what in ("start", "end")
    )
    poured = np.array([one.poured for one in kinds.values()])[of_lane].T
    known_until = np.array([one.known_until for one in kinds.values()])[of_lane]
    return Timetable(first.pattern, starts, ends, poured, known_until)


def pour_events(container: Container, scenario: Scenario) -> tuple[PourEvent, ...]:
    """Return the openings of one run in order of time, repeats until nothing would be left to pour."""
    return timelines(container, scenario)[0].events


def pattern_numbers(container: Container, scenario: Scenario, lanes: int) -> Array:
    """Return a number for each lane's pattern of stretches, (n,), alike where the patterns are."""
    known: dict[tuple[tuple[bool, int], ...], int] = {}
    return np.array([known.setdefault(t.pattern, len(known)) for t in timelines(container, scenario, lanes)])


def opening_problems(container: Container, scenario: Scenario, lanes: int) -> list[DimensionProblem]:
    """Return what of the openings can't be, and in which of n lanes."""
    if not scenario.openings:
        return []
    found = [timeline.problem for timeline in timelines(container, scenario, lanes)]
    return [
        DimensionProblem("openings", text, np.array([one == text for one in found]))
        for text in dict.fromkeys(found)
        if text
    ]


def _opening_of(opening: Opening, lane: int) -> _Opening:
    numbers: dict[str, Any] = {name: value if value is None else _of_lane(value, lane) for name, value in opening}
    return _Opening(**numbers)


def _of_lane(value: Numeric, lane: int) -> float:
    array = np.atleast_1d(value)
    return float(array[lane if len(array) > 1 else 0])


def _room_steps(scenario: Scenario) -> tuple[float, ...]:
    """Return times at which the room temperature jumps; the integration must not step across them."""
    profile = scenario.room_profile
    return tuple(float(t) for t in profile.times[1:]) if profile is not None and profile.in_steps else ()


@lru_cache(maxsize=1024)  # one of 400 openings takes an eighth of a megabyte
def _timeline(
    preheat: float | None, volume: float, openings: tuple[_Opening, ...], steps: tuple[float, ...]
) -> Timeline:
    """Return the timeline of a lane that holds a volume at the start; lanes are often alike."""
    listed, known_until = _listed(openings)
    events, problem = _events(listed, volume)
    stretches = [] if preheat is None else [Stretch(-preheat, 0.0, True, 0)]
    time, level = 0.0, 0
    for event in events:
        if event.at > time:
            stretches.append(Stretch(time, event.at, True, level))
        stretches.append(Stretch(event.at, event.at + event.duration, False, event.level))
        time, level = event.at + event.duration, event.level
    stretches.append(Stretch(time, np.inf, True, level))
    poured = {0: 0.0} | {event.level: event.poured for event in events}
    return Timeline(tuple(_split_at(stretches, steps)), tuple(poured.values()), known_until, problem, tuple(events))


def _listed(openings: tuple[_Opening, ...]) -> tuple[list[tuple[float, _Opening]], float]:
    """Return the times of all openings with what opens, in order, and up to when the list is whole."""
    times = [(at, opening) for opening in openings for at in islice(_times(opening), MOST_OPENINGS + 1)]
    times.sort(key=lambda pair: pair[0])
    return times[:MOST_OPENINGS], times[MOST_OPENINGS][0] if len(times) > MOST_OPENINGS else np.inf


def _times(opening: _Opening) -> Iterator[float]:
    at = opening.at
    while at < LONGEST_RUN:
        yield at
        if not opening.every:
            return
        at += opening.every


def _events(listed: list[tuple[float, _Opening]], volume: float) -> tuple[list[PourEvent], str]:
    """Return the openings that happen, repeats only until nothing would be left to pour, and what can't be."""
    events: list[PourEvent] = []
    level, poured, most = 0, 0.0, (1.0 - LEAST_LEFT) * volume
    if any(opening.every == 0.0 for _, opening in listed):
        return events, "the time between repeats is zero; give it, or leave out 'every'"
    for at, opening in listed:
        is_repeat = opening.every is not None and at > opening.at
        if is_repeat and poured + opening.pour > most:
            continue
        poured += opening.pour
        level += int(opening.pour > 0.0)
        if poured > (1.0 - 0.999 * LEAST_LEFT) * volume:
            left = f"after {poured * 1e6:.0f} mL poured nothing is left of {volume * 1e6:.0f} mL"
            return events, f"{left}; pour less, or stop the repeats"
        if events and at < events[-1].at + events[-1].duration:
            return events, f"the one at {at:.0f} s begins before the one before it has ended; space them"
        events.append(PourEvent(at, opening.duration, level, poured))
    return events, ""


def _split_at(stretches: list[Stretch], times: tuple[float, ...]) -> Iterator[Stretch]:
    for stretch in stretches:
        start = stretch.start
        for time in times:
            if start < time < stretch.end:
                yield Stretch(start, time, stretch.is_lid_on, stretch.level)
                start = time
        yield Stretch(start, stretch.end, stretch.is_lid_on, stretch.level)
