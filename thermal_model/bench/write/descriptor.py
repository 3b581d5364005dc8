"""`datapackage.json`: a Data Package descriptor, so that other tools read the tables with their units.

Data Package is an open standard (datapackage.org, version 2.0). Units stand in the headings, and as `unit` beside
each field: a property of our own, which the standard allows.
"""

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from geometries.files import write_text
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, Column, File, Kind
from thermal_model.bench.read.bench_file import read_bench_file
from thermal_model.bench.read.cells import has_decimal_commas
from thermal_model.bench.read.csv_table import holds_text, read_sheet
from thermal_model.bench.read.sheet import CsvSheet

DESCRIPTOR = "datapackage.json"
PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"

_TITLES = {
    File.RUNS: "Runs: a filling a row",
    File.READINGS: "Readings: what a display showed at a time",
    File.PASSINGS: "Marks that a display passed",
    File.ROOM: "Room temperature over time",
    File.PROBE_CHECKS: "Thermometers side by side",
}


def write_descriptor(folder: Path) -> None:
    """Write the descriptor of a bench folder beside its tables.

    Raises
    ------
    InputError
        If a table can't be read or the file can't be written.
    """
    write_text(folder / DESCRIPTOR, descriptor_text(folder), is_own=True)


def descriptor_text(folder: Path) -> str:
    """Return the descriptor of a bench folder as JSON; an InputError says which table can't be read."""
    return json.dumps(descriptor(folder), indent=2, ensure_ascii=False) + "\n"


def is_current(folder: Path) -> bool:
    """Tell whether the descriptor beside the tables describes them as they are."""
    path = folder / DESCRIPTOR
    return path.exists() and path.read_text(encoding="utf-8") == descriptor_text(folder)


def descriptor(folder: Path) -> dict[str, Any]:
    """Return the descriptor of a bench folder as a document."""
    tables = [file for file in COLUMNS if (folder / file).exists()]
    sheets = {file: read_sheet(folder / file, COLUMNS[file]) for file in tables}
    resources = [_resource(sheet, _TITLES[file], _schema(file, sheet)) for file, sheet in sheets.items()]
    if File.RUNS in sheets:
        resources += _logs(folder, sheets[File.RUNS].texts("run"))
    names = [_name(Path(resource["path"]).stem) for resource in resources]
    for place, (resource, own) in enumerate(zip(resources, names, strict=True)):
        resource["name"] = f"{own}_{place}" if own in names[:place] else own
    title = read_bench_file(folder).name
    return {"$schema": PROFILE, "name": _name(title), "title": title, "resources": resources}


def _name(text: str) -> str:
    """Return a text as the standard's names are written."""
    return "".join(c if (c.isascii() and c.isalnum()) or c in "._-" else "_" for c in text.lower())


def _logs(folder: Path, runs: Sequence[str]) -> list[dict[str, Any]]:
    """Return the logs of single runs that stand in a folder, as `read_logs` takes them."""
    columns = [column for column in COLUMNS[File.READINGS] if column.name != "run"]
    paths = [folder / f"{run}.csv" for run in dict.fromkeys(runs) if f"{run}.csv" not in set(File)]
    found = []
    for path in sorted(path for path in paths if path.parent == folder and path.is_file()):
        sheet = read_sheet(path, columns)
        found.append(_resource(sheet, f"Readings of run {path.stem}", _fields_schema(columns, sheet)))
    return found


def _resource(sheet: CsvSheet, title: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": "",
        "title": title,
        "type": "table",
        "path": sheet.source,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": sheet.separator, "commentChar": "#"},
        "schema": schema,
    }


def _fields_schema(columns: Iterable[Column], sheet: CsvSheet) -> dict[str, Any]:
    known = {column.name: column for column in columns}
    return {
        "fields": [_field(heading, known.get(name), sheet, name) for name, heading in sheet.headings.items()],
        "missingValues": ["", "-", "n/a"],
    }


def _schema(file: File, sheet: CsvSheet) -> dict[str, Any]:
    schema = _fields_schema(COLUMNS[file], sheet)
    known = {column.name for column in COLUMNS[file]}
    if file is File.RUNS:
        schema["primaryKey"] = ["run"]
    elif "run" in known:
        schema["foreignKeys"] = [{"fields": ["run"], "reference": {"resource": "runs", "fields": ["run"]}}]
    return schema


def _field(heading: str, column: Column | None, sheet: CsvSheet, name: str) -> dict[str, Any]:
    if column is None:
        return {"name": heading, "type": "any"}
    unit = sheet.units[name]
    kind = "string" if holds_text(column, unit) else "number"
    field: dict[str, Any] = {"name": heading, "type": kind, "description": column.meaning}
    if (unit and isinstance(column.kind, Dimension)) or column.kind is Kind.TIME:
        field["unit"] = unit
    if kind == "number" and has_decimal_commas(sheet.cells[name]):
        field["decimalChar"] = ","
    if column.is_required:
        field["constraints"] = {"required": True}
    return field
