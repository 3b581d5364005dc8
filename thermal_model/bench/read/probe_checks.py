"""`probe_checks.csv`: thermometers side by side in one bath, or in ice water."""

from pathlib import Path

import numpy as np

from geometries.errors import InputError
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File
from thermal_model.bench.read.bench_file import ICE_WATER, BenchFile
from thermal_model.bench.read.csv_table import read_sheet
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
    values = [sheet.numbers(column, Dimension.TEMPERATURE) for column in _TEMPERATURES]
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
    if problems:
        raise InputError(problems)
    checks = [
        ProbeCheck(names[0][row], names[1][row], float(values[0][row]), float(values[1][row]), int(sheet.lines[row]))
        for row in range(len(sheet))
    ]
    return tuple(checks), list(sheet.assumptions)
