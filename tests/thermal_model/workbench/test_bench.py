"""Bench: made, planned, watched; what is tapped is in the files that the commands read."""

import re
import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.thermal_model.workbench.conftest import ANSWERS
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.records import Run
from thermal_model.bench.write.demo import write_demo

RUN = {"container": "slim", "run": "tea_1", "probe": "pen", "poured_at": "92 C", "fill": "400 mL", "room": "20 C"}
MARKUP = "<script>alert(1)</script>"


@pytest.fixture
def bench(client: TestClient, folder: Path) -> Path:
    client.post("/containers/new", data={**ANSWERS, "name": "slim"})
    made = client.post("/benches/new", data={"name": "galley", "container-slim": "1", "probe": "pen", "noise": "0.1 C"})
    assert made.status_code == 303
    return folder / "galley"


def tap(client: TestClient, look: str, temperature: str, after: float = 0.0, run: str = "tea_1") -> list[str]:
    page = client.get(f"/benches/galley/runs/{run}").text
    began = float(re.findall(r'data-began="([\d.]+)"', page)[0])
    data = {"look": look, "at": str(began + after), "temperature": temperature}
    answer = client.post(f"/benches/galley/runs/{run}/tap", data=data)
    assert answer.status_code == 200, answer.text
    return answer.json()["taps"]


def only_run(bench: Path) -> Run:
    return read_bench(bench).runs[0]


@pytest.mark.parametrize(
    ("poured", "unit", "room", "mark"),
    [
        ("40", "F", "68 F", "10 C"),
        ("4,5", "C", "20 C", "10 C"),
        ("90", "F", "", "60 C"),
        ("70", "F", "", "10 C"),
        ("30", "C", "38 C", "10 C"),
        ("15", "C", "4 C", "60 C"),
        ("", "C", "", "60 C"),
    ],
)
def test_which_mark_is_offered_follows_the_heading_of_the_table_and_the_room(
    client: TestClient, bench: Path, poured: str, unit: str, room: str, mark: str
) -> None:
    (bench / "runs.csv").write_text(f"run;container;poured at [{unit}];room [C]\ncup;slim;{poured};{room}\n")
    assert f'id="f-mark" value="{mark}"' in client.get("/benches/galley/runs/cup").text


def test_a_run_is_watched(client: TestClient, bench: Path) -> None:
    assert client.post("/benches/galley/runs", data=RUN).status_code == 303
    assert "None yet" not in client.get("/benches/galley").text
    page = client.get("/benches/galley/runs/tea_1").text
    assert abs(float(re.findall(r'data-began="([\d.]+)"', page)[0]) - time.time()) < 10.0
    assert "1 run, 0 readings" in client.get("/").text
    first = client.post("/benches/galley/runs/tea_1/ahead", data={"mark": "60 C"}).json()
    assert first["held"].startswith("60 °C after")
    tap(client, "reading", "190 F", 60.0)
    tap(client, "before", "60 C", 600.0)
    tap(client, "before", "60 C", 1200.0)
    lines = tap(client, "passed", "70 C", 1800.0)
    assert len(lines) == 3
    run = only_run(bench)
    assert [reading.temperature for reading in run.readings] == pytest.approx([360.93], abs=0.01)
    assert run.readings[0].time == pytest.approx(60.0, abs=0.1)
    assert [round(passing.mark - 273.15) for passing in run.passings] == [60, 70]
    assert run.passings[0].earliest == pytest.approx(1200.0, abs=0.1)


def test_a_run_of_last_month_has_no_watch_and_its_cells_have_units(client: TestClient, folder: Path) -> None:
    (folder / "galley").mkdir()
    write_demo(folder / "galley")
    page = client.get("/benches/galley/runs/cup-1").text
    assert 'data-began=""' in page
    assert "fill 220 mL, poured at 88 C, room 22 C" in page
    assert client.post("/benches/galley/runs/cup-1/ahead", data={"mark": "60 C"}).json()["look"] == ""


def test_a_bench_alone_is_enough_to_decide_by(client: TestClient, folder: Path) -> None:
    (folder / "galley").mkdir()
    write_demo(folder / "galley")
    page = client.get("/decide?bench=galley").text
    assert 'value="rank"' in page
    assert 'value="why"' not in page
    asked = client.post("/decide", data={"kind": "rank", "bench-galley": "1"}, follow_redirects=False)
    assert asked.status_code == 303


