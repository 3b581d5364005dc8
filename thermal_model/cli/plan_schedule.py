"""`holdtime plan schedule`: a balanced crossover of containers and probes, to print, as a CSV and for the calendar."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.errors import InputError, at_once
from geometries.files import write_bytes, write_text
from thermal_model.bench.read.bench_file import read_bench_file
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.outputs import check_files
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.typed import typed_duration
from thermal_model.plan.schedule import Schedule, balance_of, crossover_schedule
from thermal_model.report.plan_text import schedule_csv, schedule_document, schedule_text
from thermal_model.words.numbers import duration_text


@dataclass(frozen=True, kw_only=True)
class ScheduleOptions:
    """What `holdtime plan schedule` is asked."""

    containers: Annotated[
        TEXTS,
        typer.Argument(metavar="[NAME...]", help="Of the containers, as they are called on the bench."),
    ] = ()
    count: Annotated[
        int | None, typer.Option("--count", min=1, max=400, help="So many containers, numbered, instead of names.")
    ] = None
    probe: Annotated[TEXTS, typer.Option("--probe", metavar="NAME", help="Of a probe; repeatable.")] = ()
    probes: Annotated[int, typer.Option("--probes", min=1, max=12, help="So many probes, instead of names.")] = 2
    bench: Annotated[
        Path | None, typer.Option("--bench", metavar="FOLDER", help="Containers and probes of a bench folder.")
    ] = None
    per_day: Annotated[
        int | None, typer.Option("--per-day", min=1, help="Runs on a day; left out: one with each probe.")
    ] = None
    repeats: Annotated[int, typer.Option("--repeats", min=1, max=50, help="Of each container with each probe.")] = 1
    start_date: Annotated[
        str | None, typer.Option("--start-date", metavar="DATE", help="Of the first run, 2027-03-01.")
    ] = None
    at: Annotated[str, typer.Option("--at", metavar="HOUR", help="Of a day's first run.")] = "08:00"
    length: Annotated[str, typer.Option("--length", metavar="TIME", help="Of a run: holdtime plan run tells.")] = "8h"
    pause: Annotated[str, typer.Option("--pause", metavar="TIME", help="Between turns of a day.")] = "30min"
    seed: options.Seed = 1
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write a CSV, a run in each row.")] = None
    calendar: Annotated[
        Path | None,
        typer.Option("--calendar", metavar="FILE", help="Write an iCalendar file (.ics), needs --start-date."),
    ] = None
    answer: AnswerOptions


@command(ScheduleOptions, "holdtime plan schedule --count 6 --probes 2 --per-day 4")
def schedule(wanted: ScheduleOptions) -> None:
    """Plan a balanced crossover: every container with every probe, order and day balanced."""
    timing, names, *_ = at_once(
        lambda: _timing(wanted),
        lambda: _names(wanted),
        lambda: check_files(None, wanted.csv, wanted.calendar, wanted.answer.output),
    )
    each_day = len(names[1]) if wanted.per_day is None else wanted.per_day
    timing.check_day(-(-each_day // len(names[1])))
    with progress_bar("making the schedule"):
        planned = crossover_schedule(*names, per_day=each_day, repeats=wanted.repeats, seed=wanted.seed)
        balance = balance_of(planned)
    starts, events = timing.dated(planned, wants_calendar=wanted.calendar is not None)
    if wanted.csv is not None:
        write_text(wanted.csv, schedule_csv(planned, starts))
    if wanted.calendar is not None and events is not None:
        write_bytes(wanted.calendar, events)
    text = schedule_text(planned, balance, starts)
    document = schedule_document(planned, balance, starts, wanted.seed)
    wanted.answer.give(lambda: text, document, wanted.csv, wanted.calendar)


def _names(wanted: ScheduleOptions) -> tuple[list[str], list[str]]:
    count = wanted.count
    given = [bool(wanted.containers), count is not None, wanted.bench is not None]
    if sum(given) != 1:
        raise InputError("give the containers once: by name, with --count 30, or with --bench FOLDER")
    if wanted.bench is not None:
        found = read_bench_file(wanted.bench)
        return list(found.containers), list(wanted.probe or found.probes)
    width = len(str(count or 0))
    named = list(wanted.containers) or [f"container_{number + 1:0{width}d}" for number in range(count or 0)]
    return named, list(wanted.probe or [f"probe_{number + 1}" for number in range(wanted.probes)])


@dataclass(frozen=True)
class _Timing:
    """When runs start, how long they last, and how much later the next turn of a day begins. [s]"""

    first_day: date | None
    first_hour: time
    length: float
    pace: float

    def check_day(self, turns: int) -> None:
        """Refuse more turns than a day has hours for."""
        needed = (turns - 1) * self.pace + self.length
        if self.first_day is not None and turns > 1 and needed > 86400.0:
            message = (
                f"{turns} turns take {duration_text(needed)}: more than a day; take fewer runs a day, or shorter ones"
            )
            raise InputError(message, source="--per-day")

    def dated(self, planned: Schedule, *, wants_calendar: bool) -> tuple[list[datetime] | None, bytes | None]:
        """Return when each run starts, if there is a first day, and the calendar file."""
        from thermal_model.report.calendar import calendar_bytes, start_of

        day, hour = self.first_day, self.first_hour
        if day is None:
            return None, None
        try:
            starts = [start_of(one, day, hour, self.pace) for one in planned.runs]
            return starts, calendar_bytes(planned, day, hour, self.length, self.pace) if wants_calendar else None
        except OverflowError:
            message = "the schedule would end after the year 9999; take an earlier date"
            raise InputError(message, source="--start-date") from None


def _timing(wanted: ScheduleOptions) -> _Timing:
    def first_day() -> date | None:
        if wanted.start_date is None:
            if wanted.calendar is not None:
                raise InputError("needs --start-date, such as 2027-03-01", source="--calendar")
            return None
        return _iso(date.fromisoformat, wanted.start_date, "--start-date", "a date as 2027-03-01")

    day, hour, run_length, between = at_once(
        first_day,
        lambda: _iso(time.fromisoformat, wanted.at, "--at", "an hour as 08:00"),
        lambda: typed_duration(wanted.length, "--length"),
        lambda: typed_duration(wanted.pause, "--pause"),
    )
    return _Timing(day, hour, run_length, run_length + between)


def _iso(read: Callable[[str], Any], text: str, option: str, example: str) -> Any:
    try:
        return read(text.strip())
    except ValueError:
        raise InputError(f"'{text}' is not understood; write {example}", source=option) from None
