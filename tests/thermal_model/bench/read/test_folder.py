"""Bench folders as testers and their spreadsheets write them: read, or refused by file, line and column."""

import math
import time
from pathlib import Path

import numpy as np
import pytest

from geometries.design_file import load_container, save_container
from geometries.errors import InputError
from tests.thermal_model.bench.folders import BENCH, READINGS, RUNS, bench_folder
from thermal_model.bench.read import csv_table, sheet
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.read.thinning import MOST_READINGS
from thermal_model.bench.records import Run
from thermal_model.scenario import WallStart


def refusal(folder: Path, **files: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_bench(bench_folder(folder, **files))
    return [str(problem) for problem in caught.value.problems]


def run_of(folder: Path, name: str, **files: str) -> Run:
    return next(run for run in read_bench(bench_folder(folder, **files)).runs if run.name == name)


def test_plain_folder(tmp_path: Path) -> None:
    bench = read_bench(bench_folder(tmp_path))
    assert (bench.name, len(bench.runs), bench.warnings) == ("galley", 2, ())
    first = bench.runs[0]
    assert [reading.time for reading in first.readings] == [0.0, 3600.0, 7200.0]
    assert first.readings[0].temperature == pytest.approx(89.8 + 273.15)
    assert [reading.line for reading in first.readings] == [2, 3, 4]
    assert (first.probe, first.readings[0].probe, first.line) == ("pen", "pen", 2)
    assert float(first.scenario.fill or 0.0) == pytest.approx(0.0005)
    assert float(first.scenario.start) == pytest.approx(365.15)
    assert (first.start_spread, first.room_spread, first.fill_spread) == (0.5, 1.0, 0.02)
    assert first.container_at_run.name == "flask"


def _as_spreadsheet(text: str) -> str:
    """Semicolons, decimal commas, a byte order mark, CRLF, trailing blanks, blank lines, extra empty cells."""
    lines = [line.replace(",", ";").replace(".", ",") + ";; " for line in text.splitlines()]
    return "\ufeff" + "\r\n\r\n".join(lines) + "\r\n;;;\r\n"


def test_what_spreadsheets_do_changes_nothing(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    plain = read_bench(bench_folder(tmp_path / "a"))
    messy = read_bench(bench_folder(tmp_path / "b", runs=_as_spreadsheet(RUNS), readings=_as_spreadsheet(READINGS)))
    for one, other in zip(plain.runs, messy.runs, strict=True):
        assert one.scenario == other.scenario
        assert [r.temperature for r in one.readings] == [r.temperature for r in other.readings]
        assert [r.time for r in one.readings] == [r.time for r in other.readings]
    assert any("taken as a decimal comma" in line for line in messy.assumptions)


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("time [h]", ("0", "1", "2")),
        ("time [s]", ("0", "3600", "7200")),
        ("time [h:mm]", ("0:00", "1:00", "2:00")),
        ("time [min:sec]", ("0:00", "60:00", "120:00")),
        ("time [date]", ("2026-04-20 09:00", "2026-04-20 10:00", "2026-04-20T11:00:00")),
        ("time [date]", ("20/4/2026 9:00", "20/4/2026 10:00", "20/4/2026 11:00")),
    ],
)
def test_times_as_their_heading_says(tmp_path: Path, heading: str, cells: tuple[str, ...]) -> None:
    rows = [f"r1,{cell},{value}" for cell, value in zip(cells, (89.8, 86.1, 83.0), strict=True)]
    text = "\n".join([f"run,{heading},temperature [C]", *rows])
    assert [reading.time for reading in run_of(tmp_path, "r1", readings=text).readings] == [0.0, 3600.0, 7200.0]


def test_temperatures_in_fahrenheit(tmp_path: Path) -> None:
    text = "run,time [min],temperature [F]\nr1,0,194\nr1,60,185\n"
    run = run_of(tmp_path, "r1", readings=text)
    assert [reading.temperature for reading in run.readings] == pytest.approx([363.15, 358.15])


def test_two_probes_in_one_run(tmp_path: Path) -> None:
    text = (
        "run,time [min],temperature [C],probe\nr1,0,89.8,\nr1,60,86.1,pen\nr1,30,88.5,wireless\nr1,90,85.0,wireless\n"
    )
    run = run_of(tmp_path, "r1", readings=text)
    assert [(r.time, r.probe) for r in run.readings] == [
        (0.0, "pen"),
        (1800.0, "wireless"),
        (3600.0, "pen"),
        (5400.0, "wireless"),
    ]


