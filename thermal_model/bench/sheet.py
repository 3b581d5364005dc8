"""A CSV of a bench, read as a table: cells by column, line numbers kept, a million rows in seconds.

Commas, semicolons or tabs part the columns; blank lines, lines that begin with #, trailing blanks and a byte order
mark are passed over. What had to be taken for granted is put into `assumptions`.
"""

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from geometries.errors import InputError, InputProblem, nearest_hint
from geometries.files import read_text
from geometries.numeric import Array
from geometries.quantities import Dimension, parse_quantity
from thermal_model.bench.cells import (
    CLOCK_SPELLINGS,
    DateOrder,
    date_order,
    has_decimal_commas,
    is_missing,
    parse_clock,
    parse_date,
    parse_number,
    parse_numbers,
)
from thermal_model.bench.columns import Column, Kind

LARGEST = 400_000_000
"""Largest file read [bytes]: some ten million readings."""

MOST_PROBLEMS = 5
"""So many lines are named; the rest is counted."""

TIMESTAMP_UNITS = ("date", "iso", "timestamp")
"""`time [date]`: each reading carries the moment it was taken."""

_HEADING = re.compile(r"\s*([^\[\]]+?)\s*\[\s*([^\[\]]*?)\s*\]\s*")

Lines = NDArray[np.int64]


@dataclass(frozen=True)
class Sheet:
    """A table of n rows.

    Attributes
    ----------
    source : str
        File, for the messages.
    separator : str
    heading_line : int
    lines : (n,) int array
        Line of each row in the file.
    cells : dict of sequence of n str
        By name of column; only columns that are there.
    units : dict of str to str
        By name of column; empty text where the heading has none.
    headings : dict of str to str
        As they stand in the file, by name of column, in order; also of columns that are passed over.
    assumptions : list of str
        Grows as columns are read.
    """

    source: str
    separator: str
    heading_line: int
    lines: Lines
    cells: dict[str, Sequence[str]]
    units: dict[str, str]
    headings: dict[str, str]
    assumptions: list[str] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.lines)

    def texts(self, name: str) -> list[str]:
        """Return the cells of a column, empty texts if it is not there."""
        column = self.cells.get(name)
        return [""] * len(self) if column is None else [cell.strip() for cell in column]

    def problem(self, message: str, row: int, name: str, value: object = None) -> InputProblem:
        """Return what is wrong with a cell, by line and column."""
        return InputProblem(message, f"line {self.lines[row]}, {name}", value, self.source)

    def numbers(self, name: str, dimension: Dimension) -> Array:
        """Return a column of quantities, (n,), NaN where there is no value. [SI]

        Raises
        ------
        InputError
            If a cell is no number, or the numbers have decimal points and decimal commas.
        """
        cells = self.cells.get(name)
        if cells is None:
            return np.full(len(self), np.nan)
        zero, factor = _affine(self.units[name], dimension)
        values = parse_numbers(cells)
        values = self._each(name, parse_number) if values is None else values
        self._note_commas(name, cells)
        si: Array = zero + factor * values
        self._refuse_impossible(name, dimension, si)
        return si

    def _refuse_impossible(self, name: str, dimension: Dimension, si: Array) -> None:
        if dimension is Dimension.TEMPERATURE:
            message = "is below absolute zero"
        elif dimension is Dimension.TEMPERATURE_DIFFERENCE:
            message = "is below zero; a spread is at least zero"
        else:
            message = "is below zero"
        rows = np.flatnonzero(si < 0.0)[:MOST_PROBLEMS]
        if len(rows):
            raise InputError(self.problem(message, row, name, self.cells[name][row].strip()) for row in rows.tolist())

    def times(self, name: str, zeros: Callable[[int], datetime | None], order: DateOrder | None) -> Array:
        """Return a column of times since the contents went in, (n,), NaN where there is none. [s]

        Parameters
        ----------
        name : str
        zeros : callable
            Moment of pouring for a row, for times written as dates; None where it is not known.
        order : DateOrder or None
            Of dates with strokes.

        Raises
        ------
        InputError
            If a cell is not written as the heading says.
        """
        unit = self.units.get(name, "").lower()
        if name in self.cells and unit in CLOCK_SPELLINGS:
            clock = CLOCK_SPELLINGS[unit]
            return self._each(name, lambda cell: parse_clock(cell, clock))
        if name in self.cells and unit in TIMESTAMP_UNITS:
            return self._since(name, zeros, order)
        self._refuse_clocks(name)
        return self.numbers(name, Dimension.DURATION)

    def _refuse_clocks(self, name: str) -> None:
        for row, cell in enumerate(self.cells.get(name, ())[:1000]):
            if ":" in cell:
                unit = self.units[name]
                message = f"has a colon, but the heading says [{unit}]; write {name} [h:mm] or {name} [min:sec]"
                raise InputError(self.problem(message, row, name, cell.strip()))

    def _since(self, name: str, zeros: Callable[[int], datetime | None], order: DateOrder | None) -> Array:
        moments, values = self.dates(name, order), np.full(len(self), np.nan)
        problems = []
        for row, moment in enumerate(moments):
            zero = zeros(row)
            if moment is None:
                continue
            if zero is None:
                message = "is a moment, but the run's date in runs.csv has no time of day at which it was filled"
                problems.append(self.problem(message, row, name, self.cells[name][row].strip()))
            else:
                values[row] = (moment - zero).total_seconds()
        if problems:
            raise InputError(limited(problems))
        return values

    def dates(self, name: str, order: DateOrder | None) -> list[datetime | None]:
        """Return a column of dates, None where there is none.

        Raises
        ------
        InputError
            If a cell is no date, or may be read in two ways.
        """
        cells = self.texts(name)
        shown = date_order(cells) if order is None else None
        if shown is not None:
            order, row = shown
            first = order.partition("/")[0]
            example = f"as in line {self.lines[row]}: {cells[row]}"
            self.assumptions.append(f"{self.source}: the {first} is taken to come first in dates, {example}")
        dates: list[datetime | None] = []
        problems = []
        for row, cell in enumerate(cells):
            try:
                dates.append(None if is_missing(cell) else parse_date(cell, order))
            except ValueError as error:
                problems.append(self.problem(str(error), row, name))
        if problems:
            raise InputError(limited(problems))
        return dates

    def _each(self, name: str, parse: Callable[[str], float]) -> Array:
        values, problems = np.full(len(self), np.nan), []
        for row, cell in enumerate(self.cells[name]):
            try:
                if not is_missing(cell):
                    values[row] = parse(cell)
            except ValueError as error:
                problems.append(self.problem(str(error), row, name))
        if problems:
            raise InputError(limited(problems))
        return values

    def _note_commas(self, name: str, cells: Sequence[str]) -> None:
        if not has_decimal_commas(cells):
            return
        rows = (row for row, cell in enumerate(cells) if "." in cell)
        row = next(rows, None)
        if row is not None:
            message = "has a decimal point where other rows have a decimal comma; write one of the two throughout"
            raise InputError(self.problem(message, row, name, cells[row].strip()))
        self.assumptions.append(f"{self.source}: the comma in column '{name}' is taken as a decimal comma")