def test_a_tap_that_is_sent_twice_is_kept_once(client: TestClient, bench: Path) -> None:
    client.post("/benches/galley/runs", data=RUN)
    data = {"look": "reading", "at": str(time.time() + 60.0), "temperature": "88.5 C"}
    for _ in range(3):
        assert client.post("/benches/galley/runs/tea_1/tap", data=data).status_code == 200
    assert len(only_run(bench).readings) == 1
    client.post("/benches/galley/runs/tea_1/back", data={"look": "reading"})
    assert "0 taps" in client.get("/benches/galley").text


def test_what_is_to_come_follows_the_readings(client: TestClient, bench: Path) -> None:
    """Readings of a container that cools faster than expected bring the mark nearer, and narrow it."""
    client.post("/benches/galley/runs", data=RUN)
    tap(client, "reading", "89.5 C", 100.0)
    before = client.post("/benches/galley/runs/tea_1/ahead", data={"mark": "60 C"}).json()
    assert before["held"].startswith("60 °C after")
    assert re.search(r"Look next at \d\d:\d\d", before["look"])
    tap(client, "reading", "72.0 C", 5400.0)
    after = client.post("/benches/galley/runs/tea_1/ahead", data={"mark": "60 C"}).json()
    assert len(after["points"]) == 2

    def width(told: dict) -> float:
        middle = len(told["curve"]["low"]) // 2
        return told["curve"]["high"][middle] - told["curve"]["low"][middle]

    assert after["curve"]["hours"] == before["curve"]["hours"]
    assert after["curve"]["middle"][60] < before["curve"]["middle"][60] - 1.0
    assert width(after) < width(before)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"container": "other"}, "take one of slim"),
        ({"poured_at": "92"}, "no unit"),
        ({"fill": "3 L"}, "fill"),
        ({"room": "warm"}, "room"),
        ({"run": "../x"}, "must begin with a letter"),
        ({"contents": "gin"}, "contents"),
        ({"probe": MARKUP}, "take one of pen"),
    ],
)
def test_a_run_that_can_not_be_is_not_begun(client: TestClient, bench: Path, change: dict, words: str) -> None:
    before = (bench / "runs.csv").read_bytes()
    answer = client.post("/benches/galley/runs", data={**RUN, **change})
    assert answer.status_code == 422
    assert words in answer.text
    assert MARKUP not in answer.text
    assert (bench / "runs.csv").read_bytes() == before


def test_thermometers_side_by_side(client: TestClient, bench: Path) -> None:
    client.post("/benches/galley/runs", data=RUN)
    client.post("/benches/galley/add", data={"probe": "clip", "unit": "F"})
    where = "/benches/galley/side-by-side"
    in_ice = {"first": "pen", "second": "ice_water", "first_shown": "0.4 C"}
    assert client.post(where, data=in_ice).status_code == 303
    cup = {"first": "pen", "second": "clip", "first_shown": "60.2 C", "second_shown": "141 F"}
    assert client.post(where, data=cup).status_code == 303
    for wrong in ({"first_shown": "0.4"}, {"first": "ice_water"}, {"second": MARKUP}, {"first_shown": MARKUP}):
        refused = client.post(where, data={**cup, **wrong})
        assert refused.status_code == 422, wrong
        assert MARKUP not in refused.text
    tap(client, "reading", "88 C", 60.0)
    assert len(read_bench(bench).checks) == 2
    assert "pen 0.4 C and ice_water 0 C" in client.get("/benches/galley").text


@pytest.mark.parametrize("field", ["look", "at", "temperature"])
def test_markup_in_a_tap_is_harmless(client: TestClient, bench: Path, field: str) -> None:
    client.post("/benches/galley/runs", data=RUN)
    before = (bench / "readings.csv").read_bytes()
    data = {"look": "reading", "at": str(time.time() + 60.0), "temperature": "88 C"} | {field: MARKUP}
    assert client.post("/benches/galley/runs/tea_1/tap", data=data).status_code == 422
    assert (bench / "readings.csv").read_bytes() == before


def test_markup_in_the_files_is_escaped(client: TestClient, bench: Path) -> None:
    client.post("/benches/galley/runs", data=RUN)
    with (bench / "runs.csv").open("a", encoding="utf-8") as file:
        file.write(f"{MARKUP},{MARKUP},2026-04-20 09:00,{MARKUP},,,,,,,,,,,,,\n")
    with (bench / "readings.csv").open("a", encoding="utf-8") as file:
        file.write(f"tea_1,3,{MARKUP},,,\n")
    for page in ("/", "/benches/galley", "/benches/galley/runs/tea_1", "/benches/galley/plan"):
        assert MARKUP not in client.get(page).text, page


