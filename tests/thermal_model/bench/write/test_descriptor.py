"""The descriptor is read by the reference implementation of the standard (frictionless), which knows nothing of us."""

import csv
import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.thermal_model.bench.conftest import Demo
from tests.thermal_model.bench.folders import READINGS, bench_folder
from thermal_model.bench.write.descriptor import DESCRIPTOR, is_current, write_descriptor
from thermal_model.bench.write.template import write_template

READER = """
import json, sys, warnings
warnings.simplefilter("ignore")
from frictionless import Package
package = Package(sys.argv[1])
report = package.validate()
rows = {r.name: [{k: str(v) for k, v in row.items()} for row in r.read_rows()] for r in package.resources}
print(json.dumps({"valid": report.valid, "errors": report.flatten(["message"]), "rows": rows}))
"""


def read_by_others(folder: Path) -> dict:
    """What another program reads from the descriptor; in a process of its own, for what it does on import."""
    command = [sys.executable, "-c", READER, DESCRIPTOR]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def test_others_read_the_same_numbers_from_a_spreadsheet_with_decimal_commas(tmp_path: Path) -> None:
    bench_folder(tmp_path, readings=READINGS.replace(",", ";").replace(".", ","))
    write_descriptor(tmp_path)
    found = read_by_others(tmp_path)
    assert found["errors"] == []
    assert found["valid"]
    numbers = [float(row["temperature [C]"]) for row in found["rows"]["readings"]]
    assert numbers == [float(row["temperature [C]"]) for row in csv.DictReader(READINGS.splitlines())]


def test_demo_and_empty_bench_are_valid(tmp_path: Path, demo: Demo) -> None:
    write_template(tmp_path)
    for folder in (tmp_path, demo.folder):
        assert read_by_others(folder)["valid"]
    assert read_by_others(tmp_path)["rows"]["readings"] == []


def test_logs_of_single_runs_are_described(tmp_path: Path) -> None:
    log = "time [min],temperature [F]\n0,193.6\n60,187\n"
    bench_folder(tmp_path, readings=READINGS.replace("r1,", "r2,").partition("r2,2,")[0], r1=log, notes=log)
    assert not is_current(tmp_path)
    write_descriptor(tmp_path)
    assert is_current(tmp_path)
    found = read_by_others(tmp_path)
    assert found["valid"], found["errors"]
    assert [float(row["temperature [F]"]) for row in found["rows"]["r1"]] == [193.6, 187.0]
    assert "notes" not in found["rows"]  # no run of that name: passed over


def test_a_row_that_breaks_the_description_is_seen_by_others(tmp_path: Path) -> None:
    bench_folder(tmp_path)
    write_descriptor(tmp_path)
    (tmp_path / "readings.csv").write_text(READINGS + "r2,500,warm\n", encoding="utf-8")
    assert not read_by_others(tmp_path)["valid"]


def test_units_stand_beside_the_fields(tmp_path: Path) -> None:
    bench_folder(tmp_path)
    write_descriptor(tmp_path)
    document = json.loads((tmp_path / DESCRIPTOR).read_text(encoding="utf-8"))
    assert document["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    readings = next(resource for resource in document["resources"] if resource["name"] == "readings")
    units = {field["name"]: field.get("unit") for field in readings["schema"]["fields"]}
    assert units == {"run": None, "time [min]": "min", "temperature [C]": "C"}
    assert readings["schema"]["foreignKeys"] == [
        {"fields": ["run"], "reference": {"resource": "runs", "fields": ["run"]}}
    ]


def test_a_changed_table_outdates_the_descriptor(tmp_path: Path) -> None:
    bench_folder(tmp_path)
    assert not is_current(tmp_path)
    write_descriptor(tmp_path)
    assert is_current(tmp_path)
    bench_folder(tmp_path, readings=READINGS.replace("[C]", "[F]"))
    assert not is_current(tmp_path)


@pytest.mark.parametrize("broken", ["run,time [min]\n", ""])
def test_a_table_that_cannot_be_read_is_refused(tmp_path: Path, broken: str) -> None:
    from geometries.errors import InputError

    bench_folder(tmp_path, readings=broken)
    with pytest.raises(InputError, match=r"readings\.csv"):
        write_descriptor(tmp_path)
