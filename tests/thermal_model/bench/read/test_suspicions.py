"""Mistakes that testers make, each found and named by line; and sound readings, in which nothing is found."""

from pathlib import Path

import numpy as np
import pytest

from geometries.container import Container, outside_diameter, total_height
from geometries.design_file import catalogue_names, load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from tests.thermal_model.bench.folders import BENCH, RUNS, bench_folder, cooling_rows
from thermal_model.assemble.build import assemble
from thermal_model.assemble.contents import filled_volume
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.read.suspicions import (
    FASTEST_FILM_CLOSED,
    FASTEST_FILM_OPEN,
    SLOWEST_FILM,
    WATER_HEAT_PER_VOLUME,
)
from thermal_model.bench.records import Bench
from thermal_model.bench.reduce.hold_times import Basis
from thermal_model.bench.reduce.reduction import reduce_bench
from thermal_model.prediction import heat_paths
from thermal_model.scenario import Scenario
from thermal_model.unknowns import Unknowns

HEADING = "run,time [min],temperature [C]"
TIMES = [float(t) for t in range(0, 481, 15)]
ROWS = cooling_rows("r1", TIMES, 90.0, 20.0, 15.0)


def read(folder: Path, rows: list[str], heading: str = HEADING, **files: str) -> Bench:
    return read_bench(bench_folder(folder, readings="\n".join([heading, *rows]) + "\n", **files))


def refused(folder: Path, rows: list[str], heading: str = HEADING, **files: str) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, rows, heading, **files)
    return str(caught.value)


def test_sound_readings_raise_no_suspicion(tmp_path: Path) -> None:
    warnings = read(tmp_path, ROWS).warnings
    assert warnings == ("runs.csv: line 3: run r2 has neither readings nor passings",)


def test_swapped_columns(tmp_path: Path) -> None:
    told = refused(tmp_path, ROWS, "run,temperature [C],time [min]")
    assert "readings.csv: line 3, time: run r1, probe pen: columns 'time' and 'temperature' look swapped" in told


def test_swapped_columns_of_a_warming_run(tmp_path: Path) -> None:
    runs = "run,container,probe,contents,fill [mL],poured at [C],room [C]\nr1,flask,pen,water,500,4,22\n"
    rows = cooling_rows("r1", TIMES, 4.0, 22.0, 15.0)
    assert "line" in refused(tmp_path, rows, "run,temperature [C],time [min]", runs=runs)


def test_fahrenheit_labelled_celsius(tmp_path: Path) -> None:
    rows = [f"r1,{t:g},{(20 + 70 * np.exp(-t / 900)) * 1.8 + 32:.0f}" for t in TIMES]
    told = refused(tmp_path, rows)
    assert "readings.csv: line 2, temperature: run r1, probe pen: 194 C is hotter than tea can be" in told
    assert "(and in lines 3-" in told
    assert "Fahrenheit? then 90 C: write 194 F, or [F] in the heading" in told


def test_a_few_cells_in_fahrenheit_are_named(tmp_path: Path) -> None:
    rows = list(ROWS)
    for place, value in ((4, 181.9), (9, 174.2), (10, 172.0)):
        rows[place] = f"r1,{TIMES[place]:g},{value}"
    told = refused(tmp_path, rows)
    assert "readings.csv: line 6, temperature: run r1, probe pen: 181.9 C is hotter than tea can be" in told
    assert "(and in lines 11-12); Fahrenheit? then 83.3 C" in told


def test_cold_fahrenheit_labelled_celsius(tmp_path: Path) -> None:
    runs = "run,container,probe,contents,fill [mL],poured at [C],room [C]\nr1,flask,pen,water,500,4,22\n"
    rows = [f"r1,{t:g},{(22 - 18 * np.exp(-t / 900)) * 1.8 + 32:.0f}" for t in TIMES]
    told = refused(tmp_path, rows, runs=runs)
    assert "readings.csv: line 34, temperature: run r1, probe pen: from 39 C to 53 C it goes away from a room" in told
    assert "Fahrenheit? then from 3.889 C to 11.67 C: write the heading temperature [F]" in told


