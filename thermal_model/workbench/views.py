"""What all views share: pages from templates, in which every text is escaped, and forms read within bounds."""

from collections.abc import Awaitable, Callable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from geometries.errors import InputError, printable
from thermal_model.workbench.state import State

MOST_FIELDS, LONGEST_FIELD = 400, 16_000_000
"""Of a form: fields, and characters in one (a pasted log)."""

Form = Mapping[str, str]


@lru_cache(maxsize=1)
def templates() -> Environment:
    """Return the templates; what is put into them is escaped."""
    loader = FileSystemLoader(Path(__file__).with_name("templates"))
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)


def page(request: Request, template: str, given: Mapping[str, Any], *, status: int = 200) -> HTMLResponse:
    """Return a page."""
    state = state_of(request)
    common = {"folder": printable(state.place.folder.name or "/"), "path": request.url.path}
    return HTMLResponse(templates().get_template(template).render({**common, **given}), status)


def state_of(request: Request) -> State:
    """Return the session."""
    found: State = request.app.state.workbench
    return found


def bench_folder(request: Request) -> Path:
    """Return the folder of the bench that is named in the address."""
    return state_of(request).place.bench(request.path_params["bench"])


def with_form(view: Callable[[Request, Form], Response]) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that reads a form and calls a view with its texts; what is too much is refused.

    The view runs in a thread, beside the loop that answers other requests, as Starlette runs those without a form.
    What is in the form's file, if it has one, is `request.state.file`.
    """

    async def endpoint(request: Request) -> Response:
        async with request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=LONGEST_FIELD) as form:
            texts = {key: value for key, value in form.items() if isinstance(value, str)}
            files = [value for value in form.values() if not isinstance(value, str)]
            request.state.file = await files[0].read() if files else b""
        return await run_in_threadpool(view, request, texts)

    return endpoint


def needed(form: Form, name: str) -> str:
    """Return a text of a form that must be there."""
    text = form.get(name, "").strip()
    if not text:
        raise InputError("is empty", name)
    return text