def test_passings(tmp_path: Path) -> None:
    text = (
        "run,mark [C],above at [min],below at [min],passed at [min]\n"
        "r1,80,40,50,\nr1,70,,200,\nr1,60,300,,\nr2,80,,,120\n"
    )
    bench = read_bench(bench_folder(tmp_path, passings=text))
    first, second = bench.runs
    assert [(round(p.mark - 273.15, 6), p.earliest, p.latest) for p in first.passings] == [
        (70.0, 0.0, 12000.0),
        (80.0, 2400.0, 3000.0),
        (60.0, 18000.0, math.inf),
    ]
    assert [(p.earliest, p.latest, p.probe) for p in second.passings] == [(7195.0, 7205.0, "wireless")]


def test_cold_contents_pass_a_mark_upwards(tmp_path: Path) -> None:
    runs = "run,container,probe,contents,fill [mL],poured at [C],room [C]\nc,flask,pen,water,500,4,22\n"
    passings = "run,mark [C],above at [min],below at [min]\nc,8,300,240\n"
    readings = "run,time [min],temperature [C]\nc,5,4.5\n"
    run = run_of(tmp_path, "c", runs=runs, readings=readings, passings=passings)
    assert [(p.earliest, p.latest) for p in run.passings] == [(14400.0, 18000.0)]


def test_room_log(tmp_path: Path) -> None:
    room = "run,time [min],room [C]\nr1,0,19\nr1,60,23\n"
    run = run_of(tmp_path, "r1", room=room)
    assert run.scenario.room_profile is not None
    assert run.scenario.room_profile.times == (0.0, 3600.0)
    assert float(run.scenario.room) == pytest.approx(294.15)


def test_probe_checks_and_ice_water(tmp_path: Path) -> None:
    text = "first probe,first temperature [C],second probe,second temperature [F]\npen,0.3,ice_water,32\n"
    bench = read_bench(bench_folder(tmp_path, probe_checks=text))
    check = bench.checks[0]
    assert (check.first_temperature, check.second_temperature) == pytest.approx((273.45, 273.15))
    assert bench.probes["ice_water"].offset_spread < bench.probes["pen"].offset_spread


def test_changes_of_a_run(tmp_path: Path) -> None:
    runs = (
        "run,container,probe,fill [mL],poured at [C],room [C],preheat,walls,orientation,settings\n"
        "r1,flask,pen,500,92,20,5 min at 95 C,,,lid.seals.1=none | scenario.wind=2 m/s\n"
        "r2,flask,wireless,500,92,20,,preheated,inverted,\n"
    )
    first, second = read_bench(bench_folder(tmp_path, runs=runs)).runs
    assert first.container_at_run.lid is not None
    assert len(first.container_at_run.lid.seals) == 1
    assert float(first.scenario.wind) == 2.0
    assert first.scenario.preheat is not None
    assert float(first.scenario.preheat.duration) == 300.0
    assert (second.scenario.walls, second.scenario.orientation) == (WallStart.PREHEATED, "inverted")


def test_what_was_left_out_is_said(tmp_path: Path) -> None:
    runs = "run,container,probe\nr1,flask,pen\nr2,flask,wireless\n"
    bench = read_bench(bench_folder(tmp_path, runs=runs))
    first = bench.runs[0]
    assert (first.room_spread, first.start_spread) == (math.inf, math.inf)
    assert float(first.scenario.start) == pytest.approx(first.readings[0].temperature)
    assert any("contents: water, where left out: lines 2-3" in line for line in bench.assumptions)
    assert any("line 2, room: run r1 has no room temperature" in line for line in bench.warnings)
    spreads = read_bench(bench_folder(tmp_path, bench=BENCH.replace('fill = "2 %"\n', ""))).assumptions
    assert "bench.toml: spreads.fill is taken as 2 %" in spreads


def test_readings_lost_on_the_way_are_said(tmp_path: Path) -> None:
    bench = read_bench(bench_folder(tmp_path, readings=READINGS + "r2,240,--\nr2,250,\n"))
    assert "readings.csv: 2 rows have no temperature, taken as lost; the first is line 7" in bench.assumptions
    assert len(bench.runs[1].readings) == 2


def test_a_logger_started_before_the_pouring(tmp_path: Path) -> None:
    rows = ["2026-04-20 08:50,24.5", "2026-04-20 08:55,24.6", "2026-04-20 09:05,89.9", "2026-04-20 10:05,86.0"]
    text = "run,time [date],temperature [C]\n" + "".join(f"r1,{row}\n" for row in rows)
    bench = read_bench(bench_folder(tmp_path, readings=text))
    assert [reading.time for reading in bench.runs[0].readings] == [300.0, 3900.0]
    lost = "readings.csv: 2 rows have a time before the contents went in, left out; the first is line 2"
    assert lost in bench.assumptions


