"""What is wrong in the cells of a bench's tables, told without knowing its runs: headings, numbers, times, dates."""

from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from geometries.errors import InputProblem
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File, Kind
from thermal_model.bench.read.csv_table import read_sheet
from thermal_model.bench.read.sheet import CsvSheet, kept

_ANY_MOMENT = datetime(2000, 1, 1, 12)


def cell_problems(folder: Path) -> list[InputProblem]:
    """Return what is wrong in the cells of every table of a bench folder that is there."""
    problems: list[InputProblem] = []
    for file, columns in COLUMNS.items():
        if not (folder / file).exists():
            continue
        sheet = kept(partial(read_sheet, folder / file, columns), problems)
        for read in _column_readers(file, sheet) if sheet is not None else ():
            kept(read, problems)
    return problems


def _column_readers(file: File, sheet: CsvSheet) -> Iterator[Callable[[], Any]]:
    for column in COLUMNS[file]:
        if column.name not in sheet.cells or column.kind is Kind.TEXT:
            continue
        if column.kind is Kind.DATE:
            yield partial(sheet.dates, column.name, None)
        elif column.kind is Kind.TIME:
            yield partial(sheet.times, column.name, lambda _row: _ANY_MOMENT, None)
        elif isinstance(column.kind, Dimension):
            yield partial(sheet.numbers, column.name, column.kind)
