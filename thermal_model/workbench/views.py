"""What all views share: pages from templates, in which every text is escaped, and forms read within bounds."""

from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse

from geometries.errors import InputError, printable
from thermal_model.workbench.state import State

Found = TypeVar("Found")

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


async def form_of(request: Request) -> dict[str, str]:
    """Return the texts of a form; what is too much is refused."""
    return (await texts_and_file(request))[0]


async def texts_and_file(request: Request) -> tuple[dict[str, str], bytes]:
    """Return the texts of a form, and what is in its file, if it has one; what is too much is refused."""
    async with request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=LONGEST_FIELD) as form:
        texts = {key: value for key, value in form.items() if isinstance(value, str)}
        files = [value for value in form.values() if not isinstance(value, str)]
        return texts, await files[0].read() if files else b""


async def in_thread(work: Callable[..., Found], *given: Any) -> Found:
    """Do what takes time beside the loop that answers other requests."""
    return await run_in_threadpool(work, *given)


def needed(form: Form, name: str) -> str:
    """Return a text of a form that must be there."""
    text = form.get(name, "").strip()
    if not text:
        raise InputError("is empty", name)
    return text