def test_moments_need_a_moment_of_pouring(tmp_path: Path) -> None:
    text = "run,time [date],temperature [C]\nr1,2026-04-20 09:05,89.9\n"
    told = refusal(tmp_path, readings=text, runs=RUNS.replace(" 09:00", ""))
    assert "line 2, time" in told[0]
    assert "no time of day at which it was filled" in told[0]


def test_separator_that_spreadsheets_write_over_the_heading(tmp_path: Path) -> None:
    text = "sep=;\n" + READINGS.replace(",", ";")
    assert len(run_of(tmp_path, "r1", readings=text).readings) == 3


def test_quotes_and_line_breaks_in_notes(tmp_path: Path) -> None:
    text = 'run,time [min],temperature [C],note\nr1,0,89.8,"poured, then\nclosed"\nr1,60,"86.1",\n'
    run = run_of(tmp_path, "r1", readings=text)
    assert [(r.time, r.line) for r in run.readings] == [(0.0, 3), (3600.0, 4)]


def test_a_day_shown_elsewhere_in_the_column_is_said(tmp_path: Path) -> None:
    runs = RUNS.replace("2026-04-20 09:00", "3/4/2026").replace("2026-04-21 09:00", "21/4/2026")
    bench = read_bench(bench_folder(tmp_path, runs=runs))
    assert str(bench.runs[0].date) == "2026-04-03 00:00:00"
    assert any("day is taken to come first in dates, as in line 3" in line for line in bench.assumptions)


# File, its text, and fragments of the one line that must be told.
REFUSALS: list[tuple[str, str, list[str]]] = [
    ("readings", "", ["readings.csv: is empty"]),
    ("readings", "run,time [min],temperature [C]\n", ["neither readings.csv nor passings.csv has a row yet"]),
    ("readings", "run,time [min]\nr1,0\n", ["readings.csv: line 1: no column 'temperature'", "temperature [C]"]),
    ("readings", "run,time,temperature [C]\nr1,0,80\n", ["line 1, time: has no unit", "time [min]"]),
    ("readings", "run,time [mm],temperature [C]\nr1,0,80\n", ["line 1, time: unit [mm]"]),
    ("readings", "run,time [min],temperature [C]\nr9,0,80\n", ["line 2, run = 'r9': ", "is not in runs.csv"]),
    ("readings", "run,time [min],temperature [C],probe\nr1,0,80,pne\n", ["line 2, probe = 'pne': did you mean 'pen'?"]),
    ("readings", READINGS + "r2,500,5O.1\n", ["readings.csv: line 7, temperature: '5O.1' is not a number"]),
    ("readings", READINGS + "r2,1:30,50\n", ["line 7, time = '1:30': has a colon", "[h:mm]"]),
    ("readings", READINGS + "r2,,50\n", ["line 7, time: is empty beside a temperature"]),
    ("readings", READINGS + "r2,500,50,7\n", ["line 7: has 4 cells, the heading has 3", "decimal comma"]),
    ("readings", READINGS + "r2,-5,50\n", ["line 7, time = '-5': is below zero"]),
    ("readings", READINGS.replace(",", ";") + "r2;500;50,5\n", ["decimal point where other rows have a decimal comma"]),
    ("readings", "run,time [date],temperature [C]\nr1,3/4/2026 10:00,80\n", ["can be read in two ways"]),
    ("runs", RUNS.replace("r2", "r1"), ["runs.csv: line 3, run = 'r1': is there already in line 2"]),
    (
        "runs",
        RUNS.replace("r2,flask", "r2,flsk"),
        ["line 3, container = 'flsk': is not in bench.toml; did you mean 'flask'"],
    ),
    ("runs", RUNS.replace("wireless", ""), ["line 3, probe: is empty; bench.toml has pen, wireless"]),
    ("runs", RUNS.replace("500,92,21", "5000,92,21"), ["line 3, fill: 5000 mL is beyond the brim"]),
    ("runs", RUNS.replace("500,92,21", "500,192,21"), ["line 3, poured at: 192.0 C is outside the liquid range"]),
    ("runs", RUNS.replace("21,soaked", "21,soked"), ["line 3, walls = 'soked': must be soaked or preheated"]),
    ("runs", RUNS.replace("tea,500,92,21", "tee,500,92,21"), ["line 3, contents", "did you mean 'tea'"]),
    ("runs", RUNS.replace("2026-04-21 09:00", "4/5/2026"), ["line 3, date: '4/5/2026' can be read in two ways"]),
    ("runs", "run,container\n", ["runs.csv: has headings but no runs"]),
    (
        "bench",
        BENCH.replace('resolution = "0.1 C"', 'resolution = "0.1"'),
        ["bench.toml: probes.pen.resolution", "unit"],
    ),
    (
        "bench",
        BENCH.replace('"slim_neck_double_seal"', '"slim_neck"'),
        ["containers.flask.design", "slim_neck_double_seal"],
    ),
    ("bench", BENCH.replace("noise", "nois"), ["probes.pen.nois: unknown key; did you mean 'noise'"]),
    ("bench", "name = 3 4", ["bench.toml: is not valid TOML"]),
    ("passings", "run,mark [C],above at [min],below at [min]\nr1,80,50,40\n", ["line 2, mark: times fall"]),
    ("passings", "run,mark [C],above at [min]\nr1,80,\n", ["line 2, mark: give either 'passed at'"]),
    ("room", "run,time [min],room [C]\nr1,60,20\nr1,0,21\n", ["room.csv: line 3, time: is not later"]),
    (
        "probe_checks",
        "first probe,first temperature [C],second probe,second temperature [C]\npen,0,oven,0\n",
        ["'oven'"],
    ),
]


