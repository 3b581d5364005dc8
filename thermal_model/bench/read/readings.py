"""`readings.csv`: a reading a row, read into arrays by run and probe."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from geometries.errors import InputError, InputProblem, at_once, nearest_hint, refuse
from geometries.numeric import Array
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File
from thermal_model.bench.read.bench_file import BenchFile
from thermal_model.bench.read.csv_table import read_sheet
from thermal_model.bench.read.sheet import ENOUGH, MOST_PROBLEMS, CsvSheet, Lines, limited
from thermal_model.bench.records import Run


@dataclass(frozen=True)
class Series:
    """The readings of one probe in one run, in file order, m in all.

    Attributes
    ----------
    run : Run
    probe : str
    time, time_spread : (m,) array
        [s]
    temperature : (m,) array
        As displayed. [K]
    lines : (m,) int array
    unit : str
        In which the temperatures are written.
    source : str
        File they stand in.
    """

    run: Run
    probe: str
    time: Array
    temperature: Array
    time_spread: Array
    lines: Lines
    unit: str
    source: str = File.READINGS

    def __len__(self) -> int:
        return len(self.time)

    @property
    def place(self) -> str:
        """Run and probe, for messages."""
        return f"run {self.run.name}, probe {self.probe}"

    def take(self, keep: NDArray[np.intp]) -> "Series":
        """Return some of the readings."""
        time, temperature, spread = self.time[keep], self.temperature[keep], self.time_spread[keep]
        return replace(self, time=time, temperature=temperature, time_spread=spread, lines=self.lines[keep])


def read_readings(folder: Path, bench: BenchFile, runs: Mapping[str, Run]) -> tuple[list[Series], list[str]]:
    """Read the `readings.csv` of a folder; one of passings or of logs of single runs may go without.

    Returns
    -------
    list of Series
        One for each run and probe, in order of first appearance.
    list of str
        What was taken for granted.

    Raises
    ------
    InputError
        If it can't be read, or a row has a wrong run, probe, time or temperature.
    """
    others = (folder / File.PASSINGS, *(folder / f"{name}.csv" for name in runs))
    if not (folder / File.READINGS).exists() and any(path.exists() for path in others):
        return [], []
    sheet = read_sheet(folder / File.READINGS, COLUMNS[File.READINGS])
    return _series(sheet, sheet.texts("run"), bench, runs) if len(sheet) else ([], [])


def read_logs(folder: Path, bench: BenchFile, runs: Mapping[str, Run]) -> tuple[list[Series], list[str]]:
    """Read the logs of single runs that stand in a folder: slim-1.csv holds readings of run slim-1.

    Returns
    -------
    list of Series
    list of str
        What was taken for granted, and which tables were passed over.

    Raises
    ------
    InputError
        With the problems of all of them, as `read_readings`.
    """
    others = [path for path in sorted(folder.glob("*.csv")) if path.name not in set(File)]
    logs = [path for path in others if path.stem in runs]
    found = at_once(*(partial(_read_log, path, bench, runs) for path in logs))
    passed_over = [
        f"{path.name}: passed over, since no run is named '{path.stem}'; {nearest_hint(path.stem, runs)}".rstrip("; ")
        for path in others
        if path.stem not in runs
    ]
    return [one for series, _ in found for one in series], [*(n for _, notes in found for n in notes), *passed_over]


def _read_log(path: Path, bench: BenchFile, runs: Mapping[str, Run]) -> tuple[list[Series], list[str]]:
    columns = [column for column in COLUMNS[File.READINGS] if column.name != "run"]
    sheet = read_sheet(path, columns)
    if not len(sheet):
        raise InputError("has a heading but no readings; write them, or take the file away", "", None, path.name)
    series, notes = _series(sheet, [path.stem] * len(sheet), bench, runs)
    return series, [f"{path.name}: taken as readings of run {path.stem}", *notes]


def _series(
    sheet: CsvSheet, owners_by_row: list[str], bench: BenchFile, runs: Mapping[str, Run]
) -> tuple[list[Series], list[str]]:
    """Return the rows of a sheet by run and probe, and what was taken for granted."""
    names, owners = _coded(owners_by_row)
    refuse(unknown_names(sheet, "run", names, owners, runs, File.RUNS))
    own = [runs[name].probe for name in names]
    texts = sheet.texts("probe")
    probes, holders = _coded([cell or own[code] for cell, code in zip(texts, owners.tolist(), strict=True)])
    refuse(unknown_names(sheet, "probe", probes, holders, bench.probes, File.BENCH))
    units = [bench.probes[probes[holder]].unit for holder in holders.tolist()]
    time, temperature, spread = at_once(
        lambda: sheet.times("time", lambda row: moment_of_pouring(runs[names[owners[row]]]), bench.dates),
        lambda: sheet.numbers("temperature", Dimension.TEMPERATURE, units),
        lambda: sheet.numbers("time spread", Dimension.DURATION),
    )
    spread = np.where(np.isnan(spread), float(bench.spreads.time), spread)
    _refuse_missing_times(sheet, time, temperature)
    is_read = ~np.isnan(temperature) & ~(time < 0.0)
    notes = [*sheet.assumptions, *_lost_notes(sheet, time, temperature)]
    series = []
    for owner, holder in _pairs(owners, holders):
        rows = np.flatnonzero((owners == owner) & (holders == holder) & is_read)
        unit = bench.probes[probes[holder]].unit or sheet.units["temperature"]
        shown, lines = temperature[rows], sheet.lines[rows]
        run, probe = runs[names[owner]], probes[holder]
        series.append(Series(run, probe, time[rows], shown, spread[rows], lines, unit, sheet.source))
    return [one for one in series if len(one)], notes


def moment_of_pouring(run: Run) -> datetime | None:
    """Return when a run began, None if its date has no time of day."""
    date = run.date
    return None if date is None or (date.hour, date.minute, date.second) == (0, 0, 0) else date


def _coded(cells: list[str]) -> tuple[list[str], Lines]:
    """Return the distinct texts of a column in order, and the number of each row's."""
    codes: dict[str, int] = {}
    numbers = np.array([codes.setdefault(cell, len(codes)) for cell in cells], dtype=np.int64)
    return list(codes), numbers


