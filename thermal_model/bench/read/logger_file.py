"""Files of loggers, whatever their shape: what each column seems to be, and readings once somebody has said which are.

Nothing is taken silently: what is recognised here is shown, and counts only as the choice that is handed back.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import pairwise

import numpy as np

from geometries.errors import CONTROL, InputError, shortened, told_of
from geometries.quantities import Dimension, parse_quantity
from thermal_model.bench.read.cells import Clock, date_order, is_missing, parse_clock, parse_date, parse_number
from thermal_model.csv_columns import cells_of

MOST_ROWS = 400_000
"""Most rows taken from one file: a reading a second for four days."""


class TimeForm(StrEnum):
    """How a column tells the time."""

    SECONDS = "s"
    MINUTES = "min"
    HOURS = "h"
    CLOCK = "clock"
    MOMENT = "moment"


@dataclass(frozen=True)
class LoggerColumn:
    """A column of a logger's file, and what it seems to hold.

    Attributes
    ----------
    name : str
        Its heading, or its number where there is none.
    first, last : str
        Cells of its first and last row.
    time_form : TimeForm or None
        None if it does not look like a time.
    unit : str
        "C", "F" or "K" if it looks like a temperature, else "".
    is_sure : bool
        Whether the heading says so, not the numbers alone.
    """

    name: str
    first: str
    last: str
    time_form: TimeForm | None
    unit: str
    is_sure: bool


@dataclass(frozen=True)
class LoggerTable:
    """A logger's file.

    Attributes
    ----------
    columns : tuple of LoggerColumn
    rows : tuple of tuple of str
        All as wide as the columns.
    skipped : int
        Lines before and after the table that belong to no row.
    """

    columns: tuple[LoggerColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    skipped: int


@dataclass(frozen=True)
class LoggerChoice:
    """Which columns hold what, as somebody has confirmed.

    Attributes
    ----------
    time, temperature : int
        Numbers of the columns, from 0.
    day : int or None
        Column of the date, where it stands apart from the time of day.
    time_form : TimeForm
    unit : str
        Of the temperatures: C, F or K.
    poured : datetime or None
        When the contents went in; needed for moments. Of other times, it is zero.
    """

    time: int
    temperature: int
    day: int | None
    time_form: TimeForm
    unit: str
    poured: datetime | None = None


def decoded(data: bytes) -> str:
    """Return the text of a file in whichever way spreadsheets and loggers write one.

    Examples
    --------
    >>> decoded("23,5 °C".encode("latin-1"))
    '23,5 °C'
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def read_logger(text: str) -> LoggerTable:
    """Find the table in a logger's file, and what its columns seem to be.

    Parameters
    ----------
    text : str
        With anything before and after the table.

    Raises
    ------
    InputError
        If there is no table of two columns in it, or more than can be.
    """
    if CONTROL.search(text):
        raise InputError("holds control characters: it is no text; export it from the logger's program as CSV")
    lines = text.splitlines()
    if len(lines) > MOST_ROWS:
        raise InputError(f"has {len(lines)} lines, more than {MOST_ROWS}; leave out every second reading or more")
    separator = max(";\t,|", key=lambda mark: _table_lines(lines, mark))
    split = [_cells(line, separator) for line in lines]
    width = _usual_width(split)
    found = [k for k, cells in enumerate(split) if len(cells) == width and _is_row(cells)]
    if width < 2 or len(found) < 2:
        raise InputError("holds no table with a time and a temperature in each row; give the logger's own file")
    rows = tuple(tuple(split[k]) for k in found)
    heading = next((split[k] for k in range(found[0] - 1, -1, -1) if len(split[k]) == width), None)
    names = heading or [f"column {k + 1}" for k in range(width)]
    columns = tuple(_column(names[k], [row[k] for row in rows]) for k in range(width))
    return LoggerTable(columns, rows, sum(1 for line in lines if line.strip()) - len(rows))


def _table_lines(lines: Sequence[str], separator: str) -> int:
    split = [_cells(line, separator) for line in lines[:2000]]
    width = _usual_width(split)
    return 0 if width < 2 else sum(len(cells) == width and _is_row(cells) for cells in split)


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip() for cell in cells_of(line, separator)]


def _usual_width(split: Sequence[Sequence[str]]) -> int:
    widths = [len(cells) for cells in split if _is_row(cells)]
    return max(set(widths), key=widths.count) if widths else 0


