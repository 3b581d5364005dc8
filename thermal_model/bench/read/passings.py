"""`passings.csv`: marks that a display passed between two looks, or at a time read off a video."""

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from geometries.errors import InputError, InputProblem
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File
from thermal_model.bench.read.bench_file import BenchFile
from thermal_model.bench.read.csv_table import read_sheet
from thermal_model.bench.read.readings import moment_of_pouring
from thermal_model.bench.read.sheet import Sheet
from thermal_model.bench.records import Passing, Run, temperature_at_start


def read_passings(
    folder: Path, bench: BenchFile, runs: Mapping[str, Run]
) -> tuple[dict[str, list[Passing]], list[str]]:
    """Read the `passings.csv` of a folder; a folder may go without.

    Returns
    -------
    dict of list of Passing
        By name of run.
    list of str
        What was taken for granted.

    Raises
    ------
    InputError
        If it can't be read, or a row is wrong.
    """
    path = folder / File.PASSINGS
    if not path.exists():
        return {}, []
    sheet = read_sheet(path, COLUMNS[File.PASSINGS])
    texts = {name: sheet.texts(name) for name in ("run", "probe")}
    marks = sheet.numbers("mark", Dimension.TEMPERATURE)
    problems = _name_problems(sheet, texts, bench, runs)
    if problems:
        raise InputError(problems)
    zeros = [moment_of_pouring(runs[name]) for name in texts["run"]]
    columns = {
        name: sheet.times(name, lambda row: zeros[row], bench.dates) for name in ("above at", "below at", "passed at")
    }
    found: dict[str, list[Passing]] = {}
    for row, name in enumerate(texts["run"]):
        above, below, passed = (float(columns[column][row]) for column in ("above at", "below at", "passed at"))
        is_warming = temperature_at_start(runs[name]) < marks[row]
        first, last = (below, above) if is_warming else (above, below)
        try:
            earliest, latest = _interval(first, last, passed, float(bench.spreads.video_step), is_warming)
        except ValueError as error:
            problems.append(sheet.problem(str(error), row, "mark"))
            continue
        probe = texts["probe"][row] or runs[name].probe
        found.setdefault(name, []).append(Passing(float(marks[row]), earliest, latest, int(sheet.lines[row]), probe))
    if problems:
        raise InputError(problems)
    return found, list(sheet.assumptions)


def _name_problems(
    sheet: Sheet, texts: Mapping[str, list[str]], bench: BenchFile, runs: Mapping[str, Run]
) -> list[InputProblem]:
    problems = []
    for row, name in enumerate(texts["run"]):
        if name not in runs:
            problems.append(sheet.problem(f"is not in {File.RUNS}", row, "run", name))
        if texts["probe"][row] and texts["probe"][row] not in bench.probes:
            problems.append(sheet.problem(f"is not in {File.BENCH}", row, "probe", texts["probe"][row]))
    for row in np.flatnonzero(np.isnan(sheet.numbers("mark", Dimension.TEMPERATURE))).tolist():
        problems.append(sheet.problem("is empty; give the temperature that was passed", row, "mark"))
    return problems


def _interval(first: float, last: float, passed: float, step: float, is_warming: bool) -> tuple[float, float]:
    """Return the earliest and latest time of a passing. [s]

    Raises
    ------
    ValueError
        If nothing, too much or the wrong order was given.
    """
    has_looks = not (math.isnan(first) and math.isnan(last))
    if has_looks != math.isnan(passed):
        raise ValueError("give either 'passed at', or 'above at' and 'below at' (one of these may be left out)")
    if not has_looks:
        return max(passed - step, 0.0), passed + step
    earliest = 0.0 if math.isnan(first) else first
    latest = math.inf if math.isnan(last) else last
    if latest <= earliest:
        order = "below it first, then above" if is_warming else "above it first, then below"
        raise ValueError(f"times fall: these contents are seen {order}")
    return earliest, latest
