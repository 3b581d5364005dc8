"""Decide: rank, why, elsewhere, claims, what to test next; each by the command of the same name, in the background."""

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from geometries.errors import InputError
from geometries.files import write_bytes
from thermal_model.bench.write.new_bench import copy_with_designs
from thermal_model.judge.scenario_library import library_names
from thermal_model.words.numbers import duration_text
from thermal_model.workbench.jobs import Job, Stage
from thermal_model.workbench.place import HERE, Place, has_readings
from thermal_model.workbench.views import Form, needed, page, state_of, with_form

Arguments = Callable[[Path], Sequence[str]]

CONDITIONS = ("start", "room", "fill", "ice", "contents")

FIELDS = {
    "start": "Poured in at",
    "room": "Room",
    "until": "Until it is at",
    "fill": "How much",
    "ice": "Ice",
    "contents": "Contents",
}
"""What the page calls a condition."""

_OPTIONS = FIELDS | {"above": FIELDS["until"], "below": FIELDS["until"], "claim": "Claim"}


def in_fields(line: str) -> str:
    """Return a line of a command with its options by the names of the page's fields.

    Examples
    --------
    >>> in_fields("--claim: does not say above which temperature (--above 60C)")
    'Claim: does not say above which temperature (Until it is at 60C)'
    """
    return re.sub(r"--([a-z-]+)", lambda found: _OPTIONS.get(found[1], found[0]), line)


def blocks(text: str) -> list[tuple[str, bool]]:
    r"""Return the paragraphs of a command's answer, and whether each is a table, whose lines are not to be wrapped.

    Examples
    --------
    >>> blocks("Wanted: how long it stays hot.\n\n  cup   9 min\n  flask 7 h")
    [('Wanted: how long it stays hot.', False), ('  cup   9 min\n  flask 7 h', True)]
    """
    return [(block, re.search(r"\S {2,}\S", block) is not None) for block in re.split(r"\n{2,}", text.strip("\n"))]


def decide(request: Request) -> Response:
    """Show what can be asked, and what was."""
    place, query = state_of(request).place, request.query_params
    given = {
        "title": "Decide",
        "jobs": [_shown(job) for job in state_of(request).jobs.all()],
        "asked": {name: query.get(name, "") for name in ("bench", "first", "second")},
        "containers": place.containers(),
        "benches": [(place.bench_name(folder), folder.name) for folder in place.benches()],
        "read": [place.bench_name(folder) for folder in place.benches() if has_readings(folder)],
        "calibrated": [name for name, path in _calibrations(place).items() if path.is_file()],
        "fields": FIELDS,
        "scenarios": [(name, name.replace("_", " ")) for name in library_names()],
    }
    return page(request, "decide.html", given)


def _calibrations(place: Place) -> dict[str, Path]:
    """Return where the calibration of each bench is kept: in the folder, beside the benches."""
    return {place.bench_name(folder): place.folder / f"{folder.name}.calibration.json" for folder in place.benches()}


def ask(request: Request, form: Form) -> Response:
    """Start the command that answers a question."""
    state, kind = state_of(request), form.get("kind", "")
    if kind not in _QUESTIONS:
        raise InputError(f"must be one of {', '.join(_QUESTIONS)}", "kind", kind)
    title, arguments = _QUESTIONS[kind](form, state.place)
    finish = _keeper(form, state.place) if kind == "calibrate" else None
    job = state.jobs.start(title, arguments, state.place.folder, finish)
    return RedirectResponse(f"/decide/{job.key}", 303)


# --- questions as commands ------------------------------------------------------------------------------------


def _design(form: Form, name: str, place: Place) -> str:
    design = place.design(needed(form, name))
    return f"./{design.path.name}"


def _given(form: Form, names: Sequence[str]) -> list[str]:
    """Return options that have an answer; one text each, so that no answer is taken for an option."""
    return [f"--{name.replace('_', '-')}={form[name].strip()}" for name in names if form.get(name, "").strip()]


