"""Mistakes that testers make, each found and named by line; and sound readings, in which nothing is found."""

from pathlib import Path

import numpy as np
import pytest

from geometries.container import Container, outside_diameter, total_height
from geometries.design_file import catalogue_names, load_container
from geometries.errors import InputError
from tests.thermal_model.bench.folders import BENCH, RUNS, bench_folder, cooling_rows
from thermal_model.assemble.build import assemble, filled_volume
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
from thermal_model.scenario import Scenario, with_scenario_overrides
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
    assert "Fahrenheit? then 90 C: write the heading temperature [F]" in told


def test_cold_fahrenheit_labelled_celsius(tmp_path: Path) -> None:
    runs = "run,container,probe,contents,fill [mL],poured at [C],room [C]\nr1,flask,pen,water,500,4,22\n"
    rows = [f"r1,{t:g},{(22 - 18 * np.exp(-t / 900)) * 1.8 + 32:.0f}" for t in TIMES]
    warnings = read(tmp_path, rows, runs=runs).warnings
    assert any("line 2, temperature" in w and "39 C is far from 4 C" in w and "3.89 C" in w for w in warnings)


def test_celsius_labelled_fahrenheit(tmp_path: Path) -> None:
    warnings = read(tmp_path, ROWS, "run,time [min],temperature [F]").warnings
    assert any("32.22 C is far from 92 C" in w and "on the other scale it would be 90 C" in w for w in warnings)


def test_room_in_fahrenheit(tmp_path: Path) -> None:
    warnings = read(tmp_path, ROWS, runs=RUNS.replace("92,20,", "92,68,")).warnings
    assert any("runs.csv: line 2, room: 68 C is an unusual room; Fahrenheit? then 20 C" in w for w in warnings)


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
    scenario = with_scenario_overrides(Scenario(), {"start": "90 C"})
    volume, area = float(filled_volume(container, scenario)), _outside_area(container)
    for pressure in (1.0, 1e6):
        network = assemble(container, scenario, Unknowns(gap_pressure=np.array([pressure])), lanes=1)
        _, loss, _ = heat_paths(network, scenario, [333.15])
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
