"""A page of 40 containers in a real browser: size, time until its panel answers, time of an answer.

Wanted: under 5 MB, interactive in 2 s, an answer in 50 ms. The containers are all different (`large_bench`); a page
that is there already is measured by itself. Usage:

    python -m tests.benchmarks.page_browser --containers 40
    python -m tests.benchmarks.page_browser --page FILE
"""

import argparse
import resource
import shutil
import statistics
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import Page, sync_playwright

from tests.benchmarks.large_bench import write_large_bench
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from thermal_model.bench.read.folder import read_bench
from thermal_model.report.page.contents import Asked, gather
from thermal_model.report.page.html import page_html
from thermal_model.report.page.knowledge import known_of
from thermal_model.scenario import Scenario

ANSWER = """() => { const times = [];
for (let k = 0; k < 20; k += 1) { const slider = document.getElementById('room');
slider.value = k; const began = performance.now(); slider.dispatchEvent(new Event('input', {bubbles: true}));
document.body.getBoundingClientRect(); times.push(performance.now() - began); } return times; }"""
"""From moving a slider to the chart being in the page and laid out."""

COMPUTED = """every => { const times = []; for (let k = 0; k < 20; k += 1) { const began = performance.now();
window.holdtime.answer({side: 'hot', start: 363.15, room: 280 + k, limit: 333.15, fill: null, share: 1, every});
times.push(performance.now() - began); } return times; }"""


def make_page(path: Path, containers: int) -> None:
    """Write the page of a bench of different containers, and print what it took."""
    with TemporaryDirectory() as folder:
        bench = Path(folder) / "large_bench"
        bench.mkdir()
        write_large_bench(bench, containers)
        before, began = resource.getrusage(resource.RUSAGE_SELF).ru_utime, time.monotonic()
        contents = gather(known_of(read_bench(bench)), Asked(Scenario(), 333.15, 277.15, 283.15))
        path.write_text(page_html(contents), encoding="utf-8")
    used = resource.getrusage(resource.RUSAGE_SELF).ru_utime - before
    print(f"{containers} containers: page in {time.monotonic() - began:.0f} s ({used:.0f} s of one core), fit included")


def measure(page: Page) -> None:
    """Print how long an opened page takes to answer."""
    for name, times in (
        ("slider moved, chart drawn", page.evaluate(ANSWER)),
        ("computed alone", page.evaluate(COMPUTED, None)),
        ("computed, lid off every half hour", page.evaluate(COMPUTED, 1800)),
    ):
        print(f"{name}: median {statistics.median(times):.0f} ms, worst {max(times):.0f} ms (wanted: 50)")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--containers", type=int, default=40)
    parser.add_argument("--page", type=Path, help="measure this page instead of making one")
    asked = parser.parse_args()
    with TemporaryDirectory() as folder, sync_playwright() as driver:
        path = asked.page or Path(folder) / "page.html"
        if asked.page is None:
            make_page(path, asked.containers)
        print(f"page: {path.stat().st_size / 1e6:.2f} MB (wanted: under 5)")
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
        measure(page)
        browser.close()


if __name__ == "__main__":
    main()