def test_a_hot_run_that_warms_is_refused(tmp_path: Path) -> None:
    backwards = [
        row.rsplit(",", 1)[0] + "," + other.rsplit(",", 1)[1] for row, other in zip(ROWS, ROWS[::-1], strict=True)
    ]
    assert "goes away from a room at 20 C; check the order of the rows" in refused(tmp_path, backwards)


def test_celsius_labelled_fahrenheit(tmp_path: Path) -> None:
    warnings = read(tmp_path, ROWS, "run,time [min],temperature [F]").warnings
    assert any("32.22 C is far from 92 C" in w and "on the other scale it would be 90 C" in w for w in warnings)


def test_room_in_fahrenheit(tmp_path: Path) -> None:
    told = refused(tmp_path, ROWS, runs=RUNS.replace("92,20,", "92,68,"))
    assert (
        "runs.csv: line 2, room: 68 C can't be a room; Fahrenheit? then 20 C: write 68 F, or [F] in the heading" in told
    )
    warnings = read(tmp_path, ROWS, runs=RUNS.replace("92,20,", "92,50,")).warnings
    assert any("runs.csv: line 2, room: 50 C is an unusual room" in w for w in warnings)


def test_hours_labelled_minutes(tmp_path: Path) -> None:
    rows = [f"r1,{t / 60:g},{20 + 70 * np.exp(-t / 900):.1f}" for t in TIMES]
    told = refused(tmp_path, rows)
    assert "readings.csv: line 34, time" in told
    assert "are these hours? then write the heading time [h]" in told


def test_minutes_labelled_hours(tmp_path: Path) -> None:
    warnings = read(tmp_path, ROWS, "run,time [h],temperature [C]").warnings
    assert any("line 34, time" in w and "are times minutes" in w for w in warnings)


def test_an_open_cup_may_cool_as_fast_as_it_does(tmp_path: Path) -> None:
    runs = "run,container,probe,fill [mL],poured at [C],room [C]\nr1,cup,pen,220,80,20\n"
    rows = cooling_rows("r1", TIMES[:7], 75.0, 20.0, 0.8)
    assert read(tmp_path, rows, runs=runs).warnings == ()


def test_times_that_fall(tmp_path: Path) -> None:
    told = refused(tmp_path, [*ROWS[:10], ROWS[11], ROWS[10], *ROWS[12:]])
    assert "readings.csv: line 13, time" in told
    assert "the time falls from 2 h 45 min in line 12 to 2 h 30 min" in told


def test_a_run_copied_under_another_name(tmp_path: Path) -> None:
    told = refused(tmp_path, [*ROWS, *(row.replace("r1", "r2") for row in ROWS)])
    assert "readings.csv: line 35, run" in told
    assert "the same 33 readings as run r1 from line 2" in told


def test_a_start_and_an_end_alike_are_only_odd(tmp_path: Path) -> None:
    pair = ["r1,2,90.1", "r1,480,60.2"]
    warnings = read(tmp_path, [*pair, *(row.replace("r1", "r2") for row in pair)]).warnings
    assert any("line 4, run" in w and "the same 2 readings as run r1" in w for w in warnings)


def test_a_gap_is_said(tmp_path: Path) -> None:
    rows = [row for row, t in zip(ROWS, TIMES, strict=True) if not 100 < t < 240]
    warnings = read(tmp_path, rows).warnings
    assert any("line 8: run r1, probe pen: a gap of 2 h 30 min" in w for w in warnings)


