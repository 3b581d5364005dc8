"""A day at the bench: how long a run is, how long containers stand empty, and when each run begins."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np

from geometries.container import Container
from geometries.errors import InputError, at_once
from geometries.validation import validated
from thermal_model.plan.run_length import longest, reading_times, run_length
from thermal_model.plan.schedule import Schedule, crossover_schedule
from thermal_model.plan.soak import soak
from thermal_model.report.calendar import start_of
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import duration_text
from thermal_model.workbench.live import read_temperature

DRAWS = 100
"""Containers computed for the length of a run."""

STEP = 900.0
"""Times of a plan are whole quarters of an hour. [s]"""


@dataclass(frozen=True)
class PlanWish:
    """What somebody wants to do.

    Attributes
    ----------
    scenario : Scenario
    limit : float
        Mark that every run is to pass. [K]
    repeats : int
    day : date
    first, last : time
        Nobody stands at the bench before and after.
    may_end_at_night : bool
    """

    scenario: Scenario
    limit: float
    repeats: int
    day: date
    first: time
    last: time
    may_end_at_night: bool


@dataclass(frozen=True)
class Turn:
    """A run of the plan, as it is printed."""

    container: str
    probe: str
    begin: datetime
    end: datetime
    is_at_night: bool


@dataclass(frozen=True)
class DayPlan:
    """A plan.

    Attributes
    ----------
    wish : PlanWish
    schedule : Schedule
    turns : tuple of Turn
    length, pace : float
        Of a run, and from one turn of a day to the next. [s]
    lines : tuple of str
        What it rests on.
    looks : tuple of str
        When to look at a run, hours and minutes after it began.
    """

    wish: PlanWish
    schedule: Schedule
    turns: tuple[Turn, ...]
    length: float
    pace: float
    lines: tuple[str, ...]
    looks: tuple[str, ...]


def read_plan_wish(asked: Mapping[str, str]) -> PlanWish:
    """Read a form; an InputError names every field that is wrong."""
    fields = {name: asked[name] for name in ("start", "room", "fill") if asked.get(name)}

    def repeats() -> int:
        text = asked["repeats"]
        if not text.isdecimal() or len(text) > 3 or not 1 <= int(text) <= 20:
            raise InputError("must be a whole number from 1 to 20", "repeats", text)
        return int(text)

    read = at_once(
        lambda: validated(Scenario, fields, ""),
        lambda: read_temperature(asked["until"], "until"),
        repeats,
        lambda: _iso(date.fromisoformat, asked, "day", "2027-03-01"),
        lambda: _iso(time.fromisoformat, asked, "first", "08:00"),
        lambda: _iso(time.fromisoformat, asked, "last", "22:00"),
    )
    scenario, mark, count, day, first, last = read
    return PlanWish(scenario, mark, count, day, first, last, bool(asked.get("night")))


def _iso(read: object, asked: Mapping[str, str], field: str, example: str) -> object:
    try:
        return read(asked[field])  # type: ignore[operator]
    except ValueError:
        raise InputError(f"is not understood; write {example}", field, asked[field]) from None


def planned_day(containers: Mapping[str, Container], probes: Sequence[str], wish: PlanWish) -> DayPlan:
    """Plan runs of every container with every thermometer; none ends at night unless that is allowed.

    Raises
    ------
    InputError
        If a container does not pass the mark, or a run is longer than the day.
    """
    lengths = [run_length(each, wish.scenario, wish.limit, draws=DRAWS, seed=1) for each in containers.values()]
    length = longest(lengths)
    if length is None:
        slow = [name for name, one in zip(containers, lengths, strict=True) if one.length is None]
        raise InputError(f"{', '.join(slow)} may never pass it; take a mark that comes sooner", "until")
    waits = [soak(each, wish.scenario, is_lid_on=False, draws=0, seed=1).median for each in containers.values()]
    wait = float(np.ceil(max(waits) / STEP) * STEP) if np.isfinite(max(waits)) else 86400.0
    pace = length + wait
    # Each container has one run a day at most.
    turns = min(_turns_of_a_day(length, pace, wish), max(len(containers) // len(probes), 1))
    each_day = turns * len(probes)
    schedule = crossover_schedule(list(containers), list(probes), per_day=each_day, repeats=wish.repeats)
    found = tuple(
        _turn(run.container, run.probe, start_of(run, wish.day, wish.first, pace), length, wish)
        for run in schedule.runs
    )
    lines = (
        f"A run takes {duration_text(length)}: nineteen of twenty such containers pass the mark in that time, a tenth "
        "of it to spare.",
        f"Between two runs a container stands empty and open for {duration_text(wait)}, until all of it is as warm as "
        "the room.",
        f"{turns} turn{'s' * (turns > 1)} a day, {schedule.days} day{'s' * (schedule.days > 1)} in all.",
    )
    looks = tuple(f"{int(at) // 3600}:{int(at) % 3600 // 60:02d}" for at in reading_times(length).tolist())
    return DayPlan(wish, schedule, found, length, pace, lines, looks)


def _turns_of_a_day(length: float, pace: float, wish: PlanWish) -> int:
    whole = datetime.combine(wish.day, wish.last) - datetime.combine(wish.day, wish.first)
    day = 86400.0 if wish.may_end_at_night else whole.total_seconds()
    if length > day and not wish.may_end_at_night:
        end = datetime.combine(wish.day, wish.first) + timedelta(seconds=length)
        message = (
            f"a run takes {duration_text(length)} and would end at {end:%H:%M}, after {wish.last:%H:%M}; begin "
            "earlier, take a mark that comes sooner, or let runs end at night"
        )
        raise InputError(message, "last")
    return max(1 + int((day - length) // pace), 1) if day >= length else 1


def _turn(container: str, probe: str, begin: datetime, length: float, wish: PlanWish) -> Turn:
    end = begin + timedelta(seconds=length)
    is_late = end > datetime.combine(begin.date(), wish.last) or begin.time() < wish.first
    return Turn(container, probe, begin, end, is_late)
