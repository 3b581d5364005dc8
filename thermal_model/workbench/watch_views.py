"""Watching a run: a stopwatch whose taps are on disk at once, files of loggers, and what is to come."""

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from geometries.constants import ZERO_CELSIUS
from geometries.errors import InputError, InputProblem
from geometries.files import write_rules, write_text
from geometries.quantities import Dimension, parse_quantity
from thermal_model.bench.columns import File
from thermal_model.bench.read.bench_file import read_bench_file
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.read.logger_file import (
    LoggerChoice,
    LoggerTable,
    TimeForm,
    decoded,
    likely_choice,
    read_logger,
    readings,
)
from thermal_model.bench.records import Run, temperature_at_start
from thermal_model.bench.write.rows import rows_of, units_of
from thermal_model.bench.write.watch import Look, Tap, beginning_of, keep, take_back
from thermal_model.follow import DEFAULT_HORIZON
from thermal_model.plan.next_look import run_ahead
from thermal_model.prediction import Curve
from thermal_model.words.cells import csv_text
from thermal_model.words.numbers import Scale, duration_text, interval_texts, scale_of
from thermal_model.workbench.live import DEFAULT_UNTIL, chart_document, read_temperature
from thermal_model.workbench.place import Place
from thermal_model.workbench.views import Form, bench_folder, page, state_of, with_form

MOST_POINTS = 300
"""Readings that a picture shows."""

WARM = 298.15
"""Contents above it count as hot where no room is given. [K]"""

_CONDITIONS = ("contents", "fill", "poured at", "room", "probe")


def watch(request: Request) -> Response:
    """Show the stopwatch of a run."""
    folder, run = bench_folder(request), request.path_params["run"]
    began, row = beginning_of(folder, run), _row(folder, run)
    is_past = began is not None and datetime.now().timestamp() - began.timestamp() > DEFAULT_HORIZON
    shown = _with_units(row, units_of(folder / File.RUNS))
    unit = "C"
    problems: tuple[InputProblem, ...] = ()
    try:
        bench = read_bench_file(folder)
        probe = row.get("probe", "") or next(iter(bench.probes))
        unit = bench.probes[probe].unit[:1].upper() or "C" if probe in bench.probes else "C"
    except InputError as error:
        problems = error.problems
    given = {
        "title": run,
        "bench": state_of(request).place.bench_name(folder),
        "run": run,
        "container": row.get("container", ""),
        "conditions": [f"{name} {shown[name]}" for name in _CONDITIONS if shown.get(name)],
        "unit": unit,
        "began": "" if began is None or is_past else str(began.timestamp()),
        "past": f"{began:%Y-%m-%d %H:%M}" if began is not None and is_past else "",
        "now": str(datetime.now().timestamp()),
        "mark": "60 C" if _is_hot(folder, run) else "10 C",
        "taps": _taps(folder, run),
        "problems": problems,
        "has_log": Path(run).name == run and (folder / f"{run}.csv").is_file(),
    }
    return page(request, "watch.html", given)


def _row(folder: Path, run: str) -> dict[str, str]:
    """Return the cells of a run that is there."""
    return next(cells for _, cells in rows_of(folder / File.RUNS) if cells.get("run", "").strip() == run)


def _is_hot(folder: Path, run: str) -> bool:
    """Tell whether contents are warmer than their room, or than 25 C if no room is given; hot if it can't be read."""
    cells = _with_units(_row(folder, run), units_of(folder / File.RUNS))

    def kelvin(name: str, otherwise: float) -> float:
        try:
            return parse_quantity(cells.get(name, "").replace(",", "."), Dimension.TEMPERATURE)
        except ValueError:
            return otherwise

    return kelvin("poured at", math.inf) > kelvin("room", WARM)


def _taps(folder: Path, run: str) -> list[str]:
    """Return what was seen of a run, as it stands in the files, the latest last."""
    found = []
    for file, told in ((File.READINGS, _reading_words), (File.PASSINGS, _passing_words)):
        units = units_of(folder / file)
        found += [told(_with_units(row, units)) for _, row in rows_of(folder / file) if row.get("run") == run]
    return found


def _with_units(row: Mapping[str, str], units: Mapping[str, str]) -> dict[str, str]:
    """Return cells with their columns' units, but for those that have their own or need none."""
    return {
        name: f"{text} {units[name]}" if units.get(name) and ":" not in text and text[-1:].isdigit() else text
        for name, text in row.items()
    }


