"""What a sweep writes: CSV, Parquet or NetCDF; units beside every column, and version, inputs and seed in every file.

CSV and Parquet are written a stretch at a time, NetCDF as one labelled array; whole or not at all.
"""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.errors import InputError
from geometries.numeric import Array
from geometries.quantities import Dimension
from thermal_model.batch import lots
from thermal_model.solver.engine import Outcome
from thermal_model.solver.network import PATHS
from thermal_model.solver.scatter import sum_of_rows
from thermal_model.study.axes import Axis
from thermal_model.study.journal import Journal, Results, replace_file
from thermal_model.study.measures import MEASURES
from thermal_model.study.sampling import table_of
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import HIGH, LOW, PATHS_OF, Summary, Sweep, joined
from thermal_model.study.sweep_tables import measured
from thermal_model.version import version
from thermal_model.words.cells import csv_text, json_comment
from thermal_model.words.dimensions import dimension_words
from thermal_model.words.numbers import Scale

if TYPE_CHECKING:
    from xarray import Dataset

FORMATS = (".csv", ".parquet", ".nc")

ROW_GROUP = 65_536
"""Designs written at once; it does not depend on the chunks, so that the file doesn't either."""

LARGEST_ARRAY = 20_000_000
"""Designs of a NetCDF file: it is built in memory."""

_MEASURED = {
    "mass": ("empty_mass", "kg"),
    "capacity": ("capacity_under_lid", "m3"),
    "diameter": ("outside_diameter", "m"),
    "height": ("height_with_lid", "m"),
    "mouth": ("mouth", "m"),
}
"""Measures that a table has, their columns and units."""

MEASURED_AT_ONCE = 4096
"""Designs that are measured together: their walls come in pieces, so that many take a lot of memory."""

_UNITS = {Dimension.TEMPERATURE: {"C": "degC", "F": "degF", "K": "K"}}
_NEEDED = {".parquet": ("pyarrow",), ".nc": ("xarray", "h5netcdf", "h5py")}


def check_format(path: Path, designs: int) -> None:
    """Refuse a file that can't be written in the end, before the work is done.

    Raises
    ------
    InputError
        If its ending names no format, what writes the format is not installed, or the format can't hold so much.
    """
    from importlib.util import find_spec

    ending = path.suffix.lower()
    if ending not in FORMATS:
        message = f"can't write a '{ending or 'nameless'}' file; end the name in {', '.join(FORMATS)}"
        raise InputError(message, source=str(path))
    missing = [name for name in _NEEDED.get(ending, ()) if find_spec(name) is None]
    if missing:
        message = f"needs {' and '.join(missing)}; install holdtime[sweep], or end the name in .csv"
        raise InputError(message, source=str(path))
    if ending == ".nc" and designs > LARGEST_ARRAY:
        message = (
            f"NetCDF is written for at most {LARGEST_ARRAY} designs, these are {designs}; end the name in .parquet"
        )
        raise InputError(message, source=str(path))


def write_results(sweep: Sweep, journal: Journal, summary: Summary, target: Path, scale: Scale) -> None:
    """Write the results of a finished journal to a file, whole or not at all.

    Parameters
    ----------
    sweep : Sweep
    journal : Journal
        The file grows in its folder until it is whole.
    summary : Summary
    target : Path
        Its ending, one of FORMATS, chooses the format.
    scale : Scale
        Of the limit temperatures.

    Raises
    ------
    InputError
        If it can't be written; what is done stays in the journal.
    """
    write: dict[str, Callable[..., None]] = {".csv": _write_csv, ".parquet": _write_parquet, ".nc": _write_netcdf}
    growing = journal.folder / "result.part"
    try:
        growing.unlink(missing_ok=True)  # a killed command may have left it as a second name of the finished file
        write[target.suffix.lower()](sweep, journal, summary, growing, scale)
        replace_file(growing, target)
    except OSError as error:
        growing.unlink(missing_ok=True)
        reason = error.strerror or " ".join(str(error).split())
        message = f"can't be written: {reason}; what is done is kept in {journal.folder}, give the same command again"
        raise InputError(message, source=str(target)) from None


