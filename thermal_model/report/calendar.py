"""A schedule of runs as an iCalendar file, RFC 5545, which every calendar reads."""

from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING
from uuid import NAMESPACE_URL, uuid5

from geometries.errors import InputError
from thermal_model.version import version

if TYPE_CHECKING:
    from icalendar import Event

    from thermal_model.plan.schedule import PlannedRun, Schedule


def start_of(run: "PlannedRun", first_day: date, first_hour: time, pace: float) -> datetime:
    """Return when a run starts: days one after the other, turns a pace [s] apart; local time wherever the bench is."""
    day = datetime.combine(first_day + timedelta(days=run.day), first_hour)
    return day + timedelta(seconds=run.turn * pace)


def calendar_bytes(schedule: "Schedule", first_day: date, first_hour: time, length: float, pace: float) -> bytes:
    """Return one event for each run, its start in floating local time.

    Parameters
    ----------
    schedule : Schedule
    first_day, first_hour : date, time
        Of the first run.
    length : float
        Of a run. [s]
    pace : float
        From one turn of a day to the next. [s]

    Raises
    ------
    InputError
        If the library that writes it is not there.
    """
    try:
        from icalendar import Calendar
    except ImportError:
        message = "a calendar needs the library icalendar; install it with: pip install 'holdtime[calendar]'"
        raise InputError(message) from None
    calendar = Calendar()
    calendar.add("prodid", f"-//holdtime {version()}//bench schedule//EN")
    calendar.add("version", "2.0")
    for run in schedule.runs:
        calendar.add_component(_event(run, start_of(run, first_day, first_hour, pace), length))
    return bytes(calendar.to_ical())


def _event(run: "PlannedRun", start: datetime, length: float) -> "Event":
    from icalendar import Event

    event = Event()
    event.add("uid", f"{uuid5(NAMESPACE_URL, f'{start.isoformat()} {run.container} {run.probe}')}")
    event.add("dtstamp", datetime.now(UTC).replace(microsecond=0))
    event.add("dtstart", start)
    event.add("dtend", start + timedelta(seconds=length))
    event.add("summary", f"{run.container}, {run.probe}")
    event.add("description", f"Day {run.day + 1}, turn {run.turn + 1}, round {run.round + 1}.")
    return event
