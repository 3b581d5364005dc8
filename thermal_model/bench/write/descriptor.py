"""`datapackage.json`: a Data Package descriptor, so that other tools read the tables with their units.

Data Package is an open standard (datapackage.org, version 2.0). Units stand in the headings, and as `unit` beside
each field: a property of our own, which the standard allows.
"""

import json
from pathlib import Path
from typing import Any

from geometries.files import read_text, write_text
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, Column, File, Kind
from thermal_model.bench.read.bench_file import read_bench_file
from thermal_model.bench.read.cells import CLOCK_SPELLINGS, has_decimal_commas
from thermal_model.bench.read.csv_table import LARGEST, parse_sheet
from thermal_model.bench.read.sheet import TIMESTAMP_UNITS, CsvSheet

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
    name = read_bench_file(folder).name
    return {
        "$schema": PROFILE,
        "name": "".join(c if c.isalnum() or c in "._-/" else "_" for c in name.lower()),
        "title": name,
        "resources": [_resource(file, folder) for file in tables],
    }


def _resource(file: File, folder: Path) -> dict[str, Any]:
    sheet = parse_sheet(read_text(folder / file, LARGEST), COLUMNS[file], file)
    dialect: dict[str, Any] = {"delimiter": sheet.separator, "commentChar": "#"}
    return {
        "name": Path(file).stem,
        "title": _TITLES[file],
        "type": "table",
        "path": str(file),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": dialect,
        "schema": _schema(file, sheet),
    }


def _schema(file: File, sheet: CsvSheet) -> dict[str, Any]:
    known = {column.name: column for column in COLUMNS[file]}
    schema: dict[str, Any] = {
        "fields": [_field(heading, known.get(name), sheet, name) for name, heading in sheet.headings.items()],
        "missingValues": ["", "-", "n/a"],
    }
    if file is File.RUNS:
        schema["primaryKey"] = ["run"]
    elif "run" in known:
        schema["foreignKeys"] = [{"fields": ["run"], "reference": {"resource": "runs", "fields": ["run"]}}]
    return schema


def _field(heading: str, column: Column | None, sheet: CsvSheet, name: str) -> dict[str, Any]:
    if column is None:
        return {"name": heading, "type": "any"}
    unit = sheet.units[name]
    field: dict[str, Any] = {"name": heading, "type": _field_type(column, unit), "description": column.meaning}
    if (unit and isinstance(column.kind, Dimension)) or column.kind is Kind.TIME:
        field["unit"] = unit
    if field["type"] == "number" and has_decimal_commas(sheet.cells[name]):
        field["decimalChar"] = ","
    if column.is_required:
        field["constraints"] = {"required": True}
    return field


def _field_type(column: Column, unit: str) -> str:
    if column.kind in (Kind.TEXT, Kind.DATE):
        return "string"
    if column.kind is Kind.TIME and unit.lower() in (*CLOCK_SPELLINGS, *TIMESTAMP_UNITS):
        return "string"
    return "number"