def document(sweep: Sweep, summary: Summary, scale: Scale) -> dict[str, Any]:
    """Return what made a result, and what became of its designs, as a JSON object."""
    return {
        "version": version(),
        "scale": scale.value,
        "inputs": sweep.inputs(),
        "outcomes": {outcome.name.lower(): count for outcome, count in summary.outcomes.items()},
        "invalid": [
            {"field": reason, "designs": count, "first_design": first, "message": sweep.message(first)}
            for reason, (count, first) in sorted(summary.reasons.items(), key=lambda item: (-item[1][0], item[0]))
        ],
    }


# --- columns --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ResultColumn:
    """Values of consecutive designs under one heading, and what they are; unit "" for texts and plain numbers."""

    name: str
    unit: str
    values: Sequence[Any] | Array
    words: str = ""

    @property
    def cells(self) -> Sequence[Any]:
        """The values as plain Python has them."""
        return self.values.tolist() if isinstance(self.values, np.ndarray) else self.values


def hold_time_name(limit: float, scale: Scale) -> str:
    """Return the heading of the time to a limit.

    Examples
    --------
    >>> hold_time_name(333.15, Scale.CELSIUS)
    'hold_time_60C'
    """
    return f"hold_time_{scale.number(limit):.6g}{scale.value}"


def unit_name(axis: Axis) -> str:
    """Return the unit of an axis as standards for data files spell it."""
    if axis.dimension is None:
        return ""
    return _UNITS.get(axis.dimension, {}).get(axis.unit, axis.unit or "1")


def columns(sweep: Sweep, start: int, results: Results, scale: Scale) -> list[ResultColumn]:
    """Return the columns of consecutive designs from `start` on."""
    count = len(results.outcome)
    rows = sweep.plan.rows(start, start + count)
    found = [ResultColumn("design", "", range(start, start + count))]
    if rows.varied is not None:
        paths = [axis.path for axis in sweep.plan.axes]
        found.append(ResultColumn("varied", "", [paths[k] if k >= 0 else "" for k in rows.varied]))
    for axis in sweep.plan.axes:
        values = rows.values[axis.path]
        if axis.is_number:
            found.append(ResultColumn(axis.path, unit_name(axis), axis.shown(values)))
        elif axis.is_count and (values >= 0.0).all():
            found.append(ResultColumn(axis.path, "", [int(axis.text(value)) for value in values]))
        else:
            found.append(ResultColumn(axis.path, "", [axis.text(value) for value in values]))
    for limit, times in zip(sweep.limits, results.hold_times, strict=True):
        found.append(ResultColumn(hold_time_name(limit, scale), "s", times))
    for end in (LOW, HIGH):
        for limit, times in zip(sweep.limits, results.more.get(end, ()), strict=False):
            found.append(ResultColumn(f"{end}_{hold_time_name(limit, scale)}", "s", times))
    found += [*_heat_columns(results), *_measure_columns(sweep, start, start + count)]
    names = {int(outcome): outcome.name.lower() for outcome in Outcome}
    found.append(ResultColumn("outcome", "", [names[number] for number in results.outcome.tolist()]))
    found.append(ResultColumn("reason", "", [results.reasons[k] if k >= 0 else "" for k in results.reason.tolist()]))
    return found


def _heat_columns(results: Results) -> list[ResultColumn]:
    """Return the heat loss coefficient and its paths, if they were asked for."""
    if PATHS_OF not in results.more:
        return []
    paths = results.more[PATHS_OF]
    words = "heat loss coefficient halfway between start and last limit"
    return [
        ResultColumn("heat_loss_coefficient", "W/K", sum_of_rows(paths), words),
        *(
            ResultColumn(f"heat_path_{name}", "W/K", values, f"share of it by the {name.replace('_', ' ')}")
            for name, values in zip(PATHS, paths, strict=True)
        ),
    ]


