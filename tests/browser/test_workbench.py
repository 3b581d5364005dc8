"""The whole story in a real browser, without a mouse: describe three, bench six runs, calibrate, rank, explain.

Readings are invented: what the model says of each container, with a thermometer's error on top.
"""

import math
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from geometries.questions import design_text
from tests.browser.conftest import OpenPage, Watched
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.new_bench import make_bench

ENTER = "from thermal_model.cli.main import run; run()"
SIZES = {"slim": "46 mm", "middle": "54 mm", "wide": "2 1/2 in"}
HOURS = {"slim": 10.0, "middle": 8.3, "wide": 6.8}
"""Time constants of the invented readings."""

MINUTES = (5, 15, 30, 60, 120, 180, 240, 300, 360)
MOST_TABS = 120


class Server:
    """`holdtime open`, started and killed as the test wants it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = 0
        self.start()

    def start(self) -> None:
        port = ["--port", str(self.port)] if self.port else []
        command = [sys.executable, "-c", ENTER, "open", str(self.folder), "--no-browser", *port]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        lines = iter(self.process.stdout.readline, "")
        self.link = next(found.group() for line in lines if (found := re.search(r"http://\S+", line)))
        self.base = self.link.partition("/enter")[0]
        self.port = int(self.base.rpartition(":")[2])

    def kill(self) -> None:
        if self.process.poll() is not None:
            return
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    found = Server(tmp_path / "kitchen")
    yield found
    found.kill()


class Hands:
    """Works a page by the keyboard: the focus goes by the tabulator alone, or, to save time, straight to a place."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.tabs = True

    def go_to(self, selector: str) -> None:
        if not self.tabs:
            self.page.focus(selector)
            return
        for _ in range(MOST_TABS):
            self.page.keyboard.press("Tab")
            if self.page.locator(f"{selector}:focus").count():
                return
        raise AssertionError(f"no way to {selector} by the keyboard")

    def answer(self, key: str, text: str) -> None:
        self.go_to(f"#f-{key}")
        self.page.keyboard.press("ControlOrMeta+a")
        self.page.keyboard.insert_text(text)

    def press(self, selector: str) -> None:
        self.go_to(selector)
        self.page.keyboard.press("Enter")


def check_access(page: Page) -> None:
    """No serious finding, and nothing wider than the screen."""
    found = Axe().run(page)
    serious = [v for v in found.response["violations"] if v["impact"] in ("serious", "critical")]
    assert serious == [], [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in serious]
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def describe(hands: Hands, server: Server, name: str) -> None:
    page = hands.page
    page.goto(f"{server.base}/containers/new")
    hands.answer("mouth", SIZES[name])
    hands.answer("outside", "84")
    page.wait_for_selector("#e-outside.wrong")
    assert "no unit" in page.inner_text("#e-outside")
    hands.page.keyboard.type(" mm")
    page.wait_for_selector("#e-outside:not(.wrong)", state="attached")
    hands.answer("capacity", "500 mL")
    page.wait_for_selector("#describe[data-state=settled]")
    assert re.search(r"stays above 60 °C for \d", page.inner_text("#held"))
    hands.answer("name", name)
    page.keyboard.press("Enter")
    page.wait_for_selector(f"h1:text-is('{name}')")


def shown(name: str, minute: float, number: int) -> float:
    return 20.0 + 70.0 * math.exp(-minute / 60.0 / (HOURS[name] * (1.0 + 0.01 * number))) + 0.1 * (minute % 3 - 1)


def begin(hands: Hands, server: Server, run: str, name: str) -> None:
    hands.page.goto(f"{server.base}/benches/galley")
    hands.go_to("#f-container")
    hands.page.keyboard.type(name)
    hands.answer("run", run)
    hands.answer("poured_at", "92 C")
    hands.answer("room", "20 C")
    hands.press("button.big")
    hands.page.wait_for_selector("#clock")


