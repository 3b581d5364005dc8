"""A page of 40 containers in a real browser: size, time until its panel answers, time of an answer.

Wanted: under 5 MB, interactive in 2 s, an answer in 50 ms. The containers are the demo bench's, repeated under other
names. Usage:

    python -m tests.benchmarks.page_browser --containers 40
"""

import argparse
import shutil
import statistics
import time
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from playwright.sync_api import sync_playwright

from tests.browser.conftest import ARGUMENTS, CHROMIUM
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.demo import write_demo
from thermal_model.judge.compare import Ranking
from thermal_model.judge.what_if.model import SideModel
from thermal_model.report.page.contents import Asked, PageContents, gather
from thermal_model.report.page.html import page_html
from thermal_model.report.page.knowledge import Known, known_of
from thermal_model.scenario import Scenario

ANSWER = """() => { const times = [];
for (let k = 0; k < 20; k += 1) { const slider = document.getElementById('room');
slider.value = k; const began = performance.now(); slider.dispatchEvent(new Event('input', {bubbles: true}));
document.body.getBoundingClientRect(); times.push(performance.now() - began); } return times; }"""
"""From moving a slider to the chart being in the page and laid out."""

COMPUTED = """every => { const times = []; for (let k = 0; k < 20; k += 1) { const began = performance.now();
window.holdtime.answer({side: 'hot', start: 363.15, room: 280 + k, limit: 333.15, fill: null, share: 1, every});
times.push(performance.now() - began); } return times; }"""


def made(draws: int) -> PageContents:
    """The demo bench's page."""
    with TemporaryDirectory() as folder:
        bench = Path(folder) / "galley_bench"
        bench.mkdir()
        write_demo(bench, 1)
        known = known_of(read_bench(bench))
    return gather(known, Asked(Scenario(), 333.15, 277.15, 283.15, draws=draws))


def repeated(contents: PageContents, count: int) -> PageContents:
    """The same with each container under many names, as many as are wanted."""
    names = [entry.name for entry in contents.known.entries]
    copies = [
        (name, name if k < len(names) else f"{name}_{k // len(names)}")
        for k, name in enumerate(names[k % len(names)] for k in range(count))
    ]

    def many(by_name: dict[str, Any]) -> dict[str, Any]:
        return {copy: by_name[name] for name, copy in copies if name in by_name}

    entries = {entry.name: entry for entry in contents.known.entries}
    bench = contents.known.bench
    runs = [
        replace(c, run=replace(c.run, container=copy))
        for name, copy in copies
        for c in contents.runs
        if c.run.container == name
    ]
    known = Known(
        replace(bench, containers=many(bench.containers)),
        tuple(replace(entries[name], name=copy) for name, copy in copies),
        many(contents.known.next_runs),
        contents.known.warnings,
    )
    sides: list[SideModel] = [
        replace(side, tables=many(side.tables)) for side in (contents.what_if.hot, contents.what_if.cold)
    ]
    return replace(
        contents,
        known=known,
        rankings={name: _longer(ranking, copies) for name, ranking in contents.rankings.items()},
        predictions=many(contents.predictions),
        runs=tuple(runs),
        what_if=replace(contents.what_if, hot=sides[0], cold=sides[1]),
    )


def _longer(ranking: Ranking, copies: list[tuple[str, str]]) -> Ranking:
    standings = [
        replace(standing, entry=replace(standing.entry, name=copy))
        for standing in ranking.standings
        for name, copy in copies
        if name == standing.entry.name
    ]
    return replace(ranking, standings=tuple(standings))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--containers", type=int, default=40)
    parser.add_argument("--draws", type=int, default=100)
    parser.add_argument("--keep", type=Path, help="write the page here")
    asked = parser.parse_args()
    began = time.monotonic()
    contents = made(asked.draws)
    print(f"{len(contents.known.entries)} containers computed in {time.monotonic() - began:.0f} s, the fit included")
    text = page_html(repeated(contents, asked.containers))
    print(f"page of {asked.containers} containers: {len(text.encode()) / 1e6:.2f} MB (wanted: under 5)")
    with TemporaryDirectory() as folder, sync_playwright() as driver:
        path = asked.keep or Path(folder) / "page.html"
        path.write_text(text, encoding="utf-8")
        found = next(filter(None, map(shutil.which, CHROMIUM)))
        browser = driver.chromium.launch(executable_path=found, args=list(ARGUMENTS))
        readies, wholes = [], []
        for _ in range(3):
            page = browser.new_context(viewport={"width": 1280, "height": 900}, offline=True).new_page()
            page.goto(path.resolve().as_uri(), wait_until="commit")
            page.wait_for_function("document.documentElement.dataset.ready")
            readies.append(page.evaluate("window.holdtime.at.panel"))
            page.wait_for_function("document.documentElement.dataset.ready === 'all'")
            wholes.append(page.evaluate("window.holdtime.at.all"))
        print(
            f"panel answers after {min(readies):.0f} to {max(readies):.0f} ms, all drawn after {min(wholes):.0f} to "
            f"{max(wholes):.0f} ms (wanted: 2000)"
        )
        for name, times in (
            ("slider moved, chart drawn", page.evaluate(ANSWER)),
            ("computed alone", page.evaluate(COMPUTED, None)),
            ("computed, lid off every half hour", page.evaluate(COMPUTED, 1800)),
        ):
            print(f"{name}: median {statistics.median(times):.0f} ms, worst {max(times):.0f} ms (wanted: 50)")
        browser.close()


if __name__ == "__main__":
    main()
