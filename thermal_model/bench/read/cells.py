"""Single cells as spreadsheets write them: numbers with a decimal comma, clock times, dates.

Each function reads one cell or raises a ValueError that says what is allowed; nothing is guessed.
"""

import math
import re
from collections.abc import Iterable, Sequence
from datetime import datetime
from enum import StrEnum

import numpy as np

from geometries.errors import shortened
from geometries.numeric import Array
from geometries.quantities import Dimension, parse_quantity

MISSING = frozenset({"", "-", "--", "---", "n/a", "na", "nan", "null", "none", "lost", "err", "error"})
"""What loggers write where there was no value, in lower case."""

_SPACES = str.maketrans({"\u00a0": None, "\u2009": None, "\u202f": None, " ": None, "−": "-", "'": None})
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")


def is_missing(cell: str) -> bool:
    """Tell whether a cell stands for no value."""
    return cell.strip().lower() in MISSING


def parse_number(cell: str) -> float:
    """Read a number with a decimal point or a decimal comma.

    Raises
    ------
    ValueError
        If it is none, or has a mark that may part thousands.

    Examples
    --------
    >>> parse_number(" 20,5 ")
    20.5
    """
    text = cell.strip().translate(_SPACES)
    if text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    if "," in text:
        raise ValueError(f"{shortened(cell)} has a mark between thousands; write it without")
    if _NUMBER.fullmatch(text) is None:
        raise ValueError(f"{shortened(cell)} is not a number; write the number, alone or with its unit")
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{shortened(cell)} is not a finite number")
    return value


_WITH_UNIT = re.compile(r"[+\-−]?[\d.,]+\s*[^\d\s.,:;eE+\-−'_][^.,:;]*|[+\-−]?[\d.,]+\s*[eE][A-Za-z]+")


def carries_unit(cell: str) -> bool:
    """Tell whether a cell is a number with something after it that may be its unit.

    Examples
    --------
    >>> [carries_unit(cell) for cell in ("191 F", "88.3°C", "88.3", "1e3", "lost", "1:30")]
    [True, True, False, False, False, False]
    """
    return _WITH_UNIT.fullmatch(cell.strip()) is not None


def parse_cell_quantity(cell: str, dimension: Dimension) -> float:
    """Read a number with its unit, with a decimal point or a decimal comma. [SI]

    Raises
    ------
    ValueError
        If it is no quantity of this dimension.

    Examples
    --------
    >>> round(parse_cell_quantity("190,9 F", Dimension.TEMPERATURE), 2)
    361.43
    """
    text = cell.strip()
    if text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    try:
        return parse_quantity(text, dimension)
    except ValueError as error:
        raise ValueError(f"{shortened(cell)} is not a number, alone or with its unit: {error}") from None


def parse_numbers(cells: Sequence[str]) -> Array | None:
    """Read a whole column at once, or return None if any cell needs a closer look."""
    if any("_" in cell for cell in cells):  # which Python takes for a mark between thousands
        return None
    try:
        values = np.array([float(cell) for cell in cells])
    except ValueError:
        try:
            values = np.array([float(cell.replace(",", ".", 1)) for cell in cells])
        except ValueError:
            return None
    return values if np.isfinite(values).all() else None


def has_decimal_commas(cells: Iterable[str]) -> bool:
    """Tell whether any cell of a column of numbers has a comma."""
    return any("," in cell for cell in cells)


class Clock(StrEnum):
    """How a heading says that times are written: `time [h:mm]`."""

    HOURS_MINUTES = "h:mm"
    HOURS_MINUTES_SECONDS = "h:mm:ss"
    MINUTES_SECONDS = "min:sec"


CLOCK_SPELLINGS = {
    **dict.fromkeys(("h:mm", "hh:mm", "h:min", "h:m"), Clock.HOURS_MINUTES),
    **dict.fromkeys(("h:mm:ss", "hh:mm:ss", "h:min:sec", "h:min:s"), Clock.HOURS_MINUTES_SECONDS),
    **dict.fromkeys(("min:sec", "min:s", "m:ss", "mm:ss", "min:ss"), Clock.MINUTES_SECONDS),
}
"""What may stand in the brackets of a heading, in lower case."""

_PARTS = re.compile(r"(\d+):(\d{1,2})(?::(\d{1,2})(?:[.,](\d+))?)?")


