"""The CSV files of a bench as text: headings with units, comments that explain them."""

from collections.abc import Mapping, Sequence

from thermal_model.bench.columns import COLUMNS, Column, File
from thermal_model.words.cells import csv_text


def table_text(file: File, rows: Sequence[Mapping[str, object]] = (), columns: Sequence[str] | None = None) -> str:
    """Return one of the files of a bench.

    Parameters
    ----------
    file : File
    rows : sequence of mapping of str to object
        By name of column; what is not there stays empty.
    columns : sequence of str, optional
        Names of those that are written; all of them if left out.
    """
    chosen = [column for column in COLUMNS[file] if columns is None or column.name in columns]
    headings = [column.heading for column in chosen]
    return csv_text([headings, *([_cell(row.get(column.name)) for column in chosen] for row in rows)])


def _cell(value: object) -> object:
    return f"{value:.10g}" if isinstance(value, float) else value


def commented_table_text(file: File, about: str) -> str:
    """Return one of the files without rows, its columns explained in comments under the headings."""
    width = max(len(column.heading) for column in COLUMNS[file])
    lines = [f"# {about}", *(f"# {column.heading.ljust(width)}  {_meaning(column)}" for column in COLUMNS[file])]
    return table_text(file) + "\n".join(lines) + "\n"


def _meaning(column: Column) -> str:
    return f"{column.meaning} (needed)" if column.is_required else column.meaning
