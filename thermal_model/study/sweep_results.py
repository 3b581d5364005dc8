"""The results of an earlier sweep, read back from its file: to draw them again, not to compute them again."""

import csv
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from geometries.container import Container
from geometries.errors import InputError
from geometries.files import read_text
from geometries.validation import validated
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome
from thermal_model.study.axes import axis_of
from thermal_model.study.journal import Results
from thermal_model.study.sampling import Plan
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import Sweep
from thermal_model.unknowns import Unknowns
from thermal_model.words.numbers import Scale

LARGEST = 400_000_000
"""Largest file read [bytes]."""


def read_results(path: Path, sweep: Sweep) -> Results:
    """Return the results of all designs of a sweep from the file that it wrote.

    Parameters
    ----------
    path : Path
    sweep : Sweep
        The same, as it is asked now.

    Raises
    ------
    InputError
        If the file can't be read, is no result of a sweep, or that of another one.
    """
    facts, columns = _read(path)
    _refuse_another(facts.get("inputs"), sweep, path)
    if path.suffix.lower() == ".nc":
        return _of_arrays(columns, sweep, path)
    times = [column for name, column in columns.items() if name.startswith("hold_time_")]  # not low_hold_time_
    try:
        hold_times = np.array([[np.nan if cell in ("", None) else float(cell) for cell in one] for one in times])
        outcome = np.array([Outcome[str(word).upper()] for word in columns["outcome"]], dtype=np.int8)
        told = [str(text or "") for text in columns["reason"]]
    except (KeyError, ValueError) as error:
        raise _damaged(path, f"{error}") from None
    reasons = tuple(dict.fromkeys(filter(None, told)))
    places = np.array([reasons.index(text) if text else -1 for text in told], dtype=np.int32)
    if hold_times.shape != (len(sweep.limits), sweep.plan.count) or len(outcome) != sweep.plan.count:
        raise _damaged(path, f"{len(outcome)} designs, the sweep has {sweep.plan.count}")
    return Results(hold_times, outcome, places, reasons)


def read_sweep(path: Path) -> tuple[Sweep, Results, Scale]:
    """Return a sweep, its results, and the scale of its limits, from the file alone.

    Raises
    ------
    InputError
        If the file can't be read, or is no result of a sweep.
    """
    facts, _ = _read(path)
    inputs = facts.get("inputs")
    if not isinstance(inputs, dict):
        raise _damaged(path, "it does not say what made it")
    try:
        container = validated(Container, inputs["design"], needs_unit=False)
        scenario = validated(Scenario, inputs["scenario"], needs_unit=False)
        axes = [axis_of(name, document, container, scenario) for name, document in inputs["vary"].items()]
        plan = Plan(tuple(axes), Sampling(inputs["sampling"]), int(inputs["designs"]), int(inputs["seed"]))
        unknowns = Unknowns(**inputs["unknowns"])
        horizon, is_quick = float(inputs["horizon_s"]), "accuracy" in inputs
        sweep = Sweep(container, scenario, tuple(inputs["until_K"]), plan, horizon, unknowns, is_quick=is_quick)
        scale = Scale(facts.get("scale", Scale.CELSIUS.value))
    except (KeyError, ValueError, TypeError, AttributeError) as error:
        raise _damaged(path, f"{error}") from None
    return sweep, read_results(path, sweep), scale


def _read(path: Path) -> tuple[dict[str, Any], Any]:
    """Return what made a file, and its columns by name, or its arrays."""
    ending = path.suffix.lower()
    read: Callable[[Path], tuple[Any, Any]] = _netcdf if ending == ".nc" else _csv
    if ending == ".parquet":
        read = _parquet
    try:
        facts, found = read(path)
        return dict(facts), found
    except ImportError as error:
        raise InputError(f"needs {error.name}; install holdtime[sweep]", source=str(path)) from None
    except InputError:
        raise
    except (OSError, LookupError, ValueError, TypeError, csv.Error):
        raise _damaged(path, "it is not as holdtime sweep --output writes it") from None


def _csv(path: Path) -> tuple[Any, dict[str, Sequence[Any]]]:
    lines = read_text(path, LARGEST).splitlines()
    facts, rows = json.loads(lines[1].removeprefix("#")), list(csv.reader(lines[2:]))
    names = [cell.partition(" [")[0] for cell in rows[0]]
    return facts, dict(zip(names, zip(*rows[1:], strict=True), strict=True))


def _parquet(path: Path) -> tuple[Any, dict[str, Sequence[Any]]]:
    import pyarrow as pa
    import pyarrow.parquet as parquet

    try:
        table = parquet.read_table(path)
    except pa.ArrowException as error:
        raise ValueError(f"{error}") from None
    facts = json.loads((table.schema.metadata or {})[b"holdtime"])
    return facts, {name: table.column(name).to_pylist() for name in table.column_names}


def _netcdf(path: Path) -> tuple[Any, Any]:
    import xarray as xr

    with xr.open_dataset(path, engine="h5netcdf", decode_timedelta=False) as found:
        data = found.load()
    return json.loads(data.attrs["holdtime"]), data


def _of_arrays(data: Any, sweep: Sweep, path: Path) -> Results:
    plan = sweep.plan
    dims = [axis.identifier for axis in plan.nested] if plan.sampling is Sampling.GRID else ["design"]
    try:
        hold_times = data["hold_time"].transpose("until", *dims).values.reshape(len(sweep.limits), plan.count)
        outcome, reason = (data[name].transpose(*dims).values.reshape(plan.count) for name in ("outcome", "reason"))
        reasons = tuple(json.loads(data["reason"].attrs["list"]))
    except (KeyError, ValueError) as error:
        raise _damaged(path, f"{error}") from None
    return Results(hold_times, outcome.astype(np.int8), reason.astype(np.int32), reasons)


def _refuse_another(inputs: object, sweep: Sweep, path: Path) -> None:
    asked = json.loads(json.dumps(sweep.inputs()))
    if not isinstance(inputs, dict):
        raise _damaged(path, "it does not say what made it")
    keys = (asked.keys() | inputs.keys()) - {"version", "libraries", "heat_paths", "interval_draws", "belief"}
    other = sorted(key for key in keys if asked.get(key) != inputs.get(key))
    if other:
        message = f"holds another sweep, which differs in: {', '.join(other)}; give the command that made it"
        raise InputError(message, source=str(path))


def _damaged(path: Path, why: str) -> InputError:
    return InputError(f"can't be read as the results of a sweep: {why}", source=str(path))