def _is_row(cells: Sequence[str]) -> bool:
    """Tell whether cells hold numbers or times, not headings."""
    return sum(re.match(r"[-+]?\d", cell) is not None for cell in cells) >= max(2, len(cells) // 2)


_TIME_WORDS = re.compile(r"\b(time|elapsed|date|timestamp|zeit|datum|temps|heure|hora|fecha|tid|min|sec|s|h)\b", re.I)
_TEMPERATURE_WORDS = re.compile(r"(temp|°\s?[cf]|\bdeg|celsius|fahrenheit|\b[cfk]\b)", re.I)
_UNIT = re.compile(r"(?:°|\bdeg(?:rees)?\s?|[\[(]\s*°?\s*|\b)(c|f|k|celsius|fahrenheit|kelvin)\b", re.I)


def _column(name: str, cells: Sequence[str]) -> LoggerColumn:
    form = _time_form(name, cells)
    unit = "" if form in (TimeForm.CLOCK, TimeForm.MOMENT) else _temperature_unit(name, cells)
    if unit and form is not None:
        # Both could be: the heading decides, and a time never falls.
        form, unit = (None, unit) if _TEMPERATURE_WORDS.search(name) or not _rises(cells) else (form, "")
    is_sure = bool((_TEMPERATURE_WORDS if unit else _TIME_WORDS).search(name)) and bool(unit or form)
    return LoggerColumn(name or "without heading", cells[0], cells[-1], form, unit, is_sure)


def _time_form(name: str, cells: Sequence[str]) -> TimeForm | None:
    first = cells[0]
    if re.fullmatch(r"\d+:\d{2}(:\d{2}([.,]\d+)?)?", first):
        return TimeForm.CLOCK
    if re.match(r"\d{1,4}[-./]\d{1,2}[-./]\d{1,4}", first):
        return TimeForm.MOMENT
    if not _rises(cells):
        return None
    words = name.lower()
    if re.search(r"\b(h|hours?|hrs?)\b", words):
        return TimeForm.HOURS
    if re.search(r"\b(s|sec|seconds?)\b", words):
        return TimeForm.SECONDS
    return TimeForm.MINUTES


def _numbers(cells: Sequence[str]) -> list[float] | None:
    try:
        return [parse_number(cell) for cell in cells if not is_missing(cell)]
    except ValueError:
        return None


def _rises(cells: Sequence[str]) -> bool:
    values = _numbers(cells) or [0.0]
    return all(a <= b for a, b in pairwise(values)) and values[0] < values[-1]


def _temperature_unit(name: str, cells: Sequence[str]) -> str:
    found = _UNIT.search(name)
    values = _numbers([re.sub(r"\s*°?\s*[CFK]$", "", cell) for cell in cells])
    if not values or not all(-60.0 < value < 400.0 for value in values):
        return ""
    own = re.search(r"([CFK])$", cells[0])
    if own or found:
        return (own or found).group(1)[0].upper()  # type: ignore[union-attr]
    return "F" if max(values) > 101.0 else "C"


def likely_choice(table: LoggerTable) -> LoggerChoice:
    """Return what the columns seem to be, to be shown and confirmed."""
    numbers = range(len(table.columns))
    times = [k for k in numbers if table.columns[k].time_form]
    heats = [k for k in numbers if table.columns[k].unit]
    clock = next((k for k in times if table.columns[k].time_form is TimeForm.CLOCK), None)
    moment = next((k for k in times if table.columns[k].time_form is TimeForm.MOMENT), None)
    spans = [k for k in times if table.columns[k].is_sure] + times
    time = clock if clock is not None else moment if moment is not None else next(iter(spans), 0)
    has_day = clock is not None and moment is not None and not re.search(r"\d:\d", table.columns[moment].first)
    sure = [k for k in heats if table.columns[k].is_sure and k != time]
    heat = next(iter([*sure, *(k for k in heats if k != time), *(k for k in numbers if k != time)]))
    form = TimeForm.MOMENT if has_day else table.columns[time].time_form or TimeForm.MINUTES
    return LoggerChoice(time, heat, moment if has_day else None, form, table.columns[heat].unit or "C")


def moments(table: LoggerTable, choice: LoggerChoice) -> list[datetime]:
    """Return the moments of the rows, where the table tells moments."""
    texts = [_moment_text(row, choice) for row in table.rows]
    shown = date_order(texts)
    order = None if shown is None else shown[0]
    with told_of("time"):
        return [parse_date(text, order) for text in texts]


def _moment_text(row: Sequence[str], choice: LoggerChoice) -> str:
    return row[choice.time] if choice.day is None else f"{row[choice.day]} {row[choice.time]}"


def readings(table: LoggerTable, choice: LoggerChoice) -> list[tuple[float, float]]:
    """Return times since the contents went in and temperatures; rows before, or without a number, are left out. [s, K]

    Raises
    ------
    InputError
        If a column does not hold what the choice says, or no row is left.
    """
    seconds = _seconds(table, choice)
    found = []
    for row, at in zip(table.rows, seconds, strict=True):
        cell = re.sub(r"\s*°?\s*[CFK]$", "", row[choice.temperature])
        if is_missing(cell) or at < 0.0:
            continue
        try:
            kelvin = parse_quantity(f"{parse_number(cell):.10g} {choice.unit}", Dimension.TEMPERATURE)
        except ValueError as error:
            raise InputError(f"{shortened(cell)} {error}", "temperature") from None
        found.append((at, kelvin))
    if not found:
        raise InputError("leaves no reading after the contents went in; check that moment", "poured")
    if any(a > b for (a, _), (b, _) in pairwise(found)):
        raise InputError("runs backward in some rows; is it the right column?", "time")
    return found


def _seconds(table: LoggerTable, choice: LoggerChoice) -> list[float]:
    if choice.time_form is TimeForm.MOMENT:
        at = moments(table, choice)
        zero = choice.poured or at[0]
        return [(moment - zero).total_seconds() for moment in at]
    with told_of("time"):
        values = np.array([_span(row[choice.time], choice.time_form) for row in table.rows])
    if choice.time_form is TimeForm.CLOCK:  # which starts again at midnight
        values += 86400.0 * np.cumsum(np.diff(values, prepend=values[0]) < -43200.0)
    return values.tolist()


def _span(cell: str, form: TimeForm) -> float:
    if form is TimeForm.CLOCK:
        return parse_clock(cell, Clock.HOURS_MINUTES)
    return parse_number(cell) * {TimeForm.SECONDS: 1.0, TimeForm.MINUTES: 60.0, TimeForm.HOURS: 3600.0}[form]