@pytest.mark.parametrize(
    ("step", "in_fahrenheit", "heading", "found"),
    [
        (0.5, False, HEADING, 0.5),
        (1.0, False, HEADING, 1.0),
        (1.0, True, "run,time [min],temperature [F]", 1.0 / 1.8),
        (1.0, True, HEADING, 1.0 / 1.8),  # a Fahrenheit display, written down in Celsius
        (0.1, False, HEADING, 0.1),
    ],
)
def test_steps_of_a_display(tmp_path: Path, step: float, in_fahrenheit: bool, heading: str, found: float) -> None:
    celsius = 20.0 + 70.0 * np.exp(-np.array(TIMES) / 900.0)
    shown = celsius * 1.8 + 32.0 if in_fahrenheit else celsius
    shown = np.round(shown / step) * step
    if in_fahrenheit and heading == HEADING:
        shown = (shown - 32.0) / 1.8
    rows = [f"r1,{t:g},{value:.1f}" for t, value in zip(TIMES, shown.tolist(), strict=True)]
    bench = read(tmp_path, rows, heading)
    assert bench.probes["pen"].resolution == pytest.approx(found, rel=1e-6)
    is_coarser = found > 0.11
    assert is_coarser == any("line 2, temperature: readings of probe pen are rounded" in w for w in bench.warnings)


def test_a_step_known_from_the_description_is_no_news(tmp_path: Path) -> None:
    bench = BENCH.replace('resolution = "0.1 C"', 'resolution = "0.5 C"')
    rows = [f"r1,{t:g},{round(2 * (20 + 70 * np.exp(-t / 900))) / 2:.1f}" for t in TIMES]
    assert not any("rounded" in w for w in read(tmp_path, rows, bench=bench).warnings)


@pytest.mark.parametrize("design", catalogue_names())
def test_no_starter_design_is_called_impossible(tmp_path: Path, design: str) -> None:
    """As it should be, and with a vacuum that has failed: between the bounds, with room on both sides."""
    container = load_container(design)
    scenario = with_overrides(Scenario(), {"start": "90 C"})
    volume, area = float(filled_volume(container, scenario)), _outside_area(container)
    for pressure in (1.0, 1e6):
        network = assemble(container, scenario, Unknowns(gap_pressure=np.array([pressure])), lanes=1)
        loss = heat_paths(network, scenario, [333.15])[1]
        hours = volume * WATER_HEAT_PER_VOLUME / loss / 3600.0
        rows = cooling_rows("r1", [30.0, 90.0], 88.0, 20.0, hours)
        bench = BENCH.replace("slim_neck_double_seal", design)
        runs = RUNS.replace(",500,92,", f",{0.99e6 * volume:.1f},92,")
        warnings = read(tmp_path, rows, bench=bench, runs=runs).warnings
        assert not any("hardly loses" in warning for warning in warnings)
        assert 1.5 * SLOWEST_FILM < loss / area < (FASTEST_FILM_OPEN if hours < 4.0 else FASTEST_FILM_CLOSED) / 1.5


def _outside_area(container: Container) -> float:
    diameter, height = float(outside_diameter(container)), float(total_height(container))
    return float(np.pi * diameter * (height + 0.5 * diameter))


def test_a_mark_that_no_contents_pass(tmp_path: Path) -> None:
    passings = "run,mark [C],above at [min],below at [min]\nr1,70,100,140\nr1,10,700,800\n"
    warnings = read(tmp_path, ROWS, passings=passings).warnings
    told = "passings.csv: line 3, mark: 10 C is not between start and room of run r1, 92 and 20 C"
    assert any(told in warning for warning in warnings)
    assert not any("line 2, mark" in w for w in warnings)


def test_a_start_nobody_measured_is_said(tmp_path: Path) -> None:
    runs = "run,container,probe,fill [mL],poured at [C],room [C]\nr1,flask,pen,500,,20\n"
    passings = "run,mark [C],above at [min],below at [min]\nr1,70,100,140\n"
    warnings = read(tmp_path, [], runs=runs, passings=passings).warnings
    assert "runs.csv: line 2, poured at: run r1 does not say; 90 C is put in" in warnings


