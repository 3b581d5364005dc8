"""Bench: make one, begin a run, plan the day."""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from geometries.errors import InputError
from thermal_model.bench.columns import File
from thermal_model.bench.read.bench_file import ICE_WATER, BenchFile, read_bench_file
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.new_bench import add_to_bench, make_bench
from thermal_model.bench.write.rows import append_row, rows_of
from thermal_model.bench.write.watch import begin_run
from thermal_model.report.calendar import calendar_bytes
from thermal_model.workbench.day_plan import DayPlan, planned_day, read_plan_wish
from thermal_model.workbench.live import read_temperature
from thermal_model.workbench.place import Place, new_name
from thermal_model.workbench.run_check import check_new_run
from thermal_model.workbench.views import Form, bench_folder, needed, page, state_of, with_form


def new(request: Request) -> Response:
    """Ask for the name, containers and thermometer of a new bench."""
    names = state_of(request).place.containers()
    return page(request, "new_bench.html", {"title": "New bench", "containers": names})


def make(request: Request, form: Form) -> Response:
    """Make a bench folder."""
    place, name = state_of(request).place, new_name(form.get("name", ""))
    chosen = _chosen(place, form)
    if not chosen:
        raise InputError("choose at least one; describe it first if it is not there", "containers")
    with place.lock:
        make_bench(place.folder / name, {each: f"../{each}.toml" for each in chosen}, _probe(form))
    return RedirectResponse(f"/benches/{name}", 303)


def _chosen(place: Place, form: Form) -> list[str]:
    return [design.name for design in place.designs() if form.get(f"container-{design.name}")]


def _probe(form: Form) -> dict[str, dict[str, str]]:
    fields = {name: form.get(name, "").strip() for name in ("resolution", "offset_spread", "noise", "unit")}
    return {new_name(form.get("probe", "") or "pen"): {name: text for name, text in fields.items() if text}}


def show(request: Request) -> Response:
    """Show a bench: its runs, what was taken for granted, what looks wrong."""
    place, folder = state_of(request).place, bench_folder(request)
    name = place.bench_name(folder)
    given: dict[str, Any] = {"title": folder.name, "bench": name, "problems": (), "notes": (), "warnings": ()}
    given |= {"containers": [], "probes": [], "checks": [], "runs": [], "missing": []}
    try:
        file = read_bench_file(folder)
    except InputError as error:
        return page(request, "bench.html", given | {"problems": error.problems})
    given |= {"containers": list(file.containers), "probes": list(file.probes)}
    given["missing"] = [name for name in place.containers() if name not in file.containers]
    given["checks"] = [" and ".join(_check_words(row)) for _, row in rows_of(folder / File.PROBE_CHECKS)]
    given["runs"] = list(reversed(_runs(folder)))
    given["next"] = f"run_{len(given['runs']) + 1}"
    if given["runs"]:
        try:
            bench = read_bench(folder, needs_readings=False)
            given |= {"notes": bench.assumptions, "warnings": bench.warnings}
        except InputError as error:
            given["problems"] = error.problems
    return page(request, "bench.html", given)


def _check_words(row: Mapping[str, str]) -> list[str]:
    return [f"{row.get(f'{which} probe', '')} {row.get(f'{which} temperature', '')}" for which in ("first", "second")]


def _runs(folder: Path) -> list[dict[str, str]]:
    looks: dict[str, int] = {}
    for file in (File.READINGS, File.PASSINGS):
        for _, row in rows_of(folder / file):
            looks[row.get("run", "")] = looks.get(row.get("run", ""), 0) + 1
    shown = []
    for _, row in rows_of(folder / File.RUNS):
        run = row.get("run", "").strip()
        has_log = bool(run) and Path(run).name == run and (folder / f"{run}.csv").is_file()
        told = f"{looks.get(run, 0)} taps" + (" and a logger's file" if has_log else "")
        shown.append({"run": run, "container": row.get("container", ""), "date": row.get("date", ""), "told": told})
    return shown


