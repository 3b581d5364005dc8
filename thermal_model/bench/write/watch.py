"""A run that is being watched: when it began, and the three kinds of looks at it, each kept at once."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path

from geometries.errors import InputError, told_of
from geometries.quantities import Dimension, parse_quantity
from thermal_model.bench.columns import File
from thermal_model.bench.read.cells import parse_date
from thermal_model.bench.write.rows import append_row, remove_last, replace_row, rows_of


class Look(StrEnum):
    """What was seen."""

    READING = "reading"
    PASSED = "passed"
    BEFORE = "before"
    BEYOND = "beyond"


@dataclass(frozen=True)
class Tap:
    """A look at a run.

    Attributes
    ----------
    run : str
    look : Look
        A number on the display; the very moment a mark was passed; or on which side of it the display was.
    seconds : float
        Since the contents went in.
    temperature : str
        Of the display, or of the mark, with its unit.
    is_cooling : bool
        Whether the contents are on their way down.
    """

    run: str
    look: Look
    seconds: float
    temperature: str
    is_cooling: bool = True


def begin_run(folder: Path, cells: Mapping[str, str], began: datetime) -> None:
    """Add a run to the table of runs, with the moment at which its contents went in.

    Raises
    ------
    InputError
        If there is a run of this name, or the table can't take it.
    """
    path = folder / File.RUNS
    if any(row.get("run") == cells["run"] for _, row in rows_of(path)):
        raise InputError("there is a run of this name; take another", "run", cells["run"])
    append_row(path, {**cells, "date": began.isoformat(sep=" ", timespec="seconds")})


def beginning_of(folder: Path, run: str) -> datetime | None:
    """Return when a run's contents went in, None if its date has no time of day; an InputError if there is none."""
    for _, row in rows_of(folder / File.RUNS):
        if row.get("run", "").strip() == run:
            try:
                return parse_date(row.get("date", ""), None)
            except ValueError:
                return None
    raise InputError("there is no such run on this bench", "run", run)


def keep(folder: Path, tap: Tap) -> bool:
    """Put a look on disk; False if it was there already.

    Raises
    ------
    InputError
        If the temperature is none, the time lies before the run, or a table can't take it.
    """
    with told_of("temperature"):
        parse_quantity(tap.temperature, Dimension.TEMPERATURE)
    if not (math.isfinite(tap.seconds) and tap.seconds >= 0.0):
        raise InputError("lies before the contents went in", "time")
    start = beginning_of(folder, tap.run)
    if tap.look is Look.READING:
        cells = {"run": tap.run, "temperature": tap.temperature}
        return append_row(folder / File.READINGS, cells, {"time": tap.seconds}, start)
    return _keep_passing(folder / File.PASSINGS, tap, start)


def _keep_passing(path: Path, tap: Tap, start: datetime | None) -> bool:
    cells = {"run": tap.run, "mark": tap.temperature}
    if tap.look is Look.PASSED:
        return append_row(path, cells, {"passed at": tap.seconds}, start)
    before, beyond = ("above at", "below at") if tap.is_cooling else ("below at", "above at")
    now = before if tap.look is Look.BEFORE else beyond
    waiting = _waiting(path, tap, before, beyond)
    if waiting is None:
        return append_row(path, cells, {now: tap.seconds}, start)
    line, row = waiting
    kept = cells if now == before else cells | {before: row[before]}
    replace_row(path, line, kept, {now: tap.seconds}, start)
    return True


def _waiting(path: Path, tap: Tap, before: str, beyond: str) -> tuple[str, dict[str, str]] | None:
    """Return the row of a mark that was still to come when it was last looked at."""
    for line, row in rows_of(path):
        is_same = row.get("run") == tap.run and row.get("mark") == tap.temperature
        if is_same and row.get(before) and not row.get(beyond) and not row.get("passed at"):
            return line, row
    return None


def take_back(folder: Path, run: str, look: Look) -> bool:
    """Take away the last look of a kind at a run."""
    file = File.READINGS if look is Look.READING else File.PASSINGS
    return remove_last(folder / file, lambda row: row.get("run") == run)