def give_log(hands: Hands, name: str, number: int) -> None:
    hands.press("a[href$=logger]")
    hands.page.wait_for_selector("#f-text")
    rows = "\n".join(f"{minute};{shown(name, minute, number):.1f}".replace(".", ",") for minute in MINUTES)
    hands.answer("text", f"Logger 12\nElapsed min;Channel 1 °C\n{rows}\n")
    hands.press("button[value=look]")
    hands.page.wait_for_selector("button[value=save]")
    hands.press("button[value=save]")
    hands.page.wait_for_selector("#clock")


def tap(hands: Hands) -> None:
    page = hands.page
    page.wait_for_selector("#taps:enabled")
    for reading in ("91.5", "91.3", "91.2"):
        hands.answer("shown", reading)
        page.keyboard.press("Enter")
        page.wait_for_selector(f"#list li:has-text('{reading}')")
    hands.press("button[data-look=before]")
    page.wait_for_selector("#list li:has-text('mark')")
    page.wait_for_selector("#chart svg")


def decided(hands: Hands, server: Server, kind: str) -> str:
    page = hands.page
    page.goto(f"{server.base}/decide?bench=galley&first=slim&second=wide")
    hands.press(f"button[value={kind}]")
    page.wait_for_selector("h2:text-is('Keep it'), ul.wrong", timeout=120_000)
    return page.inner_text("main")


def test_the_whole_story_without_a_mouse(server: Server, open_page: OpenPage) -> None:
    watched: Watched = open_page(server.link, offline=False)
    hands, page = Hands(watched.page), watched.page
    for name in SIZES:
        describe(hands, server, name)
        hands.tabs = False  # once was enough
    check_access(page)
    hands.tabs = True
    page.goto(f"{server.base}/benches/new")
    hands.answer("name", "galley")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:text-is('Bench galley')")
    for number in range(6):
        name = list(SIZES)[number % 3]
        begin(hands, server, f"run_{number}", name)
        if number == 5:
            tap(hands)
        else:
            give_log(hands, name, number)
        hands.tabs = number == 4
    page.goto(f"{server.base}/benches/galley")
    assert page.locator("[role=alert].wrong").count() == 0
    decided(hands, server, "calibrate")
    assert (server.folder / "galley.calibration.json").is_file()
    ranking = decided(hands, server, "rank")
    assert ranking.index("slim") < ranking.index("middle") < ranking.index("wide")
    assert "mouth" in decided(hands, server, "why")
    page.set_viewport_size({"width": 360, "height": 740})
    for path in ("", "/", "/containers/slim", "/benches/galley", "/benches/galley/runs/run_5", "/decide"):
        if path:
            page.goto(server.base + path)
        check_access(page)
    assert [line for line in watched.said if line.startswith("error")] == []
    assert [url for url in watched.asked_for if not url.startswith((server.base, "data:"))] == []
    bench = read_bench(server.folder / "galley")
    assert [len(run.readings) for run in bench.runs] == [9, 9, 9, 9, 9, 3]


def test_what_is_tapped_while_the_server_is_away_is_not_lost(server: Server, open_page: OpenPage) -> None:
    """Killed here at one moment; at twenty in `tests/benchmarks/workbench_kills.py`."""
    answers = {"mouth": "46 mm", "outside": "76 mm", "capacity": "500 mL"}
    (server.folder / "slim.toml").write_text(design_text(answers, "slim"), encoding="utf-8")
    make_bench(server.folder / "galley", {"slim": "../slim.toml"}, {"pen": {"resolution": "0.1 C"}})
    page = open_page(server.link, offline=False).page
    hands = Hands(page)
    hands.tabs = False
    begin(hands, server, "run_0", "slim")
    page.wait_for_selector("#taps:enabled")
    server.kill()
    for reading in ("91.9", "91.8"):
        page.fill("#f-shown", reading)
        page.keyboard.press("Enter")
        page.wait_for_selector("#offline:not([hidden])")
    server.start()
    page.goto(server.link)
    page.goto(f"{server.base}/benches/galley/runs/run_0")
    page.wait_for_selector("#list li:has-text('91.8')")
    [run] = read_bench(server.folder / "galley").runs
    assert [round(reading.temperature - 273.15, 1) for reading in run.readings] == [91.9, 91.8]
