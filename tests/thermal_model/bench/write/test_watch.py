"""Looks at a run go to disk one by one, in the form that the readers read."""

import itertools
import math
from datetime import datetime
from pathlib import Path

import pytest

from geometries.errors import InputError
from tests.thermal_model.bench.folders import bench_folder
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.rows import rows_of
from thermal_model.bench.write.watch import Look, Tap, begin_run, beginning_of, keep, take_back

BEGAN = datetime(2026, 11, 27, 18, 5, 20)
HEADINGS = ("time [min]", "time [h]", "time [s]", "time [h:mm]", "time [min:sec]", "time [date]")


def watched(folder: Path, **files: str) -> Path:
    bench_folder(folder, **files)
    begin_run(
        folder,
        {"run": "tap-1", "container": "flask", "probe": "pen", "fill": "400 mL", "poured at": "92 C", "room": "70 F"},
        BEGAN,
    )
    return folder


def test_a_run_begins_now(tmp_path: Path) -> None:
    watched(tmp_path)
    keep(tmp_path, Tap("tap-1", Look.READING, 60.0, "190 F"))
    run = next(run for run in read_bench(tmp_path).runs if run.name == "tap-1")
    assert run.date == beginning_of(tmp_path, "tap-1") == BEGAN
    assert float(run.scenario.fill) == pytest.approx(4e-4)
    assert float(run.scenario.room) == pytest.approx(294.26, abs=0.01)
    with pytest.raises(InputError, match="take another"):
        begin_run(tmp_path, {"run": "tap-1", "container": "flask"}, BEGAN)


@pytest.mark.parametrize("heading", HEADINGS)
def test_a_reading_is_written_as_the_heading_wants_it(tmp_path: Path, heading: str) -> None:
    watched(tmp_path, readings=f"run,{heading},temperature [C]\n")
    assert keep(tmp_path, Tap("tap-1", Look.READING, 4325.0, "171.5 F"))
    assert not keep(tmp_path, Tap("tap-1", Look.READING, 4325.0, "171.5 F"))
    [reading] = next(run for run in read_bench(tmp_path).runs if run.name == "tap-1").readings
    assert reading.time == pytest.approx(4325.0, abs=0.1)
    assert reading.temperature == pytest.approx(350.65, abs=0.01)


def test_a_table_of_a_spreadsheet_keeps_its_commas(tmp_path: Path) -> None:
    text = "run;time [min];temperature [C]\nslim-1;0,5;89,8"
    watched(tmp_path, readings=text)
    keep(tmp_path, Tap("tap-1", Look.READING, 90.0, "88 C"))
    assert (tmp_path / "readings.csv").read_text() == f"{text}\ntap-1;1,5;88 C\n"


@pytest.mark.parametrize("is_cooling", [True, False])
def test_looks_at_a_mark_bracket_it(tmp_path: Path, is_cooling: bool) -> None:
    """However often it is looked at, there is one row: the last look before it, the first one beyond."""
    bench_folder(tmp_path)
    start = "92 C" if is_cooling else "4 C"
    begin_run(
        tmp_path, {"run": "tap-1", "container": "flask", "probe": "pen", "poured at": start, "room": "20 C"}, BEGAN
    )
    mark = "60 C" if is_cooling else "10 C"
    for minutes, look in ((20, Look.BEFORE), (40, Look.BEFORE), (50, Look.BEYOND)):
        keep(tmp_path, Tap("tap-1", look, 60.0 * minutes, mark, is_cooling))
    keep(tmp_path, Tap("tap-1", Look.PASSED, 5400.0, "55 C" if is_cooling else "12 C", is_cooling))
    keep(tmp_path, Tap("tap-1", Look.BEFORE, 6000.0, "50 C" if is_cooling else "15 C", is_cooling))
    first, second, third = next(run for run in read_bench(tmp_path).runs if run.name == "tap-1").passings
    assert (first.earliest, first.latest) == (2400.0, 3000.0)
    assert (second.earliest, second.latest) == (5395.0, 5405.0)
    assert (third.earliest, third.latest) == (6000.0, math.inf)


def test_comments_of_a_table_stay(tmp_path: Path) -> None:
    text = "run,mark [C],above at [min],below at [min],passed at [min]\n# by hand\nslim-1,70,30,40,\n"
    watched(tmp_path, passings=text)
    keep(tmp_path, Tap("tap-1", Look.BEFORE, 60.0, "80 C"))
    keep(tmp_path, Tap("tap-1", Look.BEFORE, 120.0, "80 C"))
    assert (tmp_path / "passings.csv").read_text() == f"{text}tap-1,80 C,2,,\n"


def test_the_last_tap_can_be_taken_back(tmp_path: Path) -> None:
    watched(tmp_path)
    before = (tmp_path / "readings.csv").read_text()
    keep(tmp_path, Tap("tap-1", Look.READING, 60.0, "88 C"))
    assert take_back(tmp_path, "tap-1", Look.READING)
    assert not take_back(tmp_path, "tap-1", Look.READING)
    assert (tmp_path / "readings.csv").read_text().strip() == before.strip()


@pytest.mark.parametrize(
    ("tap", "words"),
    [
        (Tap("tap-1", Look.READING, 60.0, "88"), "no unit"),
        (Tap("tap-1", Look.READING, -1.0, "88 C"), "before the contents went in"),
        (Tap("tap-1", Look.READING, math.nan, "88 C"), "before the contents went in"),
        (Tap("tap-9", Look.READING, 60.0, "88 C"), "no such run"),
        (Tap("tap-1", Look.PASSED, 60.0, "=1+1"), "=1"),
    ],
)
def test_what_can_not_be_is_refused(tmp_path: Path, tap: Tap, words: str) -> None:
    watched(tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    with pytest.raises(InputError, match=words):
        keep(tmp_path, tap)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_file_without_an_end_of_line_gets_one(tmp_path: Path) -> None:
    watched(tmp_path, readings="run,time [min],temperature [C]\nslim-1,0,89")
    for minute in itertools.islice(itertools.count(), 3):
        keep(tmp_path, Tap("tap-1", Look.READING, 60.0 * minute, f"{90 - minute} C"))
    assert [row["time"] for _, row in rows_of(tmp_path / "readings.csv")] == ["0", "0", "1", "2"]


def test_a_column_that_is_not_there_is_told(tmp_path: Path) -> None:
    bench_folder(tmp_path, runs="run,container,date\nslim-1,flask,2026-04-20\n")
    with pytest.raises(InputError, match="no column 'room'"):
        begin_run(tmp_path, {"run": "tap-1", "container": "flask", "room": "20 C"}, BEGAN)
