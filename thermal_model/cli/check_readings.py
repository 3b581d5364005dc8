"""Readings for `holdtime check`: a run of a bench folder, or a CSV of one run, as what claims and standards judge."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from geometries.container import Container
from geometries.errors import InputError, nearest_hint
from geometries.quantities import Dimension, QuantityField
from geometries.validation import validated
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.records import Probe, Reading, Run
from thermal_model.bench.reduce.evidence import Offsets, unchecked_offsets
from thermal_model.bench.reduce.reduction import reduce_bench
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.typed import typed_quantity
from thermal_model.csv_columns import read_columns
from thermal_model.judge.measured_standard import STANDARD_ROOM, TIME_TOLERANCE, MeasuredRun
from thermal_model.scenario import Scenario


@dataclass(frozen=True)
class Measured:
    """A run with what is known of its thermometers.

    Attributes
    ----------
    run : Run
    probes : mapping of str to Probe
    offsets : Offsets
        What their checks say; for a CSV nothing.
    warnings : tuple of str
        What looks wrong of the run.
    """

    run: Run
    probes: Mapping[str, Probe]
    offsets: Offsets
    warnings: tuple[str, ...] = ()


def read_measured(
    readings: Path, run: str | None, container: Container, *, start: str | None, room: str | None, fill: str | None
) -> Measured:
    """Return the run that is to be judged.

    Parameters
    ----------
    readings : Path
        A bench folder, or a CSV of one run.
    run : str or None
        Which run of the folder.
    container : Container
        Whose run it must be.
    start, room, fill : str or None
        As typed: what a CSV does not say of itself.

    Raises
    ------
    InputError
        If a file is wrong, or there is no such run of this container.
    """
    if readings.is_dir():
        return _of_bench(readings, run, container.name)
    return _of_csv(readings, container, start, room, fill)


def _of_bench(folder: Path, name: str | None, design: str) -> Measured:
    with progress_bar(READING):
        bench = read_bench(folder)
    runs = {run.name: run for run in bench.runs}
    if name not in runs:
        hint = "" if name is None else f"'{name}' is no run; {nearest_hint(name, runs)}"
        raise InputError(f"{hint}give one of: {', '.join(runs)}", source="--run")
    run = runs[name]
    if design not in (run.container, run.container_at_run.name):
        raise InputError(f"'{run.name}' is a run of {run.container}, not of {design}", source="--run")
    reduction = reduce_bench(bench)
    flagged = [f"{flag.cause}: {flag.evidence}" for flag in reduction.flags if flag.run == run.name]
    return Measured(run, bench.probes, reduction.offsets, tuple(flagged))


def _of_csv(file: Path, container: Container, start: str | None, room: str | None, fill: str | None) -> Measured:
    wanted = {"time": QuantityField(Dimension.DURATION), "temperature": QuantityField(Dimension.TEMPERATURE)}
    columns = read_columns(file, wanted)
    rows = sorted(zip(columns["time"], columns["temperature"], strict=True))
    typed_room = None if room is None else typed_quantity(room, Dimension.TEMPERATURE, "--room")
    typed_start = None if start is None else typed_quantity(start, Dimension.TEMPERATURE, "--start")
    first = rows[0][1] if rows[0][0] <= TIME_TOLERANCE else typed_start
    start_kelvin = rows[0][1] if first is None else first
    room_kelvin = STANDARD_ROOM if typed_room is None else typed_room
    document = {"start": f"{start_kelvin} K", "room": f"{room_kelvin} K"} | ({} if fill is None else {"fill": fill})
    typed = {"room": room, "start": start if first is typed_start else None, "fill": fill}
    try:
        scenario = validated(Scenario, document)
    except InputError as error:
        raise InputError(
            replace(p, source=f"--{p.field}", field="") if typed.get(p.field) else replace(p, source=str(file))
            for p in error.problems
        ) from None
    readings = tuple(Reading(time, shown, CSV_TIME_SPREAD, number) for number, (time, shown) in enumerate(rows))
    probe, unknown = Probe("of the CSV"), float("inf")
    run = Run(
        name=str(file),
        container=container.name,
        probe=probe.name,
        container_at_run=container,
        scenario=scenario,
        date=None,
        start_spread=unknown if first is None else probe.offset_spread,
        room_spread=unknown if typed_room is None else 1.0,
        fill_spread=unknown,
        readings=readings,
        passings=(),
        note="",
        line=0,
    )
    probes = {probe.name: probe}
    return Measured(run, probes, unchecked_offsets(probes))


CSV_TIME_SPREAD = 30.0
"""Standard deviation of the times of a CSV, which says none. [s]"""


def for_standard(measured: Measured) -> MeasuredRun:
    """Return a run as a standard's test looks at it; readings of the run's own thermometer only."""
    run = measured.run
    own = [reading for reading in run.readings if reading.probe in ("", run.probe)]
    start = float(run.scenario.start) if run.start_spread < float("inf") else None
    is_known = run.room_spread < float("inf") and run.scenario.room_profile is None
    room = float(run.scenario.room) if is_known else None
    fill = None if run.scenario.fill is None else float(run.scenario.fill)
    return MeasuredRun(run.name, own, start, room, measured.probes[run.probe], fill)
