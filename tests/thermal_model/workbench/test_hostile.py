"""Every address and every field of every form, given what nobody should send: refused in a line, or harmless.

Routes come from the application and fields from its pages, so that a new one is tried without being listed here.
"""

import re
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import quote

import pytest
from starlette.applications import Starlette
from starlette.routing import Route
from starlette.testclient import TestClient

from tests.thermal_model.workbench.conftest import ANSWERS

MARKUP = "<script>alert(1)</script>\"><img src=x onerror=alert(1)>'{{7*7}}"
HUGE = "9" * 1_000_000
HOSTILE = {
    "markup": MARKUP,
    "control characters": "a\x1b[31m\r\nSet-Cookie: x=1\x07\u202e",
    "NUL": "a\0b",
    "a megabyte": HUGE,
    "a way up": "../../etc/passwd",
    "an absolute way": "/etc/passwd",
    "an option": "--output=/tmp/x",
    "a formula": "=cmd|' /C calc'!A0",
    "negative": "-5 mm",
    "huge": "1e308 m",
    "no number": "nan",
    "endless": "inf C",
    "a surrogate": "\ud800".encode("utf-8", "surrogatepass").decode("latin-1"),
    "many digits of another script": "\u0663" * 5000,
    "nothing": "",
}
LOG = "time,temp\n0,90\n10,88\n20,86\n"
BENCH, RUN = "galley", "run_1"
EXTRA = {
    "/benches/{bench}/runs/{run}/logger": {"text", "time", "temperature", "day", "form", "unit", "poured", "step"},
    "/benches/{bench}/runs/{run}/tap": {"look", "at", "temperature"},
    "/benches/{bench}/runs/{run}/back": {"look"},
    "/benches/{bench}/runs/{run}/ahead": {"mark"},
    "/follow/best": {"window", "number", "changed", "draft", "digest", "text", "start", *ANSWERS},
    "/follow/band": {"window", "number", "start", "ice", *ANSWERS},
    "/follow/beside": {"other", *ANSWERS},
    "/containers/{name}": {"text", "digest", "draft", *ANSWERS},
}
"""Fields that scripts send, or that a page has only once something was chosen."""


@pytest.fixture
def full(client: TestClient, folder: Path) -> TestClient:
    """A folder with two containers, a bench, and a run that was begun."""
    for name, mouth in (("slim", "46 mm"), ("wide", "60 mm")):
        client.post("/containers/new", data={**ANSWERS, "mouth": mouth, "name": name})
    client.post("/benches/new", data={"name": BENCH, "container-slim": "1", "container-wide": "1", "probe": "pen"})
    begun = {"run": RUN, "container": "slim", "poured_at": "90 C", "room": "20 C"}
    assert client.post(f"/benches/{BENCH}/runs", data=begun).status_code == 303
    return client


def routes(client: TestClient) -> list[tuple[str, str]]:
    app = client.app.app  # type: ignore[attr-defined]
    assert isinstance(app, Starlette)
    assert all(isinstance(route, Route) for route in app.routes)
    found = [route for route in app.routes if isinstance(route, Route)]
    return [(m, route.path) for route in found for m in sorted(route.methods or ()) if m != "HEAD"]


def address(path: str, **given: str) -> str:
    usual = {"name": "slim", "bench": BENCH, "run": RUN, "key": "0", "draft": "unsaved_01234567"}
    return re.sub(r"{(\w+)}", lambda found: given.get(found.group(1), usual[found.group(1)]), path)


class Fields(HTMLParser):
    """Names of the fields of each form of a page, by where it is sent."""

    def __init__(self, here: str) -> None:
        super().__init__()
        self.here, self.where, self.found = here, "", {}  # type: ignore[var-annotated]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "form":
            self.where = given.get("action") or self.here
        if tag in ("input", "select", "textarea", "button") and given.get("name") and self.where:
            self.found.setdefault(self.where, set()).add(given["name"])


def fields_of(client: TestClient) -> dict[str, set[str]]:
    """Return the fields of all forms, by address, from every page there is."""
    found: dict[str, set[str]] = {}
    for method, path in routes(client):
        if method == "GET" and not path.endswith(".ics"):
            here = address(path)
            parser = Fields(here)
            parser.feed(client.get(here).text)
            for where, names in parser.found.items():
                found.setdefault(where.partition("?")[0], set()).update(names)
    return found


