"""`room.csv`: the room's temperature over time, run by run."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from geometries.errors import InputError, at_once, refuse
from geometries.quantities import Dimension
from thermal_model.bench.columns import COLUMNS, File
from thermal_model.bench.read.bench_file import BenchFile
from thermal_model.bench.read.csv_table import read_sheet
from thermal_model.bench.read.plausible import room_problem
from thermal_model.bench.read.readings import moment_of_pouring
from thermal_model.bench.records import Run
from thermal_model.scenario import RoomProfile


def read_room_log(folder: Path, bench: BenchFile, runs: Mapping[str, Run]) -> tuple[dict[str, RoomProfile], list[str]]:
    """Read the `room.csv` of a folder; a folder may go without.

    Returns
    -------
    dict of RoomProfile
        By name of run.
    list of str
        What was taken for granted.

    Raises
    ------
    InputError
        If it can't be read, a run is not known, or its times do not rise.
    """
    path = folder / File.ROOM
    if not path.exists():
        return {}, []
    sheet = read_sheet(path, COLUMNS[File.ROOM])
    names = sheet.texts("run")
    unknown = [row for row, name in enumerate(names) if name not in runs]
    if unknown:
        raise InputError(sheet.problem(f"is not in {File.RUNS}", row, "run", names[row]) for row in unknown[:5])
    zeros = [moment_of_pouring(runs[name]) for name in names]
    times, rooms = at_once(
        lambda: sheet.times("time", lambda row: zeros[row], bench.dates),
        lambda: sheet.numbers("room", Dimension.TEMPERATURE),
    )
    profiles, problems = {}, []
    for name in dict.fromkeys(names):
        rows = np.array([row for row, other in enumerate(names) if other == name and not np.isnan(rooms[row])])
        if not len(rows):
            continue
        message = room_problem(rooms[rows], sheet.lines[rows])
        if message:
            odd = next(row for row in rows.tolist() if room_problem(rooms[[row]], sheet.lines[[row]]))
            problems.append(sheet.problem(f"run {name}: {message}", odd, "room"))
            continue
        falls = np.flatnonzero(~(np.diff(times[rows]) > 0.0))
        if len(falls):
            row = int(rows[falls[0] + 1])
            problems.append(sheet.problem("is not later than the row before of the same run", row, "time"))
            continue
        profiles[name] = RoomProfile.model_construct(
            times=tuple(times[rows].tolist()), temperatures=tuple(rooms[rows].tolist())
        )
    refuse(problems)
    return profiles, list(sheet.assumptions)