def _measure_columns(sweep: Sweep, start: int, stop: int) -> list[ResultColumn]:
    """Return what designs by number measure, NaN for those that make no container."""
    measures = {name: MEASURES[name] for name in _MEASURED}
    parts = []
    for low, high in pairwise([*range(start, stop, MEASURED_AT_ONCE), stop]):
        table = table_of(sweep.plan.axes, sweep.plan.rows(low, high))
        parts.append(measured(lots(sweep.container, sweep.scenario, table), measures, high - low))
    return [
        ResultColumn(column, unit, np.concatenate([part[name] for part in parts]), measures[name].label)
        for name, (column, unit) in _MEASURED.items()
    ]


def stretches(journal: Journal, size: int = ROW_GROUP) -> Iterator[tuple[int, Results]]:
    """Yield first design and results of stretches of a fixed size, the last one shorter."""
    start, held, waiting = 0, 0, []
    for _, piece in journal.pieces():
        waiting.append(piece)
        held += len(piece.outcome)
        while held >= size:
            together = joined(waiting)
            yield start, together.part(0, size)
            waiting, held, start = [together.part(size, held)], held - size, start + size
    if held:
        yield start, joined(waiting)


# --- the formats ----------------------------------------------------------------------------------------------


def _write_csv(sweep: Sweep, journal: Journal, summary: Summary, path: Path, scale: Scale) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        facts = document(sweep, summary, scale)
        made = f"holdtime {facts['version']}; {sweep.plan.sampling.value}, seed {sweep.plan.seed}"
        file.write(csv_text([], comments=[made, json_comment(facts)]))
        for start, results in stretches(journal):
            found = columns(sweep, start, results, scale)
            if not start:
                file.write(csv_text([[f"{c.name} [{c.unit}]" if c.unit else c.name for c in found]]))
            file.write(csv_text(zip(*(column.cells for column in found), strict=True)))


def _write_parquet(sweep: Sweep, journal: Journal, summary: Summary, path: Path, scale: Scale) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    facts = {"holdtime": json.dumps(document(sweep, summary, scale), ensure_ascii=False)}
    is_drawn = sweep.plan.sampling in (Sampling.SOBOL, Sampling.LATIN)
    writer = None
    try:
        for start, results in stretches(journal):
            found = columns(sweep, start, results, scale)
            arrays = [_arrow_array(pa, column) for column in found]
            fields = [
                pa.field(column.name, array.type, metadata={"units": column.unit} if column.unit else None)
                for column, array in zip(found, arrays, strict=True)
            ]
            schema = pa.schema(fields, metadata=facts)
            # Numbers that are drawn hardly ever repeat: a dictionary of them costs memory, and a fifth of the file.
            repeated = [c.name for c in found if not (is_drawn and isinstance(c.values, np.ndarray))]
            writer = writer or pq.ParquetWriter(path, schema, use_dictionary=repeated)
            writer.write_table(pa.Table.from_arrays(arrays, schema=schema), row_group_size=ROW_GROUP)
    finally:
        if writer is not None:
            writer.close()


def _arrow_array(pa: Any, column: ResultColumn) -> Any:
    """Return a column for Parquet; NaN is a missing value."""
    if not isinstance(column.values, np.ndarray):
        return pa.array(column.values, type=_arrow_type(pa, column), from_pandas=True)
    # By its buffers: given an array, pyarrow imports pandas, which takes more memory than all columns.
    numbers = np.ascontiguousarray(column.values, dtype=float)
    is_there = np.packbits(~np.isnan(numbers), bitorder="little")
    return pa.Array.from_buffers(pa.float64(), len(numbers), [pa.py_buffer(is_there), pa.py_buffer(numbers)])


def _arrow_type(pa: Any, column: ResultColumn) -> Any:
    if not column.unit and len(column.values) and isinstance(column.values[0], int):
        return pa.int64()
    return pa.float64() if column.unit else pa.string()


def _write_netcdf(sweep: Sweep, journal: Journal, summary: Summary, path: Path, scale: Scale) -> None:
    # Made in memory: HDF5 that runs into a full disk says so many times over, and crashes on its way out.
    path.write_bytes(dataset(sweep, journal, summary, scale).to_netcdf(engine="h5netcdf"))