def test_iced_contents_start_at_melting_ice(tmp_path: Path) -> None:
    """Poured at 15 C onto ice: a mark of 10 C is passed upwards, after all has melted."""
    runs = "run,container,probe,contents,fill [mL],ice [g],poured at [C],room [C]\nr1,flask,pen,water,400,90,15,23\n"
    passings = "run,mark [C],above at [min],below at [min]\nr1,10,700,600\n"
    bench = read(tmp_path, ["r1,5,0.4", "r1,500,0.6"], runs=runs, passings=passings)
    held = reduce_bench(bench).hold_times["r1"]
    assert [round(one.limit - 273.15, 6) for one in held] == [10.0]
    assert held[0].basis is Basis.INTERVAL
    assert 500 * 60 < held[0].low <= 600 * 60 < 700 * 60 <= held[0].high


def test_a_misread_display(tmp_path: Path) -> None:
    rows = ROWS.copy()
    run, time, shown = rows[10].split(",")
    rows[10] = f"{run},{time},{float(shown) + 9.0:.1f}"
    odd = [w for w in read(tmp_path, rows).warnings if "misreading" in w]
    assert len(odd) == 1
    assert f"line 12, temperature: run r1, probe pen: {float(shown) + 9.0:.4g} C is 9.1 K off" in odd[0]


def test_coarse_displays_show_no_misreadings(tmp_path: Path) -> None:
    rows = [f"r1,{t:g},{round((20 + 70 * np.exp(-t / 900)) / 2) * 2:.0f}" for t in TIMES]
    assert not any("misreading" in warning for warning in read(tmp_path, rows).warnings)


# --- every temperature column of every file -------------------------------------------------------------------------

CHECKS = "first probe,first temperature [C],second probe,second temperature [C]\n"


@pytest.mark.parametrize(
    ("row", "fragments"),
    [
        ("pen,191,wireless,88.2", ["first temperature: 191 C can't be the water", "Fahrenheit? then 88.3 C"]),
        ("pen,88.2,wireless,191", ["second temperature: 191 C can't be the water", "Fahrenheit? then 88.3 C"]),
        ("pen,191,wireless,190", ["first temperature: 191 C", "second temperature: 190 C", "write 190 F"]),
        ("pen,32.4,ice_water,0", ["32.4 C and 0 C in the same water can't be", "Fahrenheit? then 0.222 C"]),
        ("pen,39,wireless,4.1", ["39 C and 4.1 C in the same water can't be", "Fahrenheit? then 3.89 C"]),
        ("pen,60,wireless,75", ["60 C and 75 C in the same water can't be", "check unit and row"]),
        ("pen,-20,wireless,4", ["-20 C can't be the water", "check unit and row"]),
    ],
)
def test_fahrenheit_in_probe_checks(tmp_path: Path, row: str, fragments: list[str]) -> None:
    told = refused(tmp_path, ROWS, probe_checks=f"{CHECKS}{row}\n")
    assert told.startswith("probe_checks.csv: line 2, ")
    for fragment in fragments:
        assert fragment in told


def test_thermometers_that_differ_as_they_may_are_no_problem(tmp_path: Path) -> None:
    bench = read(
        tmp_path, ROWS, probe_checks=f"{CHECKS}pen,88.0,wireless,89.5\npen,0.4,ice_water,0\npen,100,wireless,99\n"
    )
    assert len(bench.checks) == 3
    # One that is known to be bad may be farther off.
    poor = BENCH.replace('offset_spread = "0.5 C"', 'offset_spread = "4 C"')
    assert read(tmp_path, ROWS, bench=poor, probe_checks=f"{CHECKS}pen,60,wireless,75\n").checks


