"""Columns of a CSV whose headings carry units, `time [min]`, read into SI numbers.

Commas, semicolons or tabs between columns; a decimal comma wherever commas do not already part columns; comment
lines begin with #. Every message names the line.
"""

import csv
import re
from collections.abc import Mapping
from pathlib import Path

from geometries.errors import InputError, InputProblem, nearest_hint
from geometries.files import read_text
from geometries.quantities import Dimension, QuantityField, example, parse_quantity

LARGEST = 10_000_000
"""Largest file read. [bytes]"""

MOST_ROWS = 50_000
"""Most rows: what takes two seconds to read, a reading a minute for a month."""

_MOST_PROBLEMS = 5
_HEADING = re.compile(r"\s*([^\[\]]+?)\s*\[\s*([^\[\]]+?)\s*\]\s*")

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
    lines = _lines(text, source)
    heading, rows = lines[0], lines[1:]
    found = _find_columns(heading, columns, source)
    if not rows:
        raise InputError(InputProblem("has headings but no rows", source=source))
    if len(rows) > MOST_ROWS:
        message = f"has {len(rows)} rows; at most {MOST_ROWS} are read: keep one in {-(-len(rows) // MOST_ROWS)}"
        raise InputError(InputProblem(message, source=source))
    _refuse_ragged_rows(len(heading[1]), rows, source)
    values: dict[str, list[float]] = {name: [] for name in columns}
    problems: list[InputProblem] = []
    for number, cells in rows:
        for name, (place, unit) in found.items():
            try:
                values[name].append(_value(cells[place], unit, columns[name]))
            except ValueError as error:
                problems.append(InputProblem(str(error), f"line {number}, {name}", source=source))
    if problems:
        raise InputError(problems[:_MOST_PROBLEMS])
    return values


def _lines(text: str, source: str) -> list[Line]:
    """Return line numbers and cells; blank lines and comments are left out."""
    kept = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if not kept:
        raise InputError(InputProblem("has no rows", source=source))
    separator = max(";\t,", key=lambda mark: kept[0][1].count(mark))
    try:
        return [(number, next(csv.reader([line], delimiter=separator))) for number, line in kept]
    except csv.Error as error:
        raise InputError(InputProblem(f"is not a CSV: {error}", source=source)) from None


def _find_columns(heading: Line, columns: Mapping[str, QuantityField], source: str) -> dict[str, tuple[int, str]]:
    """Return place and unit of each column."""
    number, cells = heading
    units: dict[str, tuple[int, str | None]] = {}
    for place, cell in enumerate(cells):
        match = _HEADING.fullmatch(cell)
        name = match.group(1) if match else cell.strip()
        units.setdefault(name.lower(), (place, match.group(2) if match else None))
    found, problems = {}, []
    for name, quantity in columns.items():
        dimension = quantity.dimension
        place, unit = units.get(name, (0, None))
        wanted = f"{name} [{example(dimension).split()[-1]}]"
        if name not in units:
            message = f"no column '{name}'; {nearest_hint(name, units)}the heading must hold {wanted}"
        elif unit is None:
            message = f"column '{name}' has no unit; write for example {wanted}"
        else:
            message = _unit_problem(unit, dimension)
            found[name] = (place, unit)
        if message:
            problems.append(InputProblem(message, f"line {number}", source=source))
    if problems:
        raise InputError(problems)
    return found


def _unit_problem(unit: str, dimension: Dimension) -> str:
    try:
        parse_quantity(f"300 {unit}", dimension)
    except ValueError as error:
        return f"unit [{unit}]: {error}"
    return ""


def _refuse_ragged_rows(width: int, rows: list[Line], source: str) -> None:
    ragged = [
        InputProblem(
            f"has {len(cells)} cells, the heading has {width}; a decimal comma between commas? "
            "write decimal points, or semicolons between columns",
            f"line {number}",
            source=source,
        )
        for number, cells in rows
        if len(cells) != width
    ]
    if ragged:
        raise InputError(ragged[:_MOST_PROBLEMS])


def _value(cell: str, unit: str, quantity: QuantityField) -> float:
    number = cell.strip()
    if number.count(",") == 1 and "." not in number:
        number = number.replace(",", ".")
    if not number:
        raise ValueError("is empty; give a number, or leave the whole row out")
    return quantity.read(f"{number} {unit}")