def add(request: Request, form: Form) -> Response:
    """Add containers of the folder to a bench."""
    place, folder = state_of(request).place, bench_folder(request)
    up = "" if folder == place.folder else "../"
    with place.lock:
        probes = _probe(form) if form.get("probe") else {}
        add_to_bench(folder, {each: f"{up}{each}.toml" for each in _chosen(place, form)}, probes)
    return RedirectResponse(f"/benches/{place.bench_name(folder)}", 303)


def side_by_side(request: Request, form: Form) -> Response:
    """Keep what two thermometers showed in one cup, or one in ice water."""
    place, folder = state_of(request).place, bench_folder(request)
    probes = read_bench_file(folder).probes
    first, second = needed(form, "first"), needed(form, "second")
    if first not in probes or second not in (*probes, ICE_WATER) or first == second:
        raise InputError("choose two different ones", "thermometers")
    shown = {"first temperature": form.get("first_shown", ""), "second temperature": form.get("second_shown", "")}
    if second == ICE_WATER:
        shown["second temperature"] = shown["second temperature"].strip() or "0 C"
    for name, text in shown.items():
        read_temperature(text, name)
    with place.lock:
        append_row(folder / File.PROBE_CHECKS, {"first probe": first, "second probe": second, **shown})
    return RedirectResponse(f"/benches/{place.bench_name(folder)}", 303)


_ASKED = ("contents", "fill", "ice", "poured_at", "room")


def begin(request: Request, form: Form) -> Response:
    """Begin a run: its contents go in now."""
    place, folder = state_of(request).place, bench_folder(request)
    run = new_name(form.get("run", ""))
    cells = {"run": run, "container": needed(form, "container"), "probe": form.get("probe", "")}
    cells |= {name.replace("_", " "): form.get(name, "").strip() for name in _ASKED}
    with place.lock:
        check_new_run(read_bench_file(folder), cells)
        begin_run(folder, {name: text for name, text in cells.items() if text}, datetime.now())
    return RedirectResponse(f"/benches/{place.bench_name(folder)}/runs/{run}", 303)


# --- the day --------------------------------------------------------------------------------------------------


def plan(request: Request) -> Response:
    """Plan runs: how long, how long to soak, who stands when beside which thermometer."""
    folder = bench_folder(request)
    bench, asked = read_bench_file(folder), _asked(request.query_params)
    name = state_of(request).place.bench_name(folder)
    given: dict[str, Any] = {"title": "Plan the day", "bench": name, "plan": None, "problems": ()}
    given |= {"asked": asked, "query": request.url.query, "containers": list(bench.containers)}
    if request.query_params:
        try:
            given["plan"] = _plan(bench, asked)
        except InputError as error:
            given["problems"] = error.problems
    return page(request, "plan.html", given)


def _asked(query: Mapping[str, str]) -> dict[str, str]:
    usual = {
        "start": "90 C",
        "room": "20 C",
        "until": "60 C",
        "fill": "",
        "repeats": "1",
        "day": f"{datetime.now():%Y-%m-%d}",
        "first": "08:00",
        "last": "22:00",
        "night": "",
    }
    return {name: query.get(name, value).strip() if query else value for name, value in usual.items()}


def _plan(bench: BenchFile, asked: Mapping[str, str]) -> DayPlan:
    return planned_day(bench.containers, list(bench.probes), read_plan_wish(asked))


def calendar(request: Request) -> Response:
    """Give the plan as a calendar file."""
    found = _plan(read_bench_file(bench_folder(request)), _asked(request.query_params))
    data = calendar_bytes(found.schedule, found.wish.day, found.wish.first, found.length, found.pace)
    headers = {"content-disposition": 'attachment; filename="runs.ics"'}
    return Response(data, media_type="text/calendar", headers=headers)


ROUTES = [
    Route("/benches/new", new, methods=["GET"]),
    Route("/benches/new", with_form(make), methods=["POST"]),
    Route("/benches/{bench}", show, methods=["GET"]),
    Route("/benches/{bench}/add", with_form(add), methods=["POST"]),
    Route("/benches/{bench}/runs", with_form(begin), methods=["POST"]),
    Route("/benches/{bench}/side-by-side", with_form(side_by_side), methods=["POST"]),
    Route("/benches/{bench}/plan", plan, methods=["GET"]),
    Route("/benches/{bench}/plan.ics", calendar, methods=["GET"]),
]