def _pairs(owners: Lines, holders: Lines) -> Iterator[tuple[int, int]]:
    """Yield each combination of run and probe once, in order of first appearance."""
    keys = owners * (holders.max() + 1) + holders
    _, first = np.unique(keys, return_index=True)
    for row in sorted(first.tolist()):
        yield int(owners[row]), int(holders[row])


def unknown_names(
    sheet: CsvSheet, column: str, names: list[str], codes: Lines, allowed: Mapping[str, object], where: str
) -> Iterator[InputProblem]:
    """Yield the names of a column that are not known, by the line where each first stands."""
    unknown = [code for code, name in enumerate(names) if name not in allowed][:ENOUGH]
    first = np.unique(codes, return_index=True)[1] if unknown else codes
    for code in unknown:
        name, row = names[code], int(first[code])
        hint = nearest_hint(name, [other for other in allowed if other])
        yield sheet.problem(f"{hint}is not in {where}" if hint else f"is not in {where}", row, column, name)


def _refuse_missing_times(sheet: CsvSheet, time: Array, temperature: Array) -> None:
    rows = np.flatnonzero(np.isnan(time) & ~np.isnan(temperature)).tolist()
    if rows:
        message = "is empty beside a temperature; give the time, or leave the row out"
        raise InputError(limited([sheet.problem(message, row, "time") for row in rows[: MOST_PROBLEMS + 1]]))


def _lost_notes(sheet: CsvSheet, time: Array, temperature: Array) -> Iterator[str]:
    """Yield what is left out; moments before the pouring come from loggers that were started early."""
    for rows, why in (
        (np.flatnonzero(np.isnan(temperature)), "no temperature, taken as lost"),
        (np.flatnonzero(time < 0.0), "a time before the contents went in, left out"),
    ):
        if len(rows):
            count = "1 row has" if len(rows) == 1 else f"{len(rows)} rows have"
            yield f"{sheet.source}: {count} {why}; the first is line {sheet.lines[rows[0]]}"