def limited(problems: Sequence[InputProblem]) -> list[InputProblem]:
    """Return the first few problems, and how many more there are."""
    shown = list(problems[:MOST_PROBLEMS])
    rest = len(problems) - len(shown)
    if rest:
        last = shown[-1]
        shown.append(InputProblem(f"and {rest} more lines like these", source=last.source))
    return shown


def read_sheet(path: Path, columns: Iterable[Column]) -> Sheet:
    """Read a CSV.

    Parameters
    ----------
    path : Path
    columns : iterable of Column
        Those it may have; others are passed over, and said.

    Raises
    ------
    InputError
        If it can't be read, has no heading, lacks a column that is required, or a unit that makes sense.
    """
    return parse_sheet(read_text(path, LARGEST), columns, path.name)


def parse_sheet(text: str, columns: Iterable[Column], source: str) -> Sheet:
    """Read the text of a CSV; as `read_sheet`."""
    heading_line, heading, separator = _heading(text, source)
    known = {column.name: column for column in columns}
    places, units, problems, assumptions = _places(heading, known, source, heading_line)
    if problems:
        raise InputError(problems)
    lines, table = _columns(text, heading_line, len(heading), separator, source)
    cells: dict[str, Sequence[str]] = {name: table[place] for name, place in places.items()}
    headings = {_plain_name(cell): cell for cell in heading if cell.strip()}
    numbers = np.array(lines, dtype=np.int64)
    return Sheet(source, separator, heading_line, numbers, cells, units, headings, assumptions)


def _plain_name(heading: str) -> str:
    """Return the name in a heading: without unit, in lower case, one space between words."""
    match = _HEADING.fullmatch(heading)
    return " ".join((match.group(1) if match else heading).lower().replace("_", " ").split())


def _heading(text: str, source: str) -> tuple[int, list[str], str]:
    for number, line in enumerate(text.splitlines(), start=1):
        if _is_content(line):
            separator = max(";\t,", key=line.count)
            cells = next(csv.reader([line], delimiter=separator))
            while cells and not cells[-1].strip():
                cells.pop()
            return number, cells, separator
    raise InputError(InputProblem("has no heading and no rows; see: holdtime bench new", source=source))


