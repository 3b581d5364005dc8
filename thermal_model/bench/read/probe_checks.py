"""`probe_checks.csv`: thermometers side by side in one bath, or in ice water."""

from collections.abc import Iterator
from functools import partial
from math import hypot
from pathlib import Path

import numpy as np

from geometries.errors import InputProblem, at_once, refuse
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File
from thermal_model.bench.read.bench_file import ICE_WATER, BenchFile
from thermal_model.bench.read.csv_table import read_sheet
from thermal_model.bench.read.plausible import (
    COLDEST_BATH,
    FARTHEST_APART,
    HOTTEST_BATH,
    SPREADS_APART,
    celsius_text,
    scale_hint,
)
from thermal_model.bench.read.sheet import CsvSheet
from thermal_model.bench.records import ProbeCheck

_PROBES = ("first probe", "second probe")
_TEMPERATURES = ("first temperature", "second temperature")


def read_probe_checks(folder: Path, bench: BenchFile) -> tuple[tuple[ProbeCheck, ...], list[str]]:
    """Read the `probe_checks.csv` of a folder; a folder may go without.

    Returns
    -------
    tuple of ProbeCheck
    list of str
        What was taken for granted.

    Raises
    ------
    InputError
        If it can't be read, a probe is not known, or a temperature is missing.
    """
    path = folder / File.PROBE_CHECKS
    if not path.exists():
        return (), []
    sheet = read_sheet(path, COLUMNS[File.PROBE_CHECKS])
    names = [sheet.texts(column) for column in _PROBES]
    units = [list(map(bench.unit_of, texts)) for texts in names]
    values = at_once(
        *(partial(sheet.numbers, c, Dimension.TEMPERATURE, u) for c, u in zip(_TEMPERATURES, units, strict=True))
    )
    allowed, problems = (*bench.probes, ICE_WATER), []
    for row in range(len(sheet)):
        for column, texts in zip(_PROBES, names, strict=True):
            if texts[row] not in allowed:
                problems.append(sheet.problem(f"is not known; allowed: {', '.join(allowed)}", row, column, texts[row]))
        if names[0][row] == names[1][row]:
            problems.append(sheet.problem("is compared with itself", row, _PROBES[1], names[1][row]))
        for column, numbers in zip(_TEMPERATURES, values, strict=True):
            if np.isnan(numbers[row]):
                problems.append(sheet.problem("is empty; give what the display showed", row, column))
    refuse(problems)
    checks = [
        ProbeCheck(names[0][row], names[1][row], float(values[0][row]), float(values[1][row]), int(sheet.lines[row]))
        for row in range(len(sheet))
    ]
    problems = [problem for row, check in enumerate(checks) for problem in _impossible(check, row, sheet, bench)]
    refuse(problems)
    return tuple(checks), list(sheet.assumptions)


def _impossible(check: ProbeCheck, row: int, sheet: CsvSheet, bench: BenchFile) -> Iterator[InputProblem]:
    """Yield temperatures that no bath has, and two that one bath can't have."""
    pair = (check.first_temperature, check.second_temperature)
    odd = [place for place in (0, 1) if not COLDEST_BATH <= pair[place] <= HOTTEST_BATH]
    for place in odd:
        other = pair[1 - place]
        near = (COLDEST_BATH, HOTTEST_BATH) if 1 - place in odd else (other - FARTHEST_APART, other + FARTHEST_APART)
        message = f"{celsius_text(pair[place])} can't be the water of a comparison{scale_hint(pair[place], *near)}"
        yield sheet.problem(message, row, _TEMPERATURES[place])
    names = (check.first, check.second)
    spread = hypot(*(bench.probes[name].offset_spread for name in names if name in bench.probes))
    allowed = max(FARTHEST_APART, SPREADS_APART * spread)
    if not odd and abs(pair[0] - pair[1]) > allowed:
        # Of two numbers in different scales the greater one is in Fahrenheit, down to -40.
        place = int(pair[1] > pair[0])
        other = pair[1 - place]
        message = (
            f"{celsius_text(pair[0])} and {celsius_text(pair[1])} in the same water can't be"
            f"{scale_hint(pair[place], other - FARTHEST_APART, other + FARTHEST_APART)}"
        )
        yield sheet.problem(message, row, _TEMPERATURES[place])
