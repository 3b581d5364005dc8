"""The page as an ASGI application: which address leads to which view."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from geometries.errors import InputError
from thermal_model.workbench import bench_views, decide_views, describe_views, watch_views
from thermal_model.workbench.guard import TOO_LARGE, Guard, Keys, TooLargeError
from thermal_model.workbench.home_view import home, let_phone_in
from thermal_model.workbench.place import Place
from thermal_model.workbench.state import State
from thermal_model.workbench.views import page
from thermal_model.workbench.warm import warm_up

HERE = Path(__file__).parent
CHARTS = HERE.parent / "report" / "assets"

ASSETS = {
    "workbench.css": (HERE / "static", "text/css"),
    "describe.js": (HERE / "static", "text/javascript"),
    "answer.js": (HERE / "static", "text/javascript"),
    "watch.js": (HERE / "static", "text/javascript"),
    "chart.js": (HERE / "static", "text/javascript"),
    "d3.min.js": (CHARTS, "text/javascript"),
    "plot.min.js": (CHARTS, "text/javascript"),
}
"""All files that are given: no name but these leads to a file."""


def application(
    folder: Path, keys: Keys, hosts: set[str], *, port: int, phone: str = "", is_warm: bool = True
) -> Guard:
    """Return the page of a folder.

    Parameters
    ----------
    folder : Path
    keys : Keys
    hosts : set of str
        Under which it is reached, such as 127.0.0.1:8080.
    port : int
    phone : str
        Address on the local network, "" if it is not reached from there.
    is_warm : bool
        Load the compiled kernel in the background.
    """
    state = State(Place(folder), keys, f"holdtime_{port}", phone)

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        if is_warm:
            warm_up()
        yield
        state.jobs.stop_all()

    app = Starlette(
        routes=[
            Route("/enter", enter),
            Route("/phone/{key}", enter_by_phone),
            Route("/", home),
            Route("/let-phone-in", let_phone_in, methods=["POST"]),
            Route("/assets/{name}", asset),
            *describe_views.ROUTES,
            *bench_views.ROUTES,
            *watch_views.ROUTES,
            *decide_views.ROUTES,
        ],
        lifespan=lifespan,
        exception_handlers={InputError: refused, TooLargeError: too_large, 404: not_there, 500: broken},
    )
    app.state.workbench = state
    return Guard(app, keys, hosts, state.cookie_name)


async def enter(request: Request) -> Response:
    """Take the link's secret, and give the cookie for it."""
    state: State = request.app.state.workbench
    if not state.keys.opens(request.query_params.get("key", "")):
        return PlainTextResponse("This link is of another session; take the one that holdtime open printed.\n", 403)
    return _with_cookie(state)


async def enter_by_phone(request: Request) -> Response:
    """Take the secret of a link that works once."""
    state: State = request.app.state.workbench
    if not state.keys.spend(request.path_params["key"]):
        return PlainTextResponse("This link was used already, or is of another session; ask for a new one.\n", 403)
    return _with_cookie(state)


def _with_cookie(state: State) -> Response:
    response = RedirectResponse("/", 303)
    response.set_cookie(state.cookie_name, state.keys.cookie, httponly=True, samesite="strict", path="/")
    return response


def asset(request: Request) -> Response:
    """Give one of the page's own files."""
    name = request.path_params["name"]
    if name not in ASSETS:
        raise HTTPException(404)
    folder, kind = ASSETS[name]
    return FileResponse(folder / name, media_type=kind)


def refused(request: Request, error: Exception) -> Response:
    """Say what is wrong with an input."""
    assert isinstance(error, InputError)
    lines = [str(problem) for problem in error.problems][:20]
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"lines": lines}, 422)
    return page(request, "problem.html", {"title": "Not done", "lines": lines}, status=422)


def too_large(_: Request, __: Exception) -> Response:
    """Refuse a body that is larger than it said."""
    return PlainTextResponse(f"{TOO_LARGE}\n", 413)


def not_there(request: Request, _: Exception) -> HTMLResponse:
    """Say that there is nothing at an address."""
    lines = ["There is nothing at this address; go back to the folder."]
    return page(request, "problem.html", {"title": "Not there", "lines": lines}, status=404)


def broken(request: Request, error: Exception) -> HTMLResponse:
    """Say that the fault is ours."""
    lines = [f"A fault in holdtime, nothing was written: {type(error).__name__}. Please report what you did."]
    return page(request, "problem.html", {"title": "Something broke", "lines": lines}, status=500)