def _reading_words(row: Mapping[str, str]) -> str:
    return f"after {row.get('time', '')}: display {row.get('temperature', '')}"


def _passing_words(row: Mapping[str, str]) -> str:
    parts = [f"{name} {row[name]}" for name in ("above at", "below at", "passed at") if row.get(name)]
    return f"mark {row.get('mark', '')}: {', '.join(parts)}"


def tap(request: Request, form: Form) -> Response:
    """Put a look on disk, and say so; one that is sent again is not written again."""
    folder, run = bench_folder(request), request.path_params["run"]
    began = beginning_of(folder, run)
    if began is None:
        raise InputError("the run's date has no time of day; write it into runs.csv", "date")
    if form.get("look") not in set(Look):
        raise InputError(f"must be one of {', '.join(Look)}", "look", form.get("look", ""))
    try:
        seconds = float(form.get("at", "")) - began.timestamp()
    except ValueError:
        raise InputError("is no time", "at", form.get("at", "")) from None
    is_hot = _is_hot(folder, run)
    with state_of(request).place.lock:
        keep(folder, Tap(run, Look(form["look"]), seconds, form.get("temperature", ""), is_hot))
        return JSONResponse({"taps": _taps(folder, run)})


def back(request: Request, form: Form) -> Response:
    """Take back the last tap of a kind."""
    look = Look.READING if form.get("look") == Look.READING else Look.PASSED
    with state_of(request).place.lock:
        take_back(bench_folder(request), request.path_params["run"], look)
    return RedirectResponse(request.url.path.removesuffix("/back"), 303)


def ahead(request: Request, form: Form) -> Response:
    """Return what is to come of a run."""
    folder = bench_folder(request)
    try:
        return JSONResponse(_ahead(folder, request.path_params["run"], form.get("mark", "")))
    except InputError as error:
        return JSONResponse({"lines": [str(problem) for problem in error.problems[:5]]})


def _ahead(folder: Path, name: str, mark: str) -> dict[str, Any]:
    bench = read_bench(folder, needs_readings=False)
    run = next((run for run in bench.runs if run.name == name), None)
    if run is None:
        raise InputError("can't be read", "run", name)
    scale = scale_of(mark)
    is_hot = temperature_at_start(run) > float(run.scenario.room)
    limit = read_temperature(mark, "mark") if mark.strip() else DEFAULT_UNTIL[is_hot]
    found = run_ahead(run, limit, display_spread=bench.probes[run.probe].offset_spread)
    curve = Curve(found.time, found.temperature, found.lower, found.upper)
    low, middle, high = interval_texts(found.low, found.middle, found.high)
    return {
        "curve": chart_document(curve, limit, scale, is_hot=is_hot),
        "points": _points(run, scale),
        "held": f"{scale.text(limit)} after {middle} (probably between {low} and {high})",
        "look": _look_words(run, found.next_look),
        "odd": "The readings lie outside of what was expected of this container." if found.likeness < 0.02 else "",
    }