def harmless(client: TestClient, folder: Path, answer: object, sent: str) -> None:
    """No fault, no echo of markup, no header of theirs, nothing outside the folder."""
    status, text = answer.status_code, answer.text  # type: ignore[attr-defined]
    assert status < 500, (sent, text[:300])
    kind = answer.headers.get("content-type", "")  # type: ignore[attr-defined]
    if kind.startswith("text/html"):
        assert "<script>alert" not in text, sent
        assert "<img src=x" not in text, sent
    assert "root:" not in text, sent
    assert "Set-Cookie: x=1" not in str(answer.headers), sent  # type: ignore[attr-defined]
    assert len(text) < 200_000 or "text" in sent, sent
    assert [path.name for path in folder.parent.iterdir()] == [folder.name], sent


COSTLY = ("/follow/", "/decide", "/ahead")
"""What computes: each field gets a few of the hostile values by turns, the others all of them."""


def without_answer(path: str) -> dict[str, str]:
    """Return what makes a band or a forecast be refused once it is read: each takes seconds to compute."""
    if path.endswith("/ahead"):
        return {"mark": "-"}
    return {"mouth": "-1"} if path == "/follow/band" else {}


def test_every_field_of_every_form(full: TestClient, folder: Path) -> None:
    given = fields_of(full)
    usual = {"name": "more", "kind": "drawing", "first": "slim", "text": LOG, "time": "0", "temperature": "1"}
    values = list(HOSTILE.items())
    tried = 0
    for path in [path for method, path in routes(full) if method == "POST"]:
        where = address(path)
        names = given.get(where, set()) | EXTRA.get(path, set())
        for turn, name in enumerate(sorted(names)):
            is_costly = any(part in path for part in COSTLY)
            chosen = [values[(turn + 5 * k) % len(values)] for k in range(2)] if is_costly else values
            for what, value in chosen:
                form = {key: usual[key] for key in names & usual.keys()} | without_answer(path) | {name: value}
                harmless(full, folder, full.post(where, data=form), f"{where} {name} {what}")
                tried += 1
    assert tried > 500
    assert full.get("/").status_code == 200
    assert full.get(f"/benches/{BENCH}").status_code == 200


def test_every_form_has_fields_that_are_tried(full: TestClient) -> None:
    """A new form without a page of its own has to be listed in EXTRA, or it would not be tried at all."""
    given = fields_of(full)
    without = {"/let-phone-in", "/drafts/{draft}/throw-away", "/decide/{key}/stop"}
    for method, path in routes(full):
        if method == "POST" and path not in without:
            assert given.get(address(path)) or EXTRA.get(path), path


def test_every_part_of_every_address(full: TestClient, folder: Path) -> None:
    for what in ("markup", "NUL", "a way up", "an absolute way", "control characters", "an option"):
        hostile = quote(HOSTILE[what], safe="")
        for method, path in routes(full):
            for part in re.findall(r"{(\w+)}", path):
                data = {"a": "b"} if method == "POST" else None
                answer = full.request(method, address(path, **{part: hostile}), data=data)
                harmless(full, folder, answer, f"{method} {path} {part}")
            asked = "&".join(f"{name}={hostile}" for name in ("draft", "text", "bench", "start", "repeats", "first"))
            data = without_answer(path) if method == "POST" else None
            answer = full.request(method, f"{address(path)}?{asked}", data=data)
            harmless(full, folder, answer, f"{method} {path} {what}")


@pytest.mark.parametrize("repeats", ["0019999", "1" * 5000, "\u0663" * 5, "-1", "1e3"])
def test_a_plan_of_too_many_runs_is_refused_at_once(full: TestClient, repeats: str) -> None:
    assert "repeats" in full.get(f"/benches/{BENCH}/plan?repeats={quote(repeats)}").text


def test_more_fields_than_any_form_has(full: TestClient, folder: Path) -> None:
    for method, path in routes(full):
        if method == "POST":
            answer = full.post(address(path), data={f"field_{number}": "1" for number in range(5000)})
            assert answer.status_code in (400, 303, 413, 422) or answer.status_code == 200, path
            assert answer.status_code < 500


def test_a_file_where_a_text_is_expected_and_the_reverse(full: TestClient, folder: Path) -> None:
    for method, path in routes(full):
        if method == "POST":
            files = {"name": ("../../x", b"\xff\xfe\x00", "text/plain")}
            answer = full.post(address(path), files=files, data=without_answer(path))
            harmless(full, folder, answer, path)