def test_fahrenheit_in_a_room_log(tmp_path: Path) -> None:
    told = refused(tmp_path, ROWS, room="run,time [min],room [C]\nr1,0,20\nr1,60,68.5\nr1,120,69\n")
    assert told.startswith(
        "room.csv: line 3, room: run r1: 68.5 C can't be a room (and in line 4); Fahrenheit? then 20.3 C"
    )
    warnings = read(tmp_path, ROWS, room="run,time [min],room [C]\nr1,0,20\nr1,60,45\n").warnings
    assert any("room.csv: room of run r1: 45 C is an unusual room; Fahrenheit? then 7.22 C" in w for w in warnings)


def test_fahrenheit_in_passings(tmp_path: Path) -> None:
    told = refused(tmp_path, ROWS, passings="run,mark [C],above at [min],below at [min]\nr2,140,60,70\n")
    assert told.startswith("passings.csv: line 2, mark: 140 C is hotter than tea can be; Fahrenheit? then 60 C")


def test_fahrenheit_in_what_was_poured(tmp_path: Path) -> None:
    told = refused(tmp_path, ROWS, runs=RUNS.replace("500,92,20,", "500,197.6,20,"))
    assert "runs.csv: line 2, poured at: 197.6 C is outside the liquid range of tea" in told
    assert "Fahrenheit? then 92 C: write 197.6 F" in told


# --- units of cells and probes --------------------------------------------------------------------------------------


def test_a_cell_may_carry_its_unit(tmp_path: Path) -> None:
    rows = [*ROWS[:3], "r1,45,185 F", *ROWS[4:]]
    bench = read(
        tmp_path,
        rows,
        probe_checks=f"{CHECKS}pen,190.4 F,wireless,88.2\n",
        runs=RUNS.replace("500,92,", "17 floz,197.6F,"),
    )
    assert bench.runs[0].readings[3].temperature == pytest.approx(273.15 + (185.0 - 32.0) / 1.8)
    assert bench.checks[0].first_temperature == pytest.approx(273.15 + 88.0)
    assert float(bench.runs[0].scenario.start) == pytest.approx(273.15 + 92.0)
    assert float(bench.runs[0].scenario.fill) == pytest.approx(17 * 29.5735e-6, rel=1e-4)
    assert "readings.csv: 'temperature' has a unit of its own in line 5, and it counts" in bench.assumptions


def test_a_cell_with_a_wrong_unit_is_refused(tmp_path: Path) -> None:
    told = refused(tmp_path, [*ROWS[:3], "r1,45,185 mL", *ROWS[4:]])
    assert told.startswith("readings.csv: line 5, temperature: '185 mL' is not a number, alone or with its unit")


def test_a_probe_has_its_own_unit(tmp_path: Path) -> None:
    bench_toml = BENCH.replace("[probes.wireless]", '[probes.wireless]\nunit = "F"')
    rows = [*ROWS, "r2,0,194.0", "r2,60,185.0", "r2,120,80 C"]
    bench = read(
        tmp_path,
        rows,
        bench=bench_toml,
        probe_checks=f"{CHECKS}pen,88.0,wireless,190.4\n",
        passings="run,mark [C],above at [min],below at [min]\nr2,140,600,610\n",
    )
    shown = [reading.temperature - 273.15 for reading in bench.runs[1].readings]
    assert shown == pytest.approx([90.0, 85.0, 80.0])
    assert bench.runs[0].readings[0].temperature - 273.15 == pytest.approx(90.0)
    assert bench.checks[0].second_temperature - 273.15 == pytest.approx(88.0)
    assert bench.runs[1].passings[0].mark - 273.15 == pytest.approx(60.0)
    assert any("probes.wireless.unit: its numbers are read in F" in line for line in bench.assumptions)
    told = refused(tmp_path, ROWS, bench=BENCH.replace("[probes.pen]", '[probes.pen]\nunit = "mm"'))
    assert told.startswith("bench.toml: probes.pen.unit = 'mm'")


# --- a log for each run ---------------------------------------------------------------------------------------------


