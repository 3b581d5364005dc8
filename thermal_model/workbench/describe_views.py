"""Describe: questions in plain words; drawing, curve and band follow every change."""

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from geometries.answers import answers_of
from geometries.container import Container, brim_capacity
from geometries.design_file import parse_container
from geometries.errors import InputError, at_once, shortened
from geometries.files import parse_toml
from geometries.questions import (
    QUESTION,
    QUESTIONS,
    UNKNOWN,
    FormQuestion,
    asked_questions,
    container_of,
    design_text,
    doubts,
    height_doubt,
    read_answer,
)
from thermal_model.prediction import DEFAULT_DRAWS
from thermal_model.work_done import ShareDone
from thermal_model.workbench import drafts
from thermal_model.workbench.drafts import Draft
from thermal_model.workbench.live import (
    CONDITIONS,
    SupersededError,
    Wish,
    best_guess,
    read_conditions,
    why,
    with_band,
)
from thermal_model.workbench.place import ConflictError, Design, new_name
from thermal_model.workbench.question_pictures import picture
from thermal_model.workbench.state import State
from thermal_model.workbench.views import Form, page, state_of, with_form

QUICK_DRAWS = 80
"""Of the first band that is shown; the last one is what `holdtime predict` computes."""

_INCHES = re.compile(r"(\bin\b|\binch|\"|\bft\b)", re.IGNORECASE)


def new(request: Request) -> Response:
    """Show the questions for a container that is not in the folder yet."""
    kept = drafts.draft(state_of(request).place.folder, request.query_params.get("draft", ""))
    if kept is None or not drafts.is_new(kept.key):
        return _form(request, {}, "", draft=drafts.new_key())
    note = f"Not saved yet: what was typed until {kept.when}."
    return _form(request, kept.answers, "", note=note, draft=kept.key, proposed=kept.name)


def edit(request: Request) -> Response:
    """Show a container of the folder: its questions, or its text where it says more than they can ask."""
    place = state_of(request).place
    design = place.design(request.path_params["name"])
    kept = drafts.draft(place.folder, design.name)
    if kept is not None and "draft" in request.query_params:
        return _draft_form(request, design, kept)
    answers = _answers(design)
    note = f"Saved as {design.path.name}." if "saved" in request.query_params else ""
    if answers is None or "text" in request.query_params:
        return _text_form(request, design, note=note, kept=kept)
    return _form(request, answers, design.name, digest=design.digest, note=note, kept=kept)


def _draft_form(request: Request, design: Design, kept: Draft) -> Response:
    note = f"Not saved yet: what was typed until {kept.when}."
    if kept.text is not None:
        return _text_form(request, replace(design, digest=kept.digest), text=kept.text, note=note)
    return _form(request, kept.answers, design.name, digest=kept.digest, note=note)


def _answers(design: Design) -> Mapping[str, str] | None:
    return None if design.container is None else answers_of(parse_toml(design.text))


def _form(request: Request, answers: Mapping[str, str], name: str, **more: Any) -> Response:
    """Show the questions; more goes into the template."""
    given = {
        "title": name or "New container",
        "name": name,
        "digest": "",
        "note": "",
        "draft": name,
        "proposed": "",
        "kept": None,
        "questions": QUESTIONS,
        "answers": {key: text for key, text in answers.items() if text != UNKNOWN},
        "usual": _usual,
        "picture": picture,
        "others": [other for other in state_of(request).place.containers() if other != name],
    }
    return page(request, "describe.html", given | more)


def _usual(question: FormQuestion) -> str:
    """Return what an open answer means."""
    if question.choices:
        return f"taken: {question.choices.get(question.usual, question.usual)}" if question.usual else ""
    if not question.span:
        return ""
    return f"left empty: {question.span.replace('..', ' to ')}"


def _text_form(
    request: Request, design: Design, *, text: str | None = None, note: str = "", kept: Draft | None = None
) -> Response:
    given = {
        "title": design.name,
        "name": design.name,
        "digest": design.digest,
        "note": note,
        "kept": kept,
        "text": design.text if text is None else text,
        "problems": design.problems,
        "has_questions": _answers(design) is not None,
    }
    return page(request, "text.html", given)


# --- following every change -----------------------------------------------------------------------------------


def best(request: Request, form: Form) -> Response:
    """Return what the best guess says of answers, and what is wrong with them; what was typed is on disk before."""
    state = state_of(request)
    check = state.latest.note(form.get("window", ""), _number(form))
    if form.get("changed"):
        _keep(state, form, check)
    return JSONResponse(_best(form))


def _keep(state: State, form: Form, check: ShareDone) -> None:
    """Put what is typed on disk, unless something newer was typed, or it was saved meanwhile."""
    key = form.get("draft", "")
    with suppress(SupersededError, InputError), state.place.lock:
        check(0.0)
        if (key, form.get("digest", "")) not in state.saved:
            drafts.keep_draft(state.place.folder, key, form)


def throw_away(request: Request) -> Response:
    """Remove what was typed and not saved."""
    place = state_of(request).place
    with place.lock:
        drafts.throw_away(place.folder, request.path_params["draft"])
    return RedirectResponse("/", 303)


