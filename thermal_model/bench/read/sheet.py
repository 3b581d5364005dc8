"""A table of a bench's files: cells by column and line, turned into numbers, times and dates.

What had to be taken for granted is put into `assumptions`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from geometries.errors import InputError, InputProblem, refuse
from geometries.numeric import Array
from geometries.quantities import Dimension, parse_quantity
from thermal_model.bench.read.cells import (
    CLOCK_SPELLINGS,
    DateOrder,
    carries_unit,
    date_order,
    has_decimal_commas,
    is_missing,
    parse_cell_quantity,
    parse_clock,
    parse_date,
    parse_number,
    parse_numbers,
)

ENOUGH = 1000
"""Problems of one kind after which no more are looked for."""

MOST_CARRIED = 100_000
"""Most cells of a column that carry a unit: each is read apart."""

MOST_PROBLEMS = 5
"""So many lines are named; the rest is counted."""

TIMESTAMP_UNITS = ("date", "iso", "timestamp")
"""`time [date]`: each reading carries the moment it was taken."""

Lines = NDArray[np.int64]
Found = TypeVar("Found")


@dataclass(frozen=True)
class CsvSheet:
    """A table of n rows.

    Attributes
    ----------
    source : str
        File, for the messages.
    separator : str
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

    def numbers(self, name: str, dimension: Dimension, units: Sequence[str] | None = None) -> Array:
        """Return a column of quantities, (n,), NaN where there is no value. [SI]

        A cell may carry a unit of its own, "191 F", which counts; without one a row's unit does, then the heading's.

        Parameters
        ----------
        name : str
        dimension : Dimension
        units : sequence of n str, optional
            Of each row; empty text: as the heading says.

        Raises
        ------
        InputError
            If a cell is no number, or the numbers have decimal points and decimal commas.
        """
        cells = self.cells.get(name)
        if cells is None:
            return np.full(len(self), np.nan)
        of_rows = [unit or self.units[name] for unit in units or [""] * len(self)]
        scales = {unit: unit_offset_and_factor(unit, dimension) for unit in set(of_rows)}
        values = parse_numbers(cells)
        if values is None:
            si = self._quantities(name, dimension, [scales[unit] for unit in of_rows])
        else:
            zeros, factors = (np.array([scales[unit][part] for unit in of_rows]) for part in (0, 1))
            si = zeros + factors * values
        self._note_commas(name, cells)
        self._refuse_impossible(name, dimension, si)
        return si

    def _quantities(self, name: str, dimension: Dimension, scales: Sequence[tuple[float, float]]) -> Array:
        """Return a column cell by cell, each a number on its row's scale or a quantity with its unit."""
        cells = self.cells[name]
        carried = [row for row, cell in enumerate(cells) if carries_unit(cell)]
        if len(carried) > MOST_CARRIED:
            row = carried[MOST_CARRIED]
            message = f"is one of more than {MOST_CARRIED} cells with a unit; write it in the heading alone"
            raise InputError([self.problem(message, row, name, cells[row].strip())])
        with_unit = frozenset(carried)

        def quantity(row: int) -> float:
            if is_missing(cells[row]):
                return np.nan
            if row in with_unit:
                return parse_cell_quantity(cells[row], dimension)
            zero, factor = scales[row]
            return zero + factor * parse_number(cells[row])

        values = np.array(self._each(name, quantity))
        if carried:
            lines = lines_text(self.lines[carried].tolist())
            self.assumptions.append(f"{self.source}: '{name}' has a unit of its own in {lines}, and it counts")
        return values

    def _refuse_impossible(self, name: str, dimension: Dimension, si: Array) -> None:
        messages = {
            Dimension.TEMPERATURE: "is below absolute zero",
            Dimension.TEMPERATURE_DIFFERENCE: "is below zero; a spread is at least zero",
        }
        message = messages.get(dimension, "is below zero")
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
            cells, clock = self.cells[name], CLOCK_SPELLINGS[unit]
            return np.array(
                self._each(name, lambda row: np.nan if is_missing(cells[row]) else parse_clock(cells[row], clock))
            )
        if name in self.cells and unit in TIMESTAMP_UNITS:
            return self._since(name, zeros, order)
        self._refuse_clocks(name)
        return self.numbers(name, Dimension.DURATION)

    def _refuse_clocks(self, name: str) -> None:
        for row, cell in enumerate(self.cells.get(name, ())[:1000]):
            if ":" in cell and not carries_unit(cell):
                unit = self.units[name]
                message = f"has a colon, but the heading says [{unit}]; write {name} [h:mm] or {name} [min:sec]"
                raise InputError([self.problem(message, row, name, cell.strip())])

    def _since(self, name: str, zeros: Callable[[int], datetime | None], order: DateOrder | None) -> Array:
        moments = self.dates(name, order)

        def seconds(row: int) -> float:
            moment, zero = moments[row], zeros(row)
            if moment is None:
                return np.nan
            if zero is None:
                message = "is a moment, but the run's date in runs.csv has no time of day at which it was filled"
                raise InputError([self.problem(message, row, name, self.cells[name][row].strip())])
            return (moment - zero).total_seconds()

        return np.array(self._each(name, seconds))

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
        return self._each(name, lambda row: None if is_missing(cells[row]) else parse_date(cells[row], order))

    def _each(self, name: str, read: Callable[[int], Found]) -> list[Found]:
        """Return what is read of each row, or refuse those that can't be, the first of them by line."""
        found: list[Found] = []
        problems: list[InputProblem] = []
        for row in range(len(self)):
            try:
                found.append(read(row))
            except InputError as error:
                problems += error.problems
            except ValueError as error:
                problems.append(self.problem(str(error), row, name))
            if len(problems) == ENOUGH:
                break
        refuse(limited(problems))
        return found

    def _note_commas(self, name: str, cells: Sequence[str]) -> None:
        if not has_decimal_commas(cells):
            return
        row = next((row for row, cell in enumerate(cells) if "." in cell), None)
        if row is not None:
            message = "has a decimal point where other rows have a decimal comma; write one of the two throughout"
            raise InputError([self.problem(message, row, name, cells[row].strip())])
        self.assumptions.append(f"{self.source}: the comma in column '{name}' is taken as a decimal comma")


