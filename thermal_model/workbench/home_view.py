"""The first page: what is in the folder."""

from pathlib import Path
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from geometries.container import brim_capacity
from geometries.errors import InputError
from thermal_model.bench.columns import File
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.rows import rows_of
from thermal_model.workbench.drafts import drafts
from thermal_model.workbench.place import Design, Place
from thermal_model.workbench.views import page, state_of


def let_phone_in(request: Request) -> Response:
    """Show a link for a phone, once, as letters and as a QR code."""
    import segno

    state = state_of(request)
    if not state.phone:
        raise InputError("nothing listens on the network; start it with: holdtime open --phone")
    link = f"http://{state.phone}/phone/{state.keys.new_once()}"
    code = Markup(segno.make(link).svg_inline(scale=6, border=4))
    return page(request, "phone.html", {"title": "A phone in the kitchen", "link": link, "code": code})


def home(request: Request) -> Response:
    """List containers and benches."""
    state = state_of(request)
    given = {
        "title": "Your folder",
        "phone": state.phone,
        "designs": [_row(design) for design in state.place.designs()],
        "drafts": drafts(state.place.folder),
        "benches": [_bench_row(state.place, folder) for folder in state.place.benches()],
    }
    return page(request, "home.html", given)


def _row(design: Design) -> dict[str, Any]:
    container = design.container
    if container is None:
        return {"name": design.name, "line": "can't be read", "problems": design.problems}
    mouth = f"mouth {2000.0 * float(container.body.mouth_radius):.3g} mm"
    unknown = f", {len(container.unsure)} not measured" if container.unsure else ""
    line = f"{float(brim_capacity(container)) * 1e6:.0f} mL to the brim, {mouth}{unknown}"
    return {"name": design.name, "line": line, "problems": ()}


def _bench_row(place: Place, folder: Path) -> dict[str, Any]:
    shown = {"name": place.bench_name(folder), "shown": folder.name, "problems": ()}
    try:
        bench = read_bench(folder, needs_readings=False)
    except InputError as error:
        if not rows_of(folder / File.RUNS):
            return shown | {"line": "no runs yet"}
        return shown | {"line": "needs mending", "problems": error.problems[:5]}
    readings = sum(len(run.readings) + len(run.passings) for run in bench.runs)
    counts = {"container": len(bench.containers), "run": len(bench.runs), "reading": readings}
    return shown | {"line": ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for word, count in counts.items())}