LOG = "Logger 7\nDate;Channel (°C);Humidity\n{rows}"


def log_text(began: datetime) -> str:
    moments = ((-5, "20,0"), (2, "89,5"), (62, "80,1"))
    rows = (f"{began + timedelta(minutes=m):%d.%m.%Y %H:%M:%S};{t};40" for m, t in moments)
    return LOG.format(rows="\n".join(rows))


def test_a_loggers_file_is_shown_then_saved(client: TestClient, bench: Path) -> None:
    client.post("/benches/galley/runs", data=RUN)
    where = "/benches/galley/runs/tea_1/logger"
    text = log_text(only_run_date(bench))
    shown = client.post(where, files={"file": ("log.csv", text.encode("cp1252"))}, data={"step": "look"})
    assert "2 readings, from 2 min to 1 h 2 min" in shown.text
    assert "1 row is left out" in shown.text
    assert not (bench / "tea_1.csv").exists()
    chosen = {"time": "0", "day": "", "form": "moment", "temperature": "1", "unit": "C", "text": text}
    assert client.post(where, data={**chosen, "temperature": "0"}).status_code == 200
    assert client.post(where, data={**chosen, "step": "save"}).status_code == 303
    assert [round(reading.temperature - 273.15, 1) for reading in only_run(bench).readings] == [89.5, 80.1]
    again = client.post(where, data={**chosen, "step": "save"})
    assert "is there already" in again.text


def only_run_date(bench: Path) -> datetime:
    from thermal_model.bench.write.watch import beginning_of

    found = beginning_of(bench, "tea_1")
    assert found is not None
    return found


@pytest.mark.parametrize("text", ["", "\x00\x01", MARKUP * 50, "1,2\n" * 3 + MARKUP, "a" * 1_000_000])
def test_files_that_are_none_are_refused(client: TestClient, bench: Path, text: str) -> None:
    client.post("/benches/galley/runs", data=RUN)
    before = sorted(path.name for path in bench.iterdir())
    where, data = "/benches/galley/runs/tea_1/logger", {"step": "save"}
    answer = client.post(where, files={"file": ("x", text.encode())}, data=data)
    assert answer.status_code in (200, 303)
    assert MARKUP not in answer.text
    if answer.status_code == 200:
        assert sorted(path.name for path in bench.iterdir()) == before


def test_a_day_is_planned(client: TestClient, bench: Path) -> None:
    query = {"start": "90 C", "room": "20 C", "until": "70 C", "repeats": "2", "day": "2027-03-01"}
    query |= {"first": "08:00", "last": "22:00", "fill": ""}
    page = client.get("/benches/galley/plan", params=query).text
    rows = re.findall(r"<tr><td>(.*?)</td><td>(.*?)</td><td>pen</td><td>(.*?)</td>", page)
    assert sorted(container for _, container, _ in rows) == ["slim", "slim"]
    assert not any("night" in end for _, _, end in rows)
    assert all(begin[-5:] >= "08:00" and end <= "22:00" for begin, _, end in rows)
    calendar = client.get("/benches/galley/plan.ics", params=query)
    assert calendar.text.count("BEGIN:VEVENT") == 2
    late = client.get("/benches/galley/plan", params={**query, "until": "40 C", "last": "12:00"}).text
    assert "or let runs end at night" in late
    night = client.get("/benches/galley/plan", params={**query, "until": "40 C", "last": "12:00", "night": "1"}).text
    assert "(night)" in night


@pytest.mark.parametrize("field", ["start", "room", "until", "repeats", "day", "first", "last", "fill"])
def test_a_plan_that_can_not_be_is_told(client: TestClient, bench: Path, field: str) -> None:
    query = {"start": "90 C", "room": "20 C", "until": "70 C", "repeats": "2", "day": "2027-03-01"}
    query |= {"first": "08:00", "last": "22:00", "fill": "", field: MARKUP}
    answer = client.get("/benches/galley/plan", params=query)
    assert answer.status_code == 200
    assert 'role="alert"' in answer.text.replace('id="offline" role="alert"', "")
    assert MARKUP not in answer.text


@pytest.mark.parametrize("path", ["/benches/%2e%2e", "/benches/nowhere", "/benches/galley/runs/..%2f..%2fx"])
def test_no_bench_outside_of_the_folder(client: TestClient, bench: Path, path: str) -> None:
    assert client.get(path).status_code in (404, 422)