def kept(read: Callable[[], Found], problems: list[InputProblem]) -> Found | None:
    """Return what a reader returns, None if it fails; its problems are added to the others."""
    try:
        return read()
    except InputError as error:
        problems += [problem for problem in error.problems if problem not in problems]
        return None


def lines_text(lines: Sequence[int]) -> str:
    """Return line numbers in few words.

    Examples
    --------
    >>> lines_text([2, 3, 4, 7])
    'lines 2-4, 7'
    """
    spans: list[list[int]] = []
    for line in lines:
        if spans and line == spans[-1][1] + 1:
            spans[-1][1] = line
        else:
            spans.append([line, line])
    texts = [f"{a}" if a == b else f"{a}-{b}" for a, b in spans]
    shown = ", ".join(texts[:6]) + (f" and {len(texts) - 6} more" if len(texts) > 6 else "")
    return f"line{'s' if len(lines) > 1 else ''} {shown}"


def limited(problems: Sequence[InputProblem]) -> list[InputProblem]:
    """Return the first few problems, and how many more there are."""
    shown = list(problems[:MOST_PROBLEMS])
    rest = len(problems) - len(shown)
    if rest:
        last, at_least = shown[-1], "at least " if len(problems) == ENOUGH else ""
        shown.append(InputProblem(f"and {at_least}{rest} more lines like these", source=last.source))
    return shown


def unit_offset_and_factor(unit: str, dimension: Dimension) -> tuple[float, float]:
    """Return offset and factor of a unit: SI value = offset + factor x number."""
    zero, thousand = (parse_quantity(f"{number} {unit}".strip(), dimension) for number in (0, 1000))
    return zero, (thousand - zero) / 1000.0
