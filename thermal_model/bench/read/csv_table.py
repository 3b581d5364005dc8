"""CSV files of a bench, read into sheets: line numbers kept, a million rows in seconds.

Commas, semicolons or tabs part the columns; blank lines, lines that begin with #, trailing blanks and a byte order
mark are passed over.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from geometries.errors import InputError, InputProblem, nearest_hint, refuse
from geometries.files import read_text
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, Column, File, Kind
from thermal_model.bench.read.cells import CLOCK_SPELLINGS
from thermal_model.bench.read.sheet import ENOUGH, TIMESTAMP_UNITS, CsvSheet, kept, limited, unit_offset_and_factor
from thermal_model.csv_columns import heading_of, rows_below, split_heading

LARGEST = 100_000_000
"""Largest file read. [bytes]"""

MOST_ROWS = {File.RUNS: 10_000, File.PASSINGS: 100_000, File.PROBE_CHECKS: 100_000, File.ROOM: 300_000}
MOST_READINGS = 1_200_000
"""Most rows of a file, of readings where it has no number of its own: what takes less than five seconds to read, a
reading a second for thirteen days."""


def read_sheet(path: Path, columns: Iterable[Column]) -> CsvSheet:
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
    text, source = read_text(path, LARGEST), path.name
    heading_line, heading, separator = heading_of(text, source, "; see: holdtime bench new")
    known = {column.name: column for column in columns}
    places, units, problems, assumptions = _places(heading, known, source, heading_line)
    refuse(problems)
    _refuse_too_many(text.count("\n"), source)
    lines, table = _columns(text, heading_line, len(heading), separator, source)
    cells: dict[str, Sequence[str]] = {name: table[place] for name, place in places.items()}
    headings = {split_heading(cell)[0]: cell for cell in heading if cell.strip()}
    numbers = np.array(lines, dtype=np.int64)
    return CsvSheet(source, separator, numbers, cells, units, headings, assumptions)


def _refuse_too_many(rows: int, source: str) -> None:
    most = MOST_ROWS.get(source, MOST_READINGS)  # type: ignore[call-overload]
    if rows > most:
        message = f"has {rows} lines; at most {most} are read: keep one reading in {-(-rows // most)}"
        if source == File.READINGS:
            message = f"{message}, or give each run a file of its own"
        raise InputError(message, source=source)


def _columns(
    text: str, heading_line: int, width: int, separator: str, source: str
) -> tuple[Sequence[int], list[list[str]]]:
    """Return line numbers and columns, as many as the heading has."""
    body = text.splitlines(keepends=True)[heading_line:]
    plain = _plain_columns(body, width, separator)
    if plain is not None:
        return range(heading_line + 1, heading_line + 1 + len(plain[0])), plain
    rows, problems = rows_below(text, heading_line, width, separator, source, most=ENOUGH)
    refuse(limited(problems))
    return [line for line, _ in rows], [[row[place] for _, row in rows] for place in range(width)]


def _plain_columns(body: list[str], width: int, separator: str) -> list[list[str]] | None:
    """Split rows without quotes, comments and blanks all at once; None if there are any: then each needs a look."""
    if any(line.count(separator) != width - 1 or line[:1] in '#" \t' for line in body):
        return None
    text = "".join(body)
    if '"' in text:
        return None
    flat = text.replace("\r\n", "\n").rstrip("\n").replace("\n", separator).split(separator)
    columns = [flat[place::width] for place in range(width)]
    is_sound = len(columns[0]) == len(body) and all(map(str.strip, columns[0]))
    return columns if is_sound else None


def _places(
    heading: Sequence[str], known: dict[str, Column], source: str, line: int
) -> tuple[dict[str, int], dict[str, str], list[InputProblem], list[str]]:
    """Return place and unit of each column, what is wrong, and what is passed over."""
    places: dict[str, int] = {}
    units: dict[str, str] = {}
    problems: list[InputProblem] = []
    assumptions: list[str] = []
    for place, cell in enumerate(heading):
        name, unit = split_heading(cell)
        if name in places:
            problems.append(InputProblem(f"column '{name}' is there twice", f"line {line}", source=source))
        elif name in known:
            places[name], units[name] = place, unit or ""
            message = _unit_problem(known[name], units[name])
            if message:
                problems.append(InputProblem(message, f"line {line}, {name}", source=source))
        elif name:
            hint = nearest_hint(name, [other for other in known if other not in places])
            assumptions.append(f"{source}: column '{name}' is not known and passed over; {hint}".rstrip("; "))
    for column in known.values():
        if column.is_required and column.name not in places:
            near = nearest_hint(column.name, [cell.partition("[")[0].strip() for cell in heading])
            near = near.replace("did you mean", "is it the one headed")
            message = f"no column '{column.name}'; {near}the heading must hold {column.heading}"
            problems.append(InputProblem(message, f"line {line}", source=source))
    return places, units, problems, assumptions


def holds_text(column: Column, unit: str) -> bool:
    """Tell whether the cells of a column are no numbers under such a unit: words, dates, clocks or moments."""
    is_clock = column.kind is Kind.TIME and unit.lower() in (*CLOCK_SPELLINGS, *TIMESTAMP_UNITS)
    return is_clock or column.kind in (Kind.TEXT, Kind.DATE)


def _unit_problem(column: Column, unit: str) -> str:
    if holds_text(column, unit):
        return ""
    dimension = Dimension.DURATION if column.kind is Kind.TIME else column.kind
    assert isinstance(dimension, Dimension)
    if not unit and dimension is not Dimension.FRACTION:
        return f"has no unit; write for example {column.heading}"
    try:
        unit_offset_and_factor(unit, dimension)
    except ValueError as error:
        clocks = ", or h:mm, min:sec, date" if column.kind is Kind.TIME else ""
        return f"unit [{unit}]: {error}{clocks}"
    return ""


def cell_problems(folder: Path) -> list[InputProblem]:
    """Return what is wrong in the cells of every table of a bench folder, told without knowing its runs."""
    problems: list[InputProblem] = []
    for file, columns in COLUMNS.items():
        if not (folder / file).exists():
            continue
        sheet = kept(partial(read_sheet, folder / file, columns), problems)
        for read in _column_readers(columns, sheet) if sheet is not None else ():
            kept(read, problems)
    return problems


def _column_readers(columns: Iterable[Column], sheet: CsvSheet) -> Iterator[Callable[[], Any]]:
    any_moment = datetime(2000, 1, 1, 12)
    for column in columns:
        if column.name not in sheet.cells or column.kind is Kind.TEXT:
            continue
        if column.kind is Kind.DATE:
            yield partial(sheet.dates, column.name, None)
        elif column.kind is Kind.TIME:
            yield partial(sheet.times, column.name, lambda _row: any_moment, None)
        elif isinstance(column.kind, Dimension):
            yield partial(sheet.numbers, column.name, column.kind)