def _known(form: Form, place: Place) -> list[str]:
    name = form.get("calibration", "")
    if not name:
        return []
    path = _calibrations(place).get(name)
    if path is None or not path.is_file():
        raise InputError("let the readings correct the model first", "calibration", name)
    return [f"--calibration={path.name}"]


def _bench(form: Form, place: Place) -> str:
    return _argument(place, place.bench(needed(form, "bench")))


def _argument(place: Place, bench: Path) -> str:
    return "." if place.bench_name(bench) == HERE else f"./{bench.name}"


def _calibrate(form: Form, place: Place) -> tuple[str, Arguments]:
    bench = _bench(form, place)
    sample = ["--sample"] if form.get("sample") else []
    return "What the readings say", lambda out: [
        "calibrate",
        bench,
        *sample,
        f"--output={out}/calibration.json",
        f"--plot={out}/readings.svg",
    ]


def _keeper(form: Form, place: Place) -> Callable[[Path], None]:
    path = _calibrations(place)[needed(form, "bench")]

    def keep(outputs: Path) -> None:
        with place.lock:
            write_bytes(path, (outputs / "calibration.json").read_bytes(), is_own=True)

    return keep


def _rank(form: Form, place: Place) -> tuple[str, Arguments]:
    benches = [_argument(place, folder) for folder in place.benches() if form.get(f"bench-{place.bench_name(folder)}")]
    chosen = [f"./{one.path.name}" for one in place.designs() if form.get(f"container-{one.name}")]
    if not benches and len(chosen) < 2:
        raise InputError("choose at least two containers, or a bench", "containers")
    # Readings of a bench in the ranking count by themselves; those of another only where no bench is in it.
    what = [*benches, *chosen] if benches else [*chosen, *_known(form, place)]
    options = _given(form, (*CONDITIONS, "until"))
    no_cold = [] if form.get("cold") else ["--no-cold"]
    return "Ranking", lambda out: ["compare", *what, *options, *no_cold, *_files(out, "ranking")]


def _why(form: Form, place: Place) -> tuple[str, Arguments]:
    pair = [_design(form, "first", place), _design(form, "second", place)]
    if pair[0] == pair[1]:
        raise InputError("choose two different containers", "second", form["second"])
    options = [*_given(form, (*CONDITIONS, "until")), *_known(form, place)]
    title = f"{form['first']} against {form['second']}"
    return title, lambda out: ["explain", *pair, *options, *_files(out, "why")]


def _elsewhere(form: Form, place: Place) -> tuple[str, Arguments]:
    design = _design(form, "first", place)
    to = form.get("to", "")
    chosen = [f"--to={to}"] if to in library_names() else []
    options = [*_given(form, CONDITIONS), *chosen, *_known(form, place)]
    return f"{form['first']} elsewhere", lambda out: ["carry", design, *options, *_files(out, "elsewhere")]


def _claim(form: Form, place: Place) -> tuple[str, Arguments]:
    design = _design(form, "first", place)
    claim = needed(form, "claim")
    side = "below" if "cold" in claim.lower() else "above"
    limit = _given({side: form.get("until", "")}, [side])
    options = [*_given(form, CONDITIONS), *limit, *_known(form, place)]
    if form.get("run"):
        options += [f"--readings={_bench(form, place)}", f"--run={form['run'].strip()}"]
    return f"Claim: {claim}", lambda out: ["check", design, f"--claim={claim}", *options, f"--output={out}/claim.json"]


def _next(form: Form, place: Place) -> tuple[str, Arguments]:
    design = _design(form, "first", place)
    options = [*_given(form, (*CONDITIONS, "until")), *_known(form, place)]
    title = f"What to test next with {form['first']}"
    return title, lambda out: ["plan", "next", design, *options, f"--output={out}/next.json"]


def _files(out: Path, name: str) -> list[str]:
    return [f"--plot={out}/{name}.svg", f"--output={out}/{name}.json"]