@pytest.mark.parametrize(("file", "text", "fragments"), REFUSALS, ids=range(len(REFUSALS)))
def test_refusals_name_file_line_and_column(tmp_path: Path, file: str, text: str, fragments: list[str]) -> None:
    told = refusal(tmp_path, **{file: text})
    for fragment in fragments:
        assert any(fragment in line for line in told), told


def test_problems_of_several_files_are_told_at_once(tmp_path: Path) -> None:
    told = refusal(tmp_path, readings=READINGS + "r2,500,x\n", passings="run,mark [C],above at [min]\nr9,80,5\n")
    assert len(told) == 2
    assert told[0].startswith("readings.csv: line 7")
    assert told[1].startswith("passings.csv: line 2")


def test_a_design_is_never_taken_from_the_folder_of_the_caller(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    save_container(load_container("stoneware_cup"), tmp_path / "mine.toml")
    (tmp_path / "bench").mkdir()
    (told,) = refusal(tmp_path / "bench", bench=BENCH.replace("stoneware_cup", "mine.toml"))
    assert told.startswith("bench.toml: containers.cup.design = 'mine.toml': there is no such file beside bench.toml")


def test_no_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such folder"):
        read_bench(tmp_path / "none")


def test_reading_changes_nothing(tmp_path: Path) -> None:
    bench_folder(tmp_path, readings=_as_spreadsheet(READINGS))
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    read_bench(tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_more_than_can_be_read_is_told_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_table, "MOST_READINGS", 3)
    bench_folder(tmp_path)
    with pytest.raises(InputError) as caught:
        read_bench(tmp_path)
    assert str(caught.value) == (
        "readings.csv: has 6 lines; at most 3 are read: keep one reading in 2, or give each run a file of its own"
    )


def test_many_cells_with_a_unit_are_told_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet, "MOST_CARRIED", 2)
    bench_folder(tmp_path, readings=READINGS.replace(".0\n", ".0 C\n").replace(".1\n", ".1 C\n"))
    with pytest.raises(InputError, match=r"line 5, temperature = '90\.0 C': is one of more than 2 cells with a unit"):
        read_bench(tmp_path)


def test_a_file_wrong_throughout_is_looked_through_no_further_than_needed(tmp_path: Path) -> None:
    rows = "".join(f"q{k},{k},x{k}\n" for k in range(5000))
    bench_folder(tmp_path, readings=f"run,time [min],temperature [C]\n{rows}")
    with pytest.raises(InputError) as caught:
        read_bench(tmp_path)
    assert len(caught.value.problems) <= 1000
    rows = "".join(f"r1,{k},x{k}\n" for k in range(5000))
    bench_folder(tmp_path, readings=f"run,time [min],temperature [C]\n{rows}")
    with pytest.raises(InputError, match="and at least 995 more lines like these"):
        read_bench(tmp_path)


def test_a_million_readings_are_thinned_and_said(tmp_path: Path) -> None:
    minutes = np.linspace(0.0, 480.0, 1_000_000)
    shown = 20.0 + 70.0 * np.exp(-minutes / 600.0)
    rows = "\n".join(map("r1,{:.6g},{:.1f}".format, minutes.tolist(), shown.tolist()))
    bench_folder(tmp_path, readings=f"run,time [min],temperature [C]\n{rows}\n")
    started = time.process_time()
    bench = read_bench(tmp_path)
    assert time.process_time() - started < 20.0
    kept = bench.runs[0].readings
    assert 200 < len(kept) <= MOST_READINGS
    assert (kept[0].line, kept[-1].line) == (2, 1_000_001)
    assert any(f"{len(kept)} of 1000000 readings are used" in line for line in bench.assumptions)
    # What stays is as it was read.
    assert all(abs(r.temperature - 273.15 - float(f"{shown[r.line - 2]:.1f}")) < 1e-9 for r in kept)