def _points(run: Run, scale: Scale) -> list[dict[str, float]]:
    step = max(len(run.readings) // MOST_POINTS, 1)
    return [
        {"hour": round(reading.time / 3600.0, 4), "shown": round(scale.number(reading.temperature), 2)}
        for reading in run.readings[::step]
    ]


def _look_words(run: Run, seconds: float | None) -> str:
    if seconds is None:
        return "The mark may never be passed; a reading now and then says most."
    if run.date is not None and datetime.now().timestamp() - run.date.timestamp() > DEFAULT_HORIZON:
        return ""
    when = "" if run.date is None else f" at {datetime.fromtimestamp(run.date.timestamp() + seconds):%H:%M}"
    return f"Look next{when}, {duration_text(seconds)} after the contents went in: before that it is hardly passed."


# --- files of loggers -----------------------------------------------------------------------------------------


def logger(request: Request) -> Response:
    """Ask for a logger's file of a run."""
    return _logger_page(request, {})


def _logger_page(request: Request, given: Mapping[str, Any]) -> Response:
    run, folder = request.path_params["run"], bench_folder(request)
    began = beginning_of(folder, run)
    common = {
        "title": f"Logger's file of {run}",
        "bench": state_of(request).place.bench_name(folder),
        "run": run,
        "forms": _FORMS,
        "began": "" if began is None else began.isoformat(sep=" ", timespec="seconds"),
        "text": "",
        "table": None,
        "choice": None,
        "said": [],
        "problems": (),
    }
    return page(request, "logger.html", {**common, **given})


_FORMS = {
    TimeForm.MINUTES: "minutes since the contents went in",
    TimeForm.SECONDS: "seconds since the contents went in",
    TimeForm.HOURS: "hours since the contents went in",
    TimeForm.CLOCK: "a clock, h:mm or h:mm:ss, from 0:00 on",
    TimeForm.MOMENT: "date and time of day",
}


def read_file(request: Request, form: Form) -> Response:
    """Show what a file's columns seem to be; on a confirmation, save its readings under the run's name."""
    data = request.state.file
    text = decoded(data) if data else form.get("text", "")
    place, folder, run = state_of(request).place, bench_folder(request), request.path_params["run"]
    given: dict[str, Any] = {"text": text}
    try:
        table = read_logger(text)
        choice = _choice(table, form) if "time" in form and not data else likely_choice(table)
        given |= {"table": table, "choice": choice}
        found = _readings(table, choice, form.get("poured", "") or str(beginning_of(folder, run) or ""))
        given["said"] = _said(table, found)
        if form.get("step") == "save":
            _save_log(place, folder, run, found)
            return RedirectResponse(f"/benches/{place.bench_name(folder)}/runs/{run}", 303)
    except InputError as error:
        given["problems"] = error.problems
    return _logger_page(request, given)


def _choice(table: LoggerTable, form: Mapping[str, str]) -> LoggerChoice:
    def column(name: str) -> int:
        text = form.get(name, "")
        if not text.isdecimal() or len(text) > 4 or int(text) >= len(table.columns):
            raise InputError("choose a column", name, text)
        return int(text)

    form_text, unit = form.get("form", ""), form.get("unit", "")
    if form_text not in set(TimeForm) or unit not in ("C", "F", "K"):
        raise InputError("say how times are written, and the unit of the temperatures", "columns")
    day = column("day") if form.get("day") else None
    return LoggerChoice(column("time"), column("temperature"), day, TimeForm(form_text), unit)


def _readings(table: LoggerTable, choice: LoggerChoice, poured: str) -> list[tuple[float, float]]:
    if choice.time_form is TimeForm.MOMENT and poured.strip():
        try:
            choice = replace(choice, poured=datetime.fromisoformat(poured.strip()))
        except ValueError:
            raise InputError("write it as 2026-04-23 18:05", "poured", poured) from None
    return readings(table, choice)


def _said(table: LoggerTable, found: list[tuple[float, float]]) -> list[str]:
    """Return what a choice makes of a file, to be looked at before it counts."""
    (first, hot), (last, cold) = found[0], found[-1]
    left_out = len(table.rows) - len(found)
    lines = [
        f"{len(found)} readings, from {duration_text(first, 1.0)} to {duration_text(last)} after the contents went in.",
        f"The first shows {hot - ZERO_CELSIUS:.1f} °C, the last {cold - ZERO_CELSIUS:.1f} °C.",
    ]
    if left_out:
        rows = "1 row is" if left_out == 1 else f"{left_out} rows are"
        lines.append(f"{rows} left out: before the contents went in, or without a number.")
    return lines


def _save_log(place: Place, folder: Path, run: str, found: list[tuple[float, float]]) -> None:
    beginning_of(folder, run)
    name = f"{run}.csv"
    if Path(run).name != run or name in set(File) or run.startswith("."):
        raise InputError("is no name that a file can have; rename the run", "run", run)
    rows = [[f"{at / 60.0:.4f}", f"{kelvin - ZERO_CELSIUS:.3f}"] for at, kelvin in found]
    with place.lock, write_rules(may_replace=False):
        write_text(folder / name, csv_text([["time [min]", "temperature [C]"], *rows]))


_RUN = "/benches/{bench}/runs/{run}"

ROUTES = [
    Route(_RUN, watch, methods=["GET"]),
    Route(f"{_RUN}/tap", with_form(tap), methods=["POST"]),
    Route(f"{_RUN}/back", with_form(back), methods=["POST"]),
    Route(f"{_RUN}/ahead", with_form(ahead), methods=["POST"]),
    Route(f"{_RUN}/logger", logger, methods=["GET"]),
    Route(f"{_RUN}/logger", with_form(read_file), methods=["POST"]),
]
