"""Columns of a CSV whose headings carry units, `time [min]`, read into SI numbers.

Commas, semicolons or tabs between columns; a decimal comma wherever commas do not already part columns; comment
lines begin with #. Every message names the line. What counts as a heading, a row or a comment is the same for the
files of a bench (`bench.read.csv_table`).
"""

import csv
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from geometries.errors import InputError, InputProblem, nearest_hint, refuse
from geometries.files import read_text
from geometries.quantities import Dimension, QuantityField, example, parse_quantity

LARGEST = 10_000_000
"""Largest file read. [bytes]"""

MOST_ROWS = 50_000
"""Most rows: what takes two seconds to read, a reading a minute for a month."""

_MOST_PROBLEMS = 5

_HEADING = re.compile(r"\s*([^\[\]]+?)\s*\[\s*([^\[\]]*?)\s*\]\s*")

Line = tuple[int, list[str]]


def read_columns(path: Path, columns: Mapping[str, QuantityField]) -> dict[str, list[float]]:
    """Read named columns of a CSV; others are passed over.

    Parameters
    ----------
    path : Path
    columns : mapping of str to QuantityField
        Name of each heading, what its unit must measure, and between which bounds.

    Returns
    -------
    dict of list of float
        One value a row. [SI]

    Raises
    ------
    InputError
        If the file can't be read, a heading or its unit is missing or wrong, or a cell is no number or out of bounds.
    """
    return parse_columns(read_text(path, LARGEST), columns, source=str(path))


def parse_columns(text: str, columns: Mapping[str, QuantityField], source: str = "") -> dict[str, list[float]]:
    r"""Read named columns from the text of a CSV.

    Raises
    ------
    InputError
        As `read_columns`.

    Examples
    --------
    >>> wanted = {"temperature": QuantityField(Dimension.TEMPERATURE)}
    >>> parse_columns("time [min];temperature [C]\n0;20,5\n", wanted)
    {'temperature': [293.65]}
    """
    heading_line, heading, separator = heading_of(text, source)
    found = _find_columns((heading_line, heading), columns, source)
    rows, problems = rows_below(text, heading_line, len(heading), separator, source, most=_MOST_PROBLEMS)
    refuse(problems)
    if not rows:
        raise InputError("has headings but no rows", source=source)
    if len(rows) > MOST_ROWS:
        message = f"has {len(rows)} rows; at most {MOST_ROWS} are read: keep one in {-(-len(rows) // MOST_ROWS)}"
        raise InputError(message, source=source)
    values: dict[str, list[float]] = {name: [] for name in columns}
    for number, cells in rows:
        for name, (place, unit) in found.items():
            try:
                values[name].append(_value(cells[place], unit, columns[name]))
            except ValueError as error:
                problems.append(InputProblem(str(error), f"line {number}, {name}", source=source))
    refuse(problems[:_MOST_PROBLEMS])
    return values


def heading_of(text: str, source: str, advice: str = "") -> tuple[int, list[str], str]:
    """Return line, cells and separator of the heading of a CSV; an InputError says that there is none."""
    for number, line in enumerate(text.splitlines(), start=1):
        if _is_content(line):
            separator = max(";\t,", key=line.count)
            return number, cells_of(line, separator), separator
    raise InputError(f"has no heading and no rows{advice}", source=source)


def _is_content(line: str) -> bool:
    """Tell whether a line is not blank, no comment, and no separator such as spreadsheets write over the heading."""
    return bool(line.strip(" \t,;\r\n")) and not line.lstrip().lower().startswith(("#", "sep="))


def cells_of(line: str, separator: str) -> list[str]:
    """Return the cells of a line, empty ones at its end left out; none if it is no line of a CSV."""
    try:
        cells = next(csv.reader([line], delimiter=separator), [])
    except csv.Error:
        return []
    while cells and not cells[-1].strip():
        cells.pop()
    return cells


def split_heading(heading: str) -> tuple[str, str | None]:
    """Return the name in a heading, in lower case and with one space between words, and its unit, None without one.

    Examples
    --------
    >>> split_heading("Room_temperature [degF]"), split_heading("run")
    (('room temperature', 'degF'), ('run', None))
    """
    match = _HEADING.fullmatch(heading)
    name = " ".join((match.group(1) if match else heading).lower().replace("_", " ").split())
    return name, match.group(2) if match else None


def rows_below(
    text: str, heading_line: int, width: int, separator: str, source: str, *, most: int
) -> tuple[list[Line], list[InputProblem]]:
    """Return the rows below a heading, as wide as it, with the number of each line; and what is wrong with others.

    Parameters
    ----------
    text : str
    heading_line, width : int
        Number of its line, and of its columns.
    separator, source : str
    most : int
        Problems after which no more are looked for.
    """
    reader = csv.reader(text.splitlines(keepends=True)[heading_line:], delimiter=separator)
    problems: list[InputProblem] = []
    rows: list[Line] = []
    try:
        rows += _kept_rows(((heading_line + reader.line_num, row) for row in reader), width, source, problems, most)
    except csv.Error as error:
        problems.append(InputProblem(f"is not a CSV: {error}", f"line {heading_line + reader.line_num}", source=source))
    return rows, problems


def _kept_rows(
    rows: Iterable[Line], width: int, source: str, problems: list[InputProblem], most: int
) -> Iterator[Line]:
    """Yield rows without comments and blank ones, as wide as the heading; others become problems."""
    for line, cells in rows:
        row = cells
        if len(row) != width and not any(map(str.strip, row[width:])):
            row = row[:width] + [""] * (width - len(row))
        if row[0].lstrip().startswith("#") or not any(map(str.strip, row)):
            continue
        if len(row) == width:
            yield line, row
            continue
        problems.append(_ragged(len(row), width, line, source))
        if len(problems) == most:
            return


def _ragged(found: int, width: int, line: int, source: str) -> InputProblem:
    message = (
        f"has {found} cells, the heading has {width}; a decimal comma between commas? write decimal points, "
        "or semicolons between columns"
    )
    return InputProblem(message, f"line {line}", source=source)


def _find_columns(heading: Line, columns: Mapping[str, QuantityField], source: str) -> dict[str, tuple[int, str]]:
    """Return place and unit of each column."""
    number, cells = heading
    units: dict[str, tuple[int, str | None]] = {}
    for place, cell in enumerate(cells):
        name, unit = split_heading(cell)
        units.setdefault(name, (place, unit))
    found, problems = {}, []
    for name, quantity in columns.items():
        dimension = quantity.dimension
        place, unit = units.get(name, (0, None))
        wanted = f"{name} [{example(dimension).split()[-1]}]"
        if name not in units:
            message = f"no column '{name}'; {nearest_hint(name, units)}the heading must hold {wanted}"
        elif not unit:
            message = f"column '{name}' has no unit; write for example {wanted}"
        else:
            message = _unit_problem(unit, dimension)
            found[name] = (place, unit)
        if message:
            problems.append(InputProblem(message, f"line {number}", source=source))
    refuse(problems)
    return found


def _unit_problem(unit: str, dimension: Dimension) -> str:
    try:
        parse_quantity(f"300 {unit}", dimension)
    except ValueError as error:
        return f"unit [{unit}]: {error}"
    return ""


def _value(cell: str, unit: str, quantity: QuantityField) -> float:
    number = cell.strip()
    if number.count(",") == 1 and "." not in number:
        number = number.replace(",", ".")
    if not number:
        raise ValueError("is empty; give a number, or leave the whole row out")
    return quantity.read(f"{number} {unit}")
