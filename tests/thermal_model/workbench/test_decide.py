"""Long work: started, told how far it is, stopped; what it answers is what the command answers."""

import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.thermal_model.workbench.conftest import ANSWERS
from thermal_model.workbench.jobs import Jobs, Stage

MARKUP = "<script>alert(1)</script>"
QUICK = {"start": "90 C", "room": "20 C", "until": "70 C"}


@pytest.fixture
def two(client: TestClient) -> TestClient:
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    client.post("/containers/new", data={**ANSWERS, "mouth": "60 mm", "name": "wide"})
    return client


def answered(client: TestClient, where: str) -> dict:
    until = time.monotonic() + 120.0
    while time.monotonic() < until:
        found = client.get(f"{where}/state").json()
        if found["stage"] not in ("waiting", "running"):
            return found
        time.sleep(0.05)
    raise AssertionError("no answer in two minutes")


def test_a_question_is_answered_and_its_files_given(two: TestClient) -> None:
    asked = two.post("/decide", data={**QUICK, "kind": "why", "first": "slim", "second": "wide"})
    found = answered(two, asked.headers["location"])
    assert found["stage"] == "done", found["problems"]
    assert "slim" in found["text"]
    assert found["files"] == ["why.json", "why.svg"]
    assert found["command"].startswith("holdtime explain ./slim.toml ./wide.toml '--start=90 C'")
    page = two.get(asked.headers["location"]).text
    assert "why.svg" in page
    picture = two.get(f"{asked.headers['location']}/files/why.svg")
    assert picture.headers["content-type"] == "image/svg+xml"
    for name in ("../x", "%2e%2e%2fx", "other.json"):
        assert two.get(f"{asked.headers['location']}/files/{name}").status_code in (404, 422)


def test_what_a_command_refuses_is_told(two: TestClient) -> None:
    data = {"kind": "why", "first": "slim", "second": "wide", "until": MARKUP, "start": "--help"}
    asked = two.post("/decide", data=data)
    found = answered(two, asked.headers["location"])
    assert found["stage"] == "refused"
    assert any(line.startswith("Poured in at: ") for line in found["problems"])
    assert MARKUP not in two.get(asked.headers["location"]).text
    assert MARKUP not in two.get("/decide").text


@pytest.mark.parametrize(
    "form",
    [
        {"kind": "rm"},
        {"kind": "why", "first": "slim", "second": "slim"},
        {"kind": "why", "first": "../slim", "second": "wide"},
        {"kind": "rank", "bench-..": "1", "container-slim": "1"},
        {"kind": "rank"},
        {"kind": "calibrate"},
        {"kind": "claim", "first": "slim"},
        {"kind": "next", "first": "slim", "calibration": "../x"},
    ],
)
def test_what_makes_no_question_starts_nothing(two: TestClient, form: dict) -> None:
    assert two.post("/decide", data=form).status_code == 422
    assert "Asked so far" not in two.get("/decide").text


@pytest.mark.parametrize(("kind", "command"), [("page", "report"), ("bundle", "bundle")])
def test_what_is_published_of_a_bench_is_begun_and_stopped(two: TestClient, kind: str, command: str) -> None:
    two.post("/benches/new", data={"name": "galley", "container-slim": "1", "probe": "pen"})
    asked = two.post("/decide", data={**QUICK, "kind": kind, "bench": "galley"})
    where = asked.headers["location"]
    assert two.get(f"{where}/state").json()["command"].startswith(f"holdtime {command} ")
    assert two.post(f"{where}/stop").status_code == 303
    assert two.get(f"{where}/state").json()["stage"] == "stopped"
    assert "Stopped; nothing was written." in two.get(where).text


def test_work_can_be_stopped(tmp_path: Path) -> None:
    """A sampling of minutes ends within seconds, and its processes with it."""
    jobs = Jobs()
    try:
        job = jobs.start("long", lambda _: ["predict", "slim_neck_double_seal", "--draws=20000"], tmp_path)
        until = time.monotonic() + 60.0
        while job.share == 0.0 and time.monotonic() < until:
            time.sleep(0.02)
        assert 0.0 < job.share < 1.0
        jobs.stop(job)
        assert job.stage is Stage.STOPPED
        assert job.process is not None
        assert job.process.wait(timeout=10) != 0
    finally:
        jobs.stop_all()
    assert not job.outputs.exists()


def test_benches_and_containers_are_ranked_together(two: TestClient) -> None:
    for name, container in (("north", "slim"), ("south", "wide")):
        two.post("/benches/new", data={"name": name, f"container-{container}": "1", "probe": "pen"})
    assert 'name="bench-north"' in two.get("/decide").text
    form = {**QUICK, "kind": "rank", "bench-north": "1", "bench-south": "1", "container-slim": "1"}
    asked = two.post("/decide", data=form)
    found = two.get(f"{asked.headers['location']}/state").json()
    assert found["command"].startswith("holdtime compare ./north ./south ./slim.toml")
    two.post(f"{asked.headers['location']}/stop")