def dataset(sweep: Sweep, journal: Journal, summary: Summary, scale: Scale) -> "Dataset":
    """Return the results as labelled arrays: a grid with a dimension for each axis, else one dimension "design".

    `hold_time` has besides the dimension `until`, the limit temperature; `outcome` and `reason` are numbers whose
    meaning stands in their attributes.
    """
    import xarray as xr

    results = joined([piece for _, piece in journal.pieces()])
    dims, labels = _labels(sweep)
    whole = {
        name: _shaped(sweep, values) for name, values in (("outcome", results.outcome), ("reason", results.reason))
    }
    until = [scale.number(limit) for limit in sweep.limits]
    hold_time = np.stack([_shaped(sweep, times) for times in results.hold_times])
    outcomes = {"flag_values": np.array([*map(int, Outcome)], dtype=np.int8)}
    facts = document(sweep, summary, scale)
    return xr.Dataset(
        data_vars={
            "hold_time": (("until", *dims), hold_time, {"units": "s", "long_name": "time until the limit is reached"}),
            "outcome": (
                dims,
                whole["outcome"],
                outcomes | {"flag_meanings": " ".join(outcome.name.lower() for outcome in Outcome)},
            ),
            "reason": (
                dims,
                whole["reason"],
                {
                    "long_name": "place of what is wrong in the list, -1 if nothing is",
                    "list": json.dumps(results.reasons),
                },
            ),
        }
        | {
            f"hold_time_{end}": (
                ("until", *dims),
                np.stack([_shaped(sweep, times) for times in results.more[end]]),
                {"units": "s", "long_name": f"{end} end of what nine in ten of {sweep.draws} drawn containers hold"},
            )
            for end in (LOW, HIGH)
            if end in results.more
        }
        | {
            column.name: (dims, _shaped(sweep, column.values), {"units": column.unit, "long_name": column.words})
            for column in (*_heat_columns(results), *_measure_columns(sweep, 0, sweep.plan.count))
        },
        coords=labels
        | {
            "until": (
                "until",
                until,
                {"units": _UNITS[Dimension.TEMPERATURE][scale.value], "long_name": "limit temperature of the contents"},
            )
        },
        attrs={
            "title": f"Hold times of variants of {sweep.container.name}",
            "source": f"holdtime {facts['version']}",
            "seed": sweep.plan.seed,
            "holdtime": json.dumps(facts, ensure_ascii=False),
        },
    )


def _labels(sweep: Sweep) -> tuple[tuple[str, ...], dict[str, Any]]:
    """Return the dimensions without `until`, and the coordinates of the axes."""
    plan = sweep.plan
    if plan.sampling is Sampling.GRID:
        labels = {a.identifier: (a.identifier, *_coordinate(a, a.points, sweep)) for a in plan.axes}
        return tuple(labels), labels
    rows = plan.rows(0, plan.count)
    labels = {axis.identifier: ("design", *_coordinate(axis, rows.values[axis.path], sweep)) for axis in plan.axes}
    if rows.varied is not None:
        paths = np.array([*(axis.path for axis in plan.axes), ""], dtype=object)
        labels["varied"] = ("design", paths[rows.varied], {"long_name": "path that is varied, empty for the design"})
    return ("design",), {"design": ("design", np.arange(plan.count), {}), **labels}


def _coordinate(axis: Axis, values: Array, sweep: Sweep) -> tuple[Any, dict[str, str]]:
    noun, _ = dimension_words(axis.path, sweep.container)
    facts = {"long_name": noun if axis.is_number else axis.path.replace(".", " ").replace("_", " "), "path": axis.path}
    if axis.is_number:
        return axis.shown(values), facts | {"units": unit_name(axis)}
    if axis.is_count and (values >= 0.0).all():
        return np.array([int(axis.text(value)) for value in values]), facts | {"units": "1"}
    return np.array([axis.text(value) for value in values], dtype=object), facts


def _shaped(sweep: Sweep, values: Any) -> Any:
    """Return values of all designs as a grid in the order of its axes; a sample stays as it is."""
    plan = sweep.plan
    if plan.sampling is not Sampling.GRID:
        return values
    order = [plan.nested.index(axis) for axis in plan.axes]
    return np.transpose(values.reshape(plan.shape), order)
