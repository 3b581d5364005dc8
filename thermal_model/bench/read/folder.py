"""A bench folder, read as a whole: nothing in it is ever changed."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeAlias

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container
from geometries.errors import InputError, InputProblem, refuse
from thermal_model.bench.columns import File
from thermal_model.bench.read.bench_file import ICE_WATER, ICE_WATER_PROBE, BenchFile, read_bench_file
from thermal_model.bench.read.csv_table import cell_problems
from thermal_model.bench.read.display_steps import displays
from thermal_model.bench.read.passings import read_passings
from thermal_model.bench.read.plausible import COLDEST_USUAL_ROOM, HOTTEST_USUAL_ROOM, celsius_text, scale_hint
from thermal_model.bench.read.probe_checks import read_probe_checks
from thermal_model.bench.read.readings import Series, read_logs, read_readings
from thermal_model.bench.read.room_log import read_room_log
from thermal_model.bench.read.runs_table import RunsTable, read_runs_table
from thermal_model.bench.read.sheet import kept
from thermal_model.bench.read.suspicions import suspicions
from thermal_model.bench.read.thinning import thinned
from thermal_model.bench.records import Bench, Passing, ProbeCheck, Reading, Run, temperature_at_start
from thermal_model.scenario import RoomProfile

_Parts: TypeAlias = tuple[list[Series], dict[str, list[Passing]], tuple[ProbeCheck, ...], tuple[str, ...]]
"""What the files of readings say: series, passings by run, checks of probes, and what was taken for granted."""


def read_bench(folder: Path, *, needs_readings: bool = True, designs: Mapping[str, Container] | None = None) -> Bench:
    """Read a bench folder.

    Parameters
    ----------
    folder : Path
        Holds `bench.toml`, `runs.csv`, `readings.csv`, and if wanted `passings.csv`, `room.csv`, `probe_checks.csv`,
        and a log of a single run under the run's name.
    needs_readings : bool
        Whether a bench without a single one is refused; one whose first run has just begun has none.
    designs : mapping of str to Container, optional
        Containers by name that are taken instead of what `bench.toml` says of them.

    Returns
    -------
    Bench
        With what was taken for granted, and what looks wrong but could be read.

    Raises
    ------
    InputError
        If a file is missing or can't be read, or rows can't be true; every problem by file, line and column, those of
        all files in one round.
    """
    problems: list[InputProblem] = []
    bench, table = _described(folder, problems, designs or {})
    runs = {run.name: run for run in table.runs} | table.unread
    series, passings, checks, assumptions = _read_parts(folder, bench, runs, problems, needs_readings=needs_readings)
    impossible, odd = suspicions([one for one in series if one.run.name not in table.unread])
    refuse([*problems, *impossible])
    probes, step_warnings = displays(bench.probes, series)
    few = [thinned(one) for one in series]
    full = tuple(_with_readings(run, [one for one, _ in few], passings) for run in table.runs)
    if any(ICE_WATER in (check.first, check.second) for check in checks):
        probes[ICE_WATER] = ICE_WATER_PROBE
    return Bench(
        name=bench.name,
        containers=bench.containers,
        probes=probes,
        runs=full,
        checks=checks,
        assumptions=(*bench.assumptions, *table.assumptions, *assumptions, *(note for _, note in few if note)),
        warnings=(*table.warnings, *odd, *step_warnings, *_run_warnings(full)),
    )


def _described(
    folder: Path, problems: list[InputProblem], designs: Mapping[str, Container]
) -> tuple[BenchFile, RunsTable]:
    """Read what the runs were, before their readings; what is wrong with rows goes into `problems`.

    Raises
    ------
    InputError
        If the names of containers, probes and runs can't be read, with what is wrong in cells elsewhere.
    """
    if not folder.is_dir():
        message = "is no folder" if folder.exists() else "there is no such folder; holdtime bench new makes one"
        raise InputError(message, source=str(folder))
    try:
        bench = read_bench_file(folder, designs)
        table = read_runs_table(folder, bench)
    except InputError as error:
        all_problems = [*error.problems, *cell_problems(folder)]
        raise InputError({str(problem): problem for problem in all_problems}.values()) from None
    problems += table.problems
    names = {run.name: run for run in table.runs} | table.unread
    rooms, notes = kept(partial(read_room_log, folder, bench, names), problems) or ({}, [])
    runs = tuple(_with_room_log(run, rooms[run.name]) if run.name in rooms else run for run in table.runs)
    return bench, replace(table, runs=runs, assumptions=(*table.assumptions, *notes))


def _read_parts(
    folder: Path,
    bench: BenchFile,
    runs: Mapping[str, Run],
    problems: list[InputProblem],
    *,
    needs_readings: bool,
) -> _Parts:
    """Read the files of readings; what is wrong in any of them goes into `problems`."""
    before = len(problems)
    series, reading_notes = kept(partial(read_readings, folder, bench, runs), problems) or ([], [])
    logs, log_notes = kept(partial(read_logs, folder, bench, runs), problems) or ([], [])
    passings, passing_notes = kept(partial(read_passings, folder, bench, runs), problems) or ({}, [])
    checks, check_notes = kept(partial(read_probe_checks, folder, bench), problems) or ((), [])
    problems += _logged_twice(series, logs)
    if needs_readings and not series and not logs and not passings and len(problems) == before:
        message = "neither readings.csv nor passings.csv has a row yet; write what the displays showed"
        problems.append(InputProblem(message, source=str(folder)))
    notes = (*reading_notes, *log_notes, *passing_notes, *check_notes)
    return [*series, *logs], passings, checks, notes


def _logged_twice(series: Sequence[Series], logs: Sequence[Series]) -> Iterator[InputProblem]:
    """Yield logs whose run has readings of the same probe in `readings.csv` too."""
    there = {(one.run.name, one.probe): one for one in series}
    for log in logs:
        other = there.get((log.run.name, log.probe))
        if other is not None:
            message = (
                f"{log.place}: has readings in {other.source} too, from line {other.lines[0]}; keep one of the two"
            )
            yield InputProblem(message, source=log.source)


def _with_readings(run: Run, series: Sequence[Series], passings: Mapping[str, Sequence[Passing]]) -> Run:
    own = [one for one in series if one.run.name == run.name]
    readings = sorted((reading for one in own for reading in _readings(one)), key=lambda reading: reading.time)
    passed = sorted(passings.get(run.name, ()), key=lambda passing: passing.earliest)
    run = replace(run, readings=tuple(readings), passings=tuple(passed))
    if readings and not math.isfinite(run.start_spread):  # for want of anything better it starts at the first one
        return replace(run, scenario=run.scenario.model_copy(update={"start": readings[0].temperature}))
    return run


def _readings(series: Series) -> Iterator[Reading]:
    columns = (series.time, series.temperature, series.time_spread, series.lines)
    for time, temperature, spread, line in zip(*(column.tolist() for column in columns), strict=True):
        yield Reading(time, temperature, spread, line, series.probe)


def _with_room_log(run: Run, profile: RoomProfile) -> Run:
    """Return a run whose room was logged; its spread is that of the thermometer."""
    mean = float(np.mean(np.array(profile.temperatures)))
    scenario = run.scenario.model_copy(update={"room": mean, "room_profile": profile})
    return replace(run, scenario=scenario, room_spread=min(run.room_spread, ROOM_LOG_SPREAD))


ROOM_LOG_SPREAD = 0.5
"""Standard deviation of a logged room, of a thermometer that nobody checked [K]; judgement."""


def _run_warnings(runs: Sequence[Run]) -> Iterator[str]:
    """Yield what is missing in a run."""
    for run in runs:
        where = f"{File.RUNS}: line {run.line}"
        if not run.readings and not run.passings:
            yield f"{where}: run {run.name} has neither readings nor passings"
        if not math.isfinite(run.room_spread):
            yield (
                f"{where}, room: run {run.name} has no room temperature; 20 C is put in, and nothing that rests on it "
                "can be trusted"
            )
        if not math.isfinite(run.start_spread):
            guess = "its first reading" if run.readings else f"{float(run.scenario.start) - ZERO_CELSIUS:g} C"
            yield f"{where}, poured at: run {run.name} does not say; {guess} is put in"
        yield from _odd_marks(run)
        yield from _odd_log(run)


def _odd_marks(run: Run) -> Iterator[str]:
    """Yield marks that contents on their way to the room do not pass."""
    start, room = temperature_at_start(run), float(run.scenario.room)
    low, high = min(start, room) - MARK_SLACK, max(start, room) + MARK_SLACK
    for passing in run.passings:
        if math.isfinite(run.room_spread) and not low < passing.mark < high:
            yield (
                f"{File.PASSINGS}: line {passing.line}, mark: {passing.mark - ZERO_CELSIUS:.4g} C is not between start "
                f"and room of run {run.name}, {start - ZERO_CELSIUS:.4g} and {room - ZERO_CELSIUS:.4g} C; "
                "check unit and run"
            )


def _odd_log(run: Run) -> Iterator[str]:
    """Yield a logged room that is unusual, though it can be."""
    profile = run.scenario.room_profile
    if profile is None:
        return
    for temperature in (min(profile.temperatures), max(profile.temperatures)):
        if not COLDEST_USUAL_ROOM <= temperature <= HOTTEST_USUAL_ROOM:
            hint = scale_hint(float(temperature), COLDEST_USUAL_ROOM, HOTTEST_USUAL_ROOM)
            yield f"{File.ROOM}: room of run {run.name}: {celsius_text(float(temperature))} is an unusual room{hint}"
            return


MARK_SLACK = 3.0
"""A display that is off may pass a mark so much beyond start or room [K]; judgement."""
