"""Rows added to the tables of a bench while it is watched: each is on disk before it counts, in the form that is read.

A table keeps its headings, units, separator and comments. A row goes to its end; only a look at a mark that was still
to come takes the place of the one before it.
"""

import csv
import os
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path

from geometries.errors import InputError, nearest_hint
from geometries.files import read_text, write_text
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File
from thermal_model.bench.read.cells import CLOCK_SPELLINGS, Clock
from thermal_model.bench.read.csv_table import LARGEST
from thermal_model.bench.read.sheet import TIMESTAMP_UNITS, unit_offset_and_factor
from thermal_model.bench.write.tables import table_text
from thermal_model.csv_columns import heading_of, split_heading
from thermal_model.words.cells import csv_text

Cells = Mapping[str, str]
"""Texts by name of column."""


def append_row(
    path: Path, cells: Cells, seconds: Mapping[str, float] | None = None, start: datetime | None = None
) -> bool:
    """Add a row to a table of a bench, and have it on disk.

    Parameters
    ----------
    path : Path
        Named as in `File`; made with all its columns if it is not there.
    cells : mapping of str to str
        By name of column; quantities carry their unit.
    seconds : mapping of str to float, optional
        Times since the contents went in, written as the heading says. [s]
    start : datetime, optional
        When they went in, for headings of moments.

    Returns
    -------
    bool
        False if the very row is there already: one that was sent twice is written once.

    Raises
    ------
    InputError
        If the table can't be read or written, or lacks a column.
    """
    if not path.exists():
        write_text(path, table_text(File(path.name)))
    text = read_text(path, LARGEST)
    line = _line(text, path.name, cells, seconds or {}, start)
    if line in text.splitlines():
        return False
    _append(path, ("" if text.endswith("\n") else "\n") + line + "\n")
    return True


def replace_row(path: Path, old: str, cells: Cells, seconds: Mapping[str, float], start: datetime | None) -> None:
    """Put a row in the place of a line that is there once; the table is written anew, whole."""
    text = read_text(path, LARGEST)
    lines = text.splitlines()
    lines[lines.index(old)] = _line(text, path.name, cells, seconds, start)
    write_text(path, "\n".join([*lines, ""]))


def remove_last(path: Path, is_meant: Callable[[dict[str, str]], bool]) -> bool:
    """Take away the last row that is meant; the table is written anew, whole."""
    found = rows_of(path)
    line = next((line for line, cells in reversed(found) if is_meant(cells)), None)
    if line is None:
        return False
    lines = read_text(path, LARGEST).splitlines()
    del lines[len(lines) - 1 - lines[::-1].index(line)]
    write_text(path, "\n".join([*lines, ""]))
    return True


def rows_of(path: Path) -> list[tuple[str, dict[str, str]]]:
    """Return the rows of a table as lines, and as cells by name of column; comments are left out."""
    if not path.exists():
        return []
    text = read_text(path, LARGEST)
    number, heading, separator = heading_of(text, path.name)
    names = [split_heading(cell)[0] for cell in heading]
    lines = [line for line in text.splitlines()[number:] if line.strip() and not line.lstrip().startswith("#")]
    cells = csv.reader(lines, delimiter=separator)
    return [(line, dict(zip(names, row, strict=False))) for line, row in zip(lines, cells, strict=False)]


def units_of(path: Path) -> dict[str, str]:
    """Return the units in the headings of a table, by name of column."""
    return _units(heading_of(read_text(path, LARGEST), path.name)[1]) if path.exists() else {}


def _units(heading: Sequence[str]) -> dict[str, str]:
    return {name: unit or "" for name, unit in map(split_heading, heading)}


def _line(text: str, source: str, cells: Cells, seconds: Mapping[str, float], start: datetime | None) -> str:
    """Return a row as a line of a table, as its headings want it."""
    _, heading, separator = heading_of(text, source)
    units = _units(heading)
    times = {name: _time_cell(units.get(name, ""), value, start, separator) for name, value in seconds.items()}
    given = {name: " ".join(value.split()) for name, value in cells.items() if value} | times
    missing = [name for name in given if name not in units]
    if missing:
        known = [column.name for column in COLUMNS[File(source)]]
        message = f"has no column '{missing[0]}'; {nearest_hint(missing[0], known)}add it to the heading"
        raise InputError(message, source=source)
    return csv_text([[given.get(name, "") for name in units]], separator=separator).removesuffix("\n")


def _time_cell(unit: str, seconds: float, start: datetime | None, separator: str) -> str:
    """Return a time as a heading wants it: a number, a clock or a moment; to a tenth of a second."""
    if unit.lower() in TIMESTAMP_UNITS:
        if start is None:
            raise InputError("needs the moment of pouring; give the run a date with its time of day")
        return (start + timedelta(seconds=round(seconds, 1))).isoformat(sep=" ", timespec="milliseconds")
    clock = CLOCK_SPELLINGS.get(unit.lower())
    if clock is not None:
        whole = round(seconds)
        if clock is Clock.MINUTES_SECONDS:
            return f"{whole // 60}:{whole % 60:02d}"
        return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"
    zero, factor = unit_offset_and_factor(unit, Dimension.DURATION)
    digits = f"{(seconds - zero) / factor:.{5 if factor > 100.0 else 3}f}".rstrip("0").rstrip(".") or "0"
    return digits.replace(".", ",") if separator == ";" else digits


def _append(path: Path, text: str) -> None:
    """Write at the end of a file in one go, and wait until it is on disk."""
    try:
        with path.open("ab") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise InputError(f"can't be written: {error.strerror}", source=str(path)) from None