def test_a_run_may_have_a_log_of_its_own(tmp_path: Path) -> None:
    log = "time [min];temperature [F]\n" + "".join(
        f"{t:g};{32 + 1.8 * (20 + 70 * np.exp(-t / 900)):.1f}\n" for t in TIMES
    )
    bench = read(tmp_path, ROWS, r2=log, r3=log)
    assert len(bench.runs[1].readings) == len(TIMES)
    assert bench.runs[1].readings[0].temperature - 273.15 == pytest.approx(90.0)
    assert "r2.csv: taken as readings of run r2" in bench.assumptions
    assert any(line.startswith("r3.csv: passed over, since no run is named 'r3'") for line in bench.assumptions)


def test_logs_alone_will_do(tmp_path: Path) -> None:
    folder = bench_folder(tmp_path, r1="time [min],temperature [C]\n0,90\n60,85\n")
    (folder / "readings.csv").unlink()
    assert len(read_bench(folder).runs[0].readings) == 2


def test_a_run_that_is_logged_twice_is_refused(tmp_path: Path) -> None:
    told = refused(tmp_path, ROWS, r1="time [min],temperature [C]\n0,90\n60,85\n")
    assert told == "r1.csv: run r1, probe pen: has readings in readings.csv too, from line 2; keep one of the two"


def test_what_is_wrong_in_a_log_names_the_log(tmp_path: Path) -> None:
    told = refused(tmp_path, ROWS, r2="time [min],temperature [C]\n0,90\n60,185\n120,80\n")
    assert told.startswith("r2.csv: line 3, temperature: run r2, probe wireless: 185 C is hotter than tea can be")
    assert refused(tmp_path, ROWS, r2="time [min],temperature [C]\n").startswith(
        "r2.csv: has a heading but no readings"
    )


# --- all in one round -----------------------------------------------------------------------------------------------


def test_the_problems_of_all_files_are_told_in_one_round(tmp_path: Path) -> None:
    told = refused(
        tmp_path,
        [*ROWS[:3], "r1,45,185", *ROWS[4:], "r2,0,hot", "r3,0,90"],
        runs=RUNS.replace("500,92,21", "much,92,68") + "r4,bowl,2026-04-22 09:00,pen,tea,500,92,20,soaked,\n",
        probe_checks=f"{CHECKS}pen,191,wireless,88.2\n",
        passings="run,mark [C],above at [min],below at [min]\nr9,60,60,70\n",
        room="run,time [min],room [C]\nr1,0,68\n",
    )
    for fragment in (
        "runs.csv: line 3, fill: 'much' is not a number",
        "runs.csv: line 3, room: 68 C can't be a room",
        "runs.csv: line 4, container = 'bowl'",
        "room.csv: line 2, room: run r1: 68 C can't be a room",
        "readings.csv: line 36, run = 'r3'",
        "passings.csv: line 2, run = 'r9'",
        "probe_checks.csv: line 2, first temperature: 191 C",
    ):
        assert fragment in told, told


def test_rows_of_a_run_that_is_wrong_are_known_all_the_same(tmp_path: Path) -> None:
    told = refused(tmp_path, [*ROWS, "r2,0,hot"], runs=RUNS.replace("500,92,21", "500,92,68"))
    assert told.splitlines() == [
        "runs.csv: line 3, room: 68 C can't be a room; Fahrenheit? then 20 C: write 68 F, or [F] in the heading",
        "readings.csv: line 35, temperature: 'hot' is not a number; write the number, alone or with its unit",
    ]


def test_a_wrong_description_still_tells_what_is_wrong_in_cells(tmp_path: Path) -> None:
    told = refused(tmp_path, ["r1,0,hot"], bench=BENCH.replace('design = "stoneware_cup"', 'design = "stoneware"'))
    assert "containers.cup.design" in told
    assert "readings.csv: line 2, temperature: 'hot' is not a number" in told
