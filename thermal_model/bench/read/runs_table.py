"""`runs.csv`: a filling a row, read into runs that have no readings yet."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container
from geometries.errors import InputError, InputProblem, nearest_hint
from geometries.numeric import Array
from geometries.overrides import split_assignment, with_overrides
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File
from thermal_model.bench.read.bench_file import BenchFile
from thermal_model.bench.read.csv_table import read_sheet
from thermal_model.bench.read.plausible import COLDEST_USUAL_ROOM, HOTTEST_USUAL_ROOM, room_problem, scale_hint
from thermal_model.bench.read.sheet import CsvSheet, kept, lines_text
from thermal_model.bench.records import Run
from thermal_model.prediction import check_fill
from thermal_model.scenario import Scenario, WallStart

WALL_WORDS = {"soaked": WallStart.ROOM, "room": WallStart.ROOM, "preheated": WallStart.PREHEATED}

_SCENARIO = "scenario."
_QUANTITIES = {
    "fill": Dimension.VOLUME,
    "fill spread": Dimension.FRACTION,
    "ice": Dimension.MASS,
    "poured at": Dimension.TEMPERATURE,
    "poured spread": Dimension.TEMPERATURE_DIFFERENCE,
    "room": Dimension.TEMPERATURE,
    "room spread": Dimension.TEMPERATURE_DIFFERENCE,
}
_TEXTS = ("run", "container", "probe", "contents", "preheat", "walls", "orientation", "settings", "note")
_COLUMN_OF_FIELD = {"start": "poured at", "preheat.duration": "preheat", "preheat.temperature": "preheat"}


@dataclass(frozen=True)
class RunsTable:
    """What `runs.csv` says.

    Attributes
    ----------
    runs : tuple of Run
        Without readings. Where nobody measured start or room, their spread is infinite and the value a guess.
    problems : tuple of InputProblem
        Rows that are wrong; the folder can't be used, but what else is wrong in it can still be told.
    unread : dict of str to Run
        By the name of each such row, what can be made of it, so that its readings can be looked at.
    assumptions, warnings : tuple of str
    """

    runs: tuple[Run, ...]
    problems: tuple[InputProblem, ...]
    unread: dict[str, Run]
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass
class _Table:
    """The table while it is read: rows by column, and what is found on the way."""

    sheet: CsvSheet
    bench: BenchFile
    texts: dict[str, list[str]]
    quantities: dict[str, Array]
    dates: list[datetime | None]
    problems: list[InputProblem] = field(default_factory=list)
    defaults: dict[str, list[int]] = field(default_factory=dict)

    def problem(self, message: str, row: int, column: str, value: object = None) -> None:
        self.problems.append(self.sheet.problem(message, row, column, value))

    def given(self, column: str, row: int) -> float | None:
        value = float(self.quantities[column][row])
        return None if math.isnan(value) else value

    def left_out(self, what: str, row: int) -> None:
        """Note that a default was taken."""
        self.defaults.setdefault(what, []).append(int(self.sheet.lines[row]))


def read_runs_table(folder: Path, bench: BenchFile) -> RunsTable:
    """Read the `runs.csv` of a folder.

    Raises
    ------
    InputError
        If it can't be read as a table; problems of rows, by line and column, are returned.
    """
    sheet = read_sheet(folder / File.RUNS, COLUMNS[File.RUNS])
    if not len(sheet):
        raise InputError("has headings but no runs; write a row for each filling", source=sheet.source)
    problems: list[InputProblem] = []
    quantities = {}
    for name, dimension in _QUANTITIES.items():
        column = kept(partial(sheet.numbers, name, dimension), problems)
        quantities[name] = np.full(len(sheet), np.nan) if column is None else column
    dates = kept(partial(sheet.dates, "date", bench.dates), problems) or [None] * len(sheet)
    read = _Table(sheet, bench, {name: sheet.texts(name) for name in _TEXTS}, quantities, dates, problems)
    _refuse_repeated_names(read)
    _refuse_impossible_rooms(read)
    runs = [_run(read, row) for row in range(len(sheet))]
    found = tuple(run for run in runs if run is not None)
    unread = {
        read.texts["run"][row]: _stand_in(read, row)
        for row, run in enumerate(runs)
        if run is None and read.texts["run"][row]
    }
    defaults = [f"{File.RUNS}: {what}, where left out: {lines_text(lines)}" for what, lines in read.defaults.items()]
    assumptions = (*sheet.assumptions, *defaults)
    return RunsTable(found, tuple(read.problems), unread, assumptions, tuple(_room_warnings(found)))


def _refuse_impossible_rooms(read: _Table) -> None:
    rooms = read.quantities["room"]
    for row in np.flatnonzero(~np.isnan(rooms)).tolist():
        message = room_problem(rooms[[row]], read.sheet.lines[[row]])
        if message:
            read.problem(message, row, "room")


def _stand_in(read: _Table, row: int) -> Run:
    """Return a run for a row that is wrong, of which nothing is known but its name."""
    containers, probes = read.bench.containers, read.bench.probes
    container, probe = read.texts["container"][row], read.texts["probe"][row]
    container = container if container in containers else next(iter(containers))
    probe = probe if probe in probes else next(iter(probes))
    run = _record(read, row, containers[container], probe, Scenario())
    date = run.date or datetime(2000, 1, 1, 12)
    return replace(run, container=container, date=date, start_spread=math.inf, room_spread=math.inf)


def _refuse_repeated_names(read: _Table) -> None:
    first: dict[str, int] = {}
    for row, name in enumerate(read.texts["run"]):
        if not name:
            read.problem("is empty; give the run a name", row, "run")
        elif name in first:
            message = f"is there already in line {read.sheet.lines[first[name]]}; every run needs a name of its own"
            read.problem(message, row, "run", name)
        first.setdefault(name, row)


def _run(read: _Table, row: int) -> Run | None:
    """Return a row as a run, None if something is wrong with it."""
    before = len(read.problems)
    container = _looked_up(read, row, "container", read.bench.containers)
    probe = _probe_name(read, row)
    design_settings, scenario_settings = _settings(read, row)
    document = _scenario_document(read, row)
    if len(read.problems) > before or container is None:
        return None
    try:
        if design_settings:
            container = with_overrides(container, design_settings, "settings")
        scenario = with_overrides(Scenario(), document | scenario_settings, "settings")
        check_fill(container, scenario)
    except InputError as error:
        read.problems += [_at_row(problem, read, row) for problem in error.problems]
        return None
    return _record(read, row, container, probe, scenario)


def _record(read: _Table, row: int, container: Container, probe: str, scenario: Scenario) -> Run:
    spreads = read.bench.spreads
    return Run(
        name=read.texts["run"][row],
        container=read.texts["container"][row],
        probe=probe,
        container_at_run=container,
        scenario=scenario,
        date=read.dates[row],
        start_spread=_spread(read, row, "poured at", "poured spread", float(spreads.poured_at)),
        room_spread=_spread(read, row, "room", "room spread", float(spreads.room)),
        fill_spread=read.given("fill spread", row) or float(spreads.fill),
        note=read.texts["note"][row],
        line=int(read.sheet.lines[row]),
    )


def _spread(read: _Table, row: int, column: str, spread_column: str, usual: float) -> float:
    """Return a standard deviation, infinite where nobody measured."""
    if read.given(column, row) is None:
        return math.inf
    given = read.given(spread_column, row)
    return usual if given is None else given


def _at_row(problem: InputProblem, read: _Table, row: int) -> InputProblem:
    """Return what is wrong with a scenario or a design, by line and column; what was poured, on the other scale too."""
    column = _COLUMN_OF_FIELD.get(problem.field, problem.field.removeprefix(_SCENARIO))
    where = f"line {read.sheet.lines[row]}" + (f", {column}" if column else "")
    poured = read.given("poured at", row)
    hint = scale_hint(poured, ZERO_CELSIUS, 373.15) if column == "poured at" and poured is not None else ""
    return replace(problem, message=problem.message + hint, field=where, source=read.sheet.source)


def _looked_up(read: _Table, row: int, column: str, allowed: Mapping[str, Any]) -> Any:
    name = read.texts[column][row]
    if name in allowed:
        return allowed[name]
    hint = nearest_hint(name, allowed)
    read.problem(f"is not in {File.BENCH}; {hint}it has {', '.join(allowed)}", row, column, name)
    return None


def _probe_name(read: _Table, row: int) -> str:
    if not read.texts["probe"][row]:
        if len(read.bench.probes) == 1:
            return next(iter(read.bench.probes))
        read.problem(f"is empty; {File.BENCH} has {', '.join(read.bench.probes)}: say which", row, "probe")
        return ""
    _looked_up(read, row, "probe", read.bench.probes)
    return read.texts["probe"][row]


def _settings(read: _Table, row: int) -> tuple[dict[str, object], dict[str, object]]:
    """Return what a row changes in the design and in the scenario."""
    design: dict[str, object] = {}
    scenario: dict[str, object] = {}
    for part in filter(None, (part.strip() for part in read.texts["settings"][row].split("|"))):
        try:
            path, value = split_assignment(part)
        except InputError:
            message = "write path=value with | between several: lid.seals.1=none | scenario.wind=2 m/s"
            read.problem(message, row, "settings", part)
            continue
        if path.startswith(_SCENARIO):
            scenario[path.removeprefix(_SCENARIO)] = value
        else:
            design[path] = value
    return design, scenario


def _scenario_document(read: _Table, row: int) -> dict[str, object]:
    """Return the scenario of a row, as a scenario file would hold it; what is left out is noted."""
    document = dict(read.bench.scenario)
    for column, unit in (("fill", "m3"), ("ice", "kg"), ("room", "K")):
        value = read.given(column, row)
        if value is not None:
            document[column] = f"{value!r} {unit}"
    for column in ("contents", "orientation"):
        if read.texts[column][row]:
            document[column] = read.texts[column][row]
    start = read.given("poured at", row)
    if start is not None:
        document["start"] = f"{start!r} K"
    _put_walls(read, row, document)
    for column, words in _LEFT_OUT.items():
        if column not in document:
            read.left_out(words, row)
    return document


_LEFT_OUT = {
    "fill": "fill: full, 5 mm under the lid",
    "contents": "contents: water",
    "walls": "walls: soaked, at room temperature",
}


def _put_walls(read: _Table, row: int, document: dict[str, object]) -> None:
    walls, preheat = read.texts["walls"][row].lower(), read.texts["preheat"][row]
    if walls and walls not in WALL_WORDS:
        read.problem("must be soaked or preheated", row, "walls", read.texts["walls"][row])
    elif walls:
        document["walls"] = WALL_WORDS[walls].value
    if not preheat or preheat.lower() in ("none", "no", "-"):
        return
    duration, at, temperature = preheat.partition(" at ")
    if not at:
        read.problem("write for example '5 min at 95 C', or leave it empty", row, "preheat", preheat)
        return
    document["preheat"] = {"duration": duration.strip(), "temperature": temperature.strip()}
    document.setdefault("walls", WallStart.ROOM.value)


def _room_warnings(runs: tuple[Run, ...]) -> Iterator[str]:
    for run in runs:
        room = float(run.scenario.room)
        if math.isfinite(run.room_spread) and not COLDEST_USUAL_ROOM <= room <= HOTTEST_USUAL_ROOM:
            fahrenheit = np.round((room - ZERO_CELSIUS - 32.0) / 1.8, 1)
            hint = f"; Fahrenheit? then {fahrenheit:g} C" if 288.0 <= fahrenheit + ZERO_CELSIUS <= 308.0 else ""
            yield f"{File.RUNS}: line {run.line}, room: {room - ZERO_CELSIUS:g} C is an unusual room{hint}"