def band(request: Request, form: Form) -> Response:
    """Return the band: a quick one first, then the whole; a newer change ends it."""
    check = state_of(request).latest.note(form.get("window", ""), _number(form))
    try:
        check(0.0)
        return JSONResponse(with_band(_wish(form), DEFAULT_DRAWS if form.get("whole") else QUICK_DRAWS, check))
    except SupersededError:
        return JSONResponse({"superseded": True})
    except InputError as error:
        return JSONResponse({"lines": [str(problem) for problem in error.problems]})


def _number(form: Form) -> int:
    text = form.get("number", "")
    return int(text) if text.isdecimal() and len(text) < 12 else 0


def _best(form: Form) -> dict[str, Any]:
    answers = answers_in(form)
    told: dict[str, Any] = {"asked": [question.key for question in asked_questions(answers)]}
    told["doubts"] = doubts({key: answers.get(key, "") for key in told["asked"]})
    try:
        wish = _wish(form)
        found = best_guess(wish, unit="in" if _INCHES.search(" ".join(answers.values())) else "mm")
    except InputError as error:
        return told | {"problems": _by_field(error)}
    if doubt := height_doubt(answers, wish.container):
        told["doubts"]["height"] = doubt
    return told | found | {"problems": {}, "holds": f"{float(brim_capacity(wish.container)) * 1e6:.0f} mL to the brim"}


_DECIMAL_COMMA = re.compile(r"^(\d+),(\d{1,2})(?!\d|,)")


def with_point(text: str) -> str:
    """Return a size with a decimal point; a comma before three digits could part thousands, and stays.

    Examples
    --------
    >>> with_point("8,2 cm"), with_point("1,000 mL")
    ('8.2 cm', '1,000 mL')
    """
    return _DECIMAL_COMMA.sub(r"\1.\2", text)


def answers_in(form: Form) -> dict[str, str]:
    """Return the answers of a form: those that are asked, what is empty as not known."""
    given = {key: form.get(key, "").strip() for key in QUESTION}
    given = {key: with_point(text) if QUESTION[key].count == 1 else text for key, text in given.items()}
    return {question.key: given[question.key] or UNKNOWN for question in asked_questions(given)}


def _wish(form: Form) -> Wish:
    container, conditions = at_once(lambda: _container(form), lambda: read_conditions(form))
    return Wish(container, *conditions)


def _container(form: Form) -> Container:
    if "text" in form:
        return parse_container(form["text"].replace("\r\n", "\n"))
    answers = answers_in(form)
    at_once(*(lambda key=key, text=text: read_answer(QUESTION[key], text) for key, text in answers.items()))
    return container_of(answers, "container")


def _by_field(error: InputError) -> dict[str, str]:
    """Return what is wrong by the field beside which it is said, "" where it is none's alone."""
    found: dict[str, list[str]] = {}
    for problem in error.problems:
        field = problem.field.split(".")[-1] if problem.field.split(".")[-1] in {*QUESTION, *CONDITIONS} else ""
        value = "" if problem.value is None else f"{shortened(problem.value)} "
        found.setdefault(field, []).append(f"{value}{problem.message}" if field else str(problem))
    return {field: "; ".join(messages) for field, messages in found.items()}


# --- saving ---------------------------------------------------------------------------------------------------


def save(request: Request, form: Form) -> Response:
    """Save answers, or a text, as a design file, and with it its draft is done; say so if the file has changed."""
    name = request.path_params.get("name") or new_name(form.get("name", ""))
    text = form["text"].replace("\r\n", "\n") if "text" in form else design_text(answers_in(form), name)
    parse_container(text, f"{name}.toml")
    state, digest, draft = state_of(request), form.get("digest", ""), form.get("draft", "")
    try:
        with state.place.lock:
            saved = state.place.save(name, text, digest)
            if saved.digest != digest:
                state.saved.add((draft, digest))
            drafts.throw_away(state.place.folder, draft)
    except ConflictError as conflict:
        given = {"title": "Changed meanwhile", "name": name, "mine": text, "there": conflict.there}
        return page(request, "conflict.html", given | {"digest": conflict.digest}, status=409)
    return RedirectResponse(f"/containers/{name}?saved=1", 303)


def beside(request: Request, form: Form) -> Response:
    """Return another container of the folder under the same conditions, and why they differ."""
    design = state_of(request).place.design(form.get("other", ""))
    if design.container is None:
        raise InputError("can't be read", "container", design.name)
    mine = _wish(form)
    theirs = replace(mine, container=design.container)
    return JSONResponse(best_guess(theirs) | {"why": why(mine, theirs)})


ROUTES = [
    Route("/containers/new", new, methods=["GET"]),
    Route("/containers/new", with_form(save), methods=["POST"]),
    Route("/containers/{name}", edit, methods=["GET"]),
    Route("/containers/{name}", with_form(save), methods=["POST"]),
    Route("/drafts/{draft}/throw-away", throw_away, methods=["POST"]),
    Route("/follow/best", with_form(best), methods=["POST"]),
    Route("/follow/band", with_form(band), methods=["POST"]),
    Route("/follow/beside", with_form(beside), methods=["POST"]),
]