def _is_content(line: str) -> bool:
    return bool(line.strip(" \t,;\r\n")) and not line.lstrip().startswith("#")


_CHUNK = 20_000
"""Rows looked at together: lists of millions of rows cost more in housekeeping than in reading."""


def _columns(
    text: str, heading_line: int, width: int, separator: str, source: str
) -> tuple[list[int], list[list[str]]]:
    """Return line numbers and columns, as many as the heading has."""
    lines: list[int] = []
    columns: list[list[str]] = [[] for _ in range(width)]
    problems: list[InputProblem] = []
    reader = csv.reader(text.splitlines(keepends=True)[heading_line:], delimiter=separator)
    try:
        while chunk := [(heading_line + reader.line_num, row) for row in islice(reader, _CHUNK)]:
            kept = chunk if _is_plain(chunk, width) else list(_kept_rows(chunk, width, source, problems))
            lines += [line for line, _ in kept]
            for column, cells in zip(columns, zip(*(row for _, row in kept), strict=True), strict=False):
                column += cells
    except csv.Error as error:
        problems.append(InputProblem(f"is not a CSV: {error}", f"line {heading_line + reader.line_num}", source=source))
    if problems:
        raise InputError(limited(problems))
    return lines, columns


Row = tuple[int, list[str]]


def _is_plain(chunk: list[Row], width: int) -> bool:
    """Tell whether nothing has to be passed over or mended."""
    return all(len(row) == width and row[0][:1] not in ("", " ", "\t", "#") for _, row in chunk)


def _kept_rows(chunk: list[Row], width: int, source: str, problems: list[InputProblem]) -> Iterator[Row]:
    """Yield rows without comments and blank ones, as wide as the heading; others become problems."""
    for line, cells in chunk:
        row = cells
        if len(row) != width and not any(map(str.strip, row[width:])):
            row = row[:width] + [""] * (width - len(row))
        if row[0].lstrip().startswith("#") or not any(map(str.strip, row)):
            continue
        if len(row) == width:
            yield line, row
        else:
            problems.append(_ragged(len(row), width, line, source))


def _ragged(found: int, width: int, line: int, source: str) -> InputProblem:
    message = (
        f"has {found} cells, the heading has {width}; a decimal comma between commas? write decimal points, "
        "or semicolons between columns"
    )
    return InputProblem(message, f"line {line}", source=source)


def _places(
    heading: Sequence[str], known: dict[str, Column], source: str, line: int
) -> tuple[dict[str, int], dict[str, str], list[InputProblem], list[str]]:
    """Return place and unit of each column, what is wrong, and what is passed over."""
    places: dict[str, int] = {}
    units: dict[str, str] = {}
    problems: list[InputProblem] = []
    assumptions: list[str] = []
    for place, cell in enumerate(heading):
        match, name = _HEADING.fullmatch(cell), _plain_name(cell)
        if name in places:
            problems.append(InputProblem(f"column '{name}' is there twice", f"line {line}", source=source))
        elif name in known:
            places[name], units[name] = place, match.group(2) if match else ""
            message = _unit_problem(known[name], units[name])
            if message:
                problems.append(InputProblem(message, f"line {line}, {name}", source=source))
        elif name:
            hint = nearest_hint(name, [other for other in known if other not in places])
            assumptions.append(f"{source}: column '{name}' is not known and passed over; {hint}".rstrip("; "))
    for column in known.values():
        if column.is_required and column.name not in places:
            near = nearest_hint(column.name, [cell.partition("[")[0].strip() for cell in heading])
            message = f"no column '{column.name}'; {near}the heading must hold {column.heading}"
            problems.append(InputProblem(message, f"line {line}", source=source))
    return places, units, problems, assumptions


def _unit_problem(column: Column, unit: str) -> str:
    if column.kind in (Kind.TEXT, Kind.DATE):
        return ""
    if column.kind is Kind.TIME and unit.lower() in (*CLOCK_SPELLINGS, *TIMESTAMP_UNITS):
        return ""
    dimension = Dimension.DURATION if column.kind is Kind.TIME else column.kind
    assert isinstance(dimension, Dimension)
    if not unit and dimension is not Dimension.FRACTION:
        return f"has no unit; write for example {column.heading}"
    try:
        _affine(unit, dimension)
    except ValueError as error:
        clocks = ", or h:mm, min:sec, date" if column.kind is Kind.TIME else ""
        return f"unit [{unit}]: {error}{clocks}"
    return ""


def _affine(unit: str, dimension: Dimension) -> tuple[float, float]:
    """Return offset and factor of a unit: SI value = offset + factor x number."""
    zero, thousand = (parse_quantity(f"{number} {unit}".strip(), dimension) for number in (0, 1000))
    return zero, (thousand - zero) / 1000.0
