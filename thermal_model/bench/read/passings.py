"""`passings.csv`: marks that a display passed between two looks, or at a time read off a video."""

import math
from collections.abc import Mapping
from functools import partial
from pathlib import Path

import numpy as np

from geometries.errors import InputError, InputProblem, at_once, refuse
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File
from thermal_model.bench.read.bench_file import BenchFile
from thermal_model.bench.read.csv_table import read_sheet
from thermal_model.bench.read.plausible import BOILING_SLACK, celsius_text, scale_hint
from thermal_model.bench.read.readings import moment_of_pouring
from thermal_model.bench.read.sheet import CsvSheet
from thermal_model.bench.records import Passing, Run, temperature_at_start
from thermal_model.scenario import contents_kind


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
    problems = _name_problems(sheet, texts, bench, runs)
    own = [runs[run].probe if run in runs else "" for run in texts["run"]]
    units = [bench.unit_of(probe or usual) for probe, usual in zip(texts["probe"], own, strict=True)]
    try:
        marks = sheet.numbers("mark", Dimension.TEMPERATURE, units)
    except InputError as error:
        raise InputError([*problems, *error.problems]) from None
    for row in np.flatnonzero(np.isnan(marks)).tolist():
        problems.append(sheet.problem("is empty; give the temperature that was passed", row, "mark"))
    refuse(problems)
    zeros = [moment_of_pouring(runs[name]) for name in texts["run"]]
    names = ("above at", "below at", "passed at")
    columns = at_once(*(partial(sheet.times, name, lambda row: zeros[row], bench.dates) for name in names))
    found: dict[str, list[Passing]] = {}
    for row, name in enumerate(texts["run"]):
        mark, (above, below, passed) = float(marks[row]), (float(column[row]) for column in columns)
        is_warming = temperature_at_start(runs[name]) < mark
        first, last = (below, above) if is_warming else (above, below)
        try:
            _check_mark(mark, runs[name])
            earliest, latest = _interval(first, last, passed, float(bench.spreads.video_step), is_warming)
        except ValueError as error:
            problems.append(sheet.problem(str(error), row, "mark"))
            continue
        probe = texts["probe"][row] or own[row]
        found.setdefault(name, []).append(Passing(mark, earliest, latest, int(sheet.lines[row]), probe))
    refuse(problems)
    return found, list(sheet.assumptions)


def _name_problems(
    sheet: CsvSheet, texts: Mapping[str, list[str]], bench: BenchFile, runs: Mapping[str, Run]
) -> list[InputProblem]:
    problems = []
    for row, name in enumerate(texts["run"]):
        if name not in runs:
            problems.append(sheet.problem(f"is not in {File.RUNS}", row, "run", name))
        if texts["probe"][row] and texts["probe"][row] not in bench.probes:
            problems.append(sheet.problem(f"is not in {File.BENCH}", row, "probe", texts["probe"][row]))
    return problems


def _check_mark(mark: float, run: Run) -> None:
    """Raise a ValueError that says why a run's contents can't pass a mark, if they can't. [K]"""
    kind = contents_kind(run.scenario.contents)
    low, high = kind.coldest - BOILING_SLACK, kind.hottest + BOILING_SLACK
    if not low <= mark <= high:
        word, hint = "hotter" if mark > high else "colder", scale_hint(mark, low, high)
        raise ValueError(f"{celsius_text(mark)} is {word} than {run.scenario.contents} can be{hint}")


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