def parse_clock(cell: str, clock: Clock) -> float:
    """Read a time such as "1:30". [s]

    Raises
    ------
    ValueError
        If it is not written as the heading says.

    Examples
    --------
    >>> parse_clock("1:30", Clock.HOURS_MINUTES), parse_clock("1:30", Clock.MINUTES_SECONDS)
    (5400.0, 90.0)
    """
    match = _PARTS.fullmatch(cell.strip())
    wanted = ValueError(f"{shortened(cell)} is not as the heading says, [{clock}]; write for example {_LIKE[clock]}")
    if match is None:
        raise wanted
    numbers = [int(part) for part in match.groups()[:3] if part is not None]
    if clock is Clock.HOURS_MINUTES_SECONDS and len(numbers) < 3:
        raise wanted
    if clock is Clock.MINUTES_SECONDS and len(numbers) == 3:
        raise wanted
    if any(number > 59 for number in numbers[1:]):
        raise ValueError(f"{shortened(cell)} has 60 or more behind a colon; allowed are 00 to 59")
    factors = (60.0, 1.0) if clock is Clock.MINUTES_SECONDS else (3600.0, 60.0, 1.0)
    fraction = float(f"0.{match.group(4)}") if match.group(4) else 0.0
    return sum(number * factor for number, factor in zip(numbers, factors, strict=False)) + fraction


_LIKE = {
    Clock.HOURS_MINUTES: "1:30 for an hour and a half",
    Clock.HOURS_MINUTES_SECONDS: "1:30:00 for an hour and a half",
    Clock.MINUTES_SECONDS: "90:00 for an hour and a half",
}


# --- dates ------------------------------------------------------------------------------------------------------


class DateOrder(StrEnum):
    """Which comes first in dates with a stroke, 03/04/2026."""

    DAY_FIRST = "day/month"
    MONTH_FIRST = "month/day"


_LOCAL_DATE = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?:[ T,]+(\d{1,2}):(\d{2})(?::(\d{2}))?)?")
_ISO_LIKE = re.compile(r"\d{4}-\d{2}-\d{2}([ T]\d{2}:\d{2}(:\d{2}([.,]\d{1,6})?)?(Z|[+-]\d{2}:?\d{2})?)?")


def parse_date(cell: str, order: DateOrder | None) -> datetime:
    """Read an ISO date, or a local one whose order is known; a time of day may follow.

    Parameters
    ----------
    cell : str
    order : DateOrder or None
        None where it is not known: then only dates that can be read in one way are.

    Returns
    -------
    datetime
        Without a time zone: a time zone that was written is left out, readings are relative to it.

    Raises
    ------
    ValueError
        If it is no date, or can be read in two ways.

    Examples
    --------
    >>> parse_date("23/4/2026 18:05", None)
    datetime.datetime(2026, 4, 23, 18, 5)
    """
    text = cell.strip()
    local = _LOCAL_DATE.fullmatch(text)
    if local is not None:
        first, mark, second, year, *clock = local.groups()
        day, month = _day_and_month(int(first), int(second), mark, order, text)
    try:
        if local is not None:
            hour, minute, second_of_minute = (int(part or 0) for part in clock)
            return datetime(int(year), month, day, hour, minute, second_of_minute)
        if _ISO_LIKE.fullmatch(text):
            return datetime.fromisoformat(text.replace(",", ".")).replace(tzinfo=None)
    except ValueError:
        pass
    raise ValueError(f"{shortened(cell)} is no date; write the year first, 2026-04-23 or 2026-04-23 18:05")


def _day_and_month(first: int, second: int, mark: str, order: DateOrder | None, text: str) -> tuple[int, int]:
    # With dots the day comes first wherever dots are used.
    if mark == "." or first > 12 or first == second:
        return first, second
    if second > 12:
        return second, first
    if order is None:
        raise ValueError(
            f"'{text}' can be read in two ways; write the year first, 2026-04-23, or say dates = 'day/month' "
            "(or 'month/day') in bench.toml"
        )
    return (first, second) if order is DateOrder.DAY_FIRST else (second, first)


def date_order(cells: Iterable[str]) -> tuple[DateOrder, int] | None:
    """Return the order that a column of dates with strokes shows, and the place of the cell that shows it.

    None if no cell shows it, or two disagree.
    """
    shown: dict[DateOrder, int] = {}
    for place, cell in enumerate(cells):
        match = _LOCAL_DATE.fullmatch(cell.strip())
        if match is None or match.group(2) == ".":
            continue
        if int(match.group(1)) > 12:
            shown.setdefault(DateOrder.DAY_FIRST, place)
        elif int(match.group(3)) > 12:
            shown.setdefault(DateOrder.MONTH_FIRST, place)
    return next(iter(shown.items())) if len(shown) == 1 else None