def _page(form: Form, place: Place) -> tuple[str, Arguments]:
    bench = _bench(form, place)
    options = [*_given(form, ("start", "room", "fill", "contents", "until")), *_known(form, place)]
    return "A page to publish", lambda out: ["report", bench, *options, f"--output={out}/page.html"]


def _bundle(form: Form, place: Place) -> tuple[str, Arguments]:
    folder = place.bench(needed(form, "bench"))
    options = _given(form, (*CONDITIONS, "until"))

    def arguments(out: Path) -> list[str]:
        # Designs stand beside the bench in this folder; a bundle wants them within.
        packed = out.parent / f"{out.name}-bench" / folder.name
        with place.lock:
            copy_with_designs(folder, packed)
        return ["bundle", str(packed), *options, f"--output={out}/{folder.name}.zip"]

    return "A bundle to make again", arguments


def _drawing(form: Form, place: Place) -> tuple[str, Arguments]:
    design = _design(form, "first", place)
    return f"{form['first']}, drawn", lambda out: ["designs", "show", design, f"--plot={out}/drawing.svg"]


_QUESTIONS: dict[str, Callable[[Form, Place], tuple[str, Arguments]]] = {
    "calibrate": _calibrate,
    "rank": _rank,
    "why": _why,
    "elsewhere": _elsewhere,
    "claim": _claim,
    "next": _next,
    "page": _page,
    "bundle": _bundle,
    "drawing": _drawing,
}


# --- answers --------------------------------------------------------------------------------------------------


def answer(request: Request) -> Response:
    """Show an answer, or how far the work is."""
    return page(request, "answer.html", {"title": _job(request).title, "job": _shown(_job(request))})


def state(request: Request) -> Response:
    """Tell how far a job is."""
    return JSONResponse(_shown(_job(request)))


def stop(request: Request) -> Response:
    """Stop a job."""
    job = _job(request)
    state_of(request).jobs.stop(job)
    return RedirectResponse(f"/decide/{job.key}", 303)


_KINDS = {".svg": "image/svg+xml", ".json": "application/json", ".html": "text/html"}


def file(request: Request) -> Response:
    """Give a file that a job has written."""
    job, name = _job(request), request.path_params["name"]
    if name not in job.files or job.stage is not Stage.DONE:
        raise InputError("there is no such file", "file", name)
    kind = _KINDS.get(Path(name).suffix, "application/octet-stream")
    # What is no picture is kept, never shown here: it is not this page's own.
    is_kept = "keep" in request.query_params or kind != _KINDS[".svg"]
    headers = {"content-disposition": f'attachment; filename="{name}"'} if is_kept else {}
    return FileResponse(job.outputs / name, media_type=kind, headers=headers)


def _job(request: Request) -> Job:
    found = state_of(request).jobs.get(request.path_params["key"])
    if found is None:
        raise InputError("this answer is not kept any more; ask again")
    return found


def _shown(job: Job) -> dict[str, Any]:
    left = job.seconds_left
    files = job.files if job.stage is Stage.DONE else []
    return {
        "key": job.key,
        "title": job.title,
        "stage": str(job.stage),
        "share": round(job.share, 3),
        "left": "" if left is None else f"about {duration_text(max(left, 1.0), 1.0)} left",
        "text": job.text if job.stage is Stage.DONE else "",
        "problems": [in_fields(line) for line in job.problems],
        "blocks": blocks(job.text),
        "command": job.command,
        "files": files,
        "picture": next((name for name in files if name.endswith(".svg")), ""),
    }


ROUTES = [
    Route("/decide", decide, methods=["GET"]),
    Route("/decide", with_form(ask), methods=["POST"]),
    Route("/decide/{key}", answer, methods=["GET"]),
    Route("/decide/{key}/state", state, methods=["GET"]),
    Route("/decide/{key}/stop", stop, methods=["POST"]),
    Route("/decide/{key}/files/{name}", file, methods=["GET"]),
]
