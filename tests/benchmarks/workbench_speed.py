"""The page under a real browser: from the command to a usable page, and from a keystroke to curve and band.

    python -m tests.benchmarks.workbench_speed [--changes 60]

Allowed: 2 s to a usable page; 100 ms to the best guess and 500 ms to the band at the 95th percentile. Each change is
one more keystroke in a field, once the one before has its band; what is measured ends when the browser has drawn it.
Beside each figure stands the ratio to what is allowed, and how busy the machine was.
"""

import argparse
import itertools
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import psutil
from playwright.sync_api import Page, sync_playwright

from geometries.design_file import load_container
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from thermal_model.workbench.warm import run_compiled

ENTER = "from thermal_model.cli.main import run; run()"
ALLOWED = {"usable page": 2.0, "best guess": 0.1, "band": 0.5}

FIELDS = {"mouth": "4{} mm", "outside": "7{} mm", "capacity": "5{}0 mL", "neck": "3{} mm"}

WATCH = """() => {
  const form = document.getElementById("describe");
  window.seen = {};
  new MutationObserver(() => { window.seen[form.dataset.state] = performance.now(); })
    .observe(form, { attributes: true, attributeFilter: ["data-state"] });
}"""
CHANGE = """([key, text]) => {
  window.seen = {};
  window.began = performance.now();
  const field = document.getElementById(`f-${key}`);
  field.value = text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}"""
TIMES = "() => [window.seen.best - window.began, window.seen.band - window.began]"


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--changes", type=int, default=60)
    changes = parser.parse_args().changes
    load_container("single_wall_steel")
    run_compiled()  # some seconds, once for a machine
    import shutil

    chromium = next(filter(None, map(shutil.which, CHROMIUM)))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=list(ARGUMENTS))
        page = browser.new_page()
        began = time.perf_counter()
        command = [sys.executable, "-c", ENTER, "open", str(Path(folder) / "kitchen"), "--no-browser"]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            assert process.stdout is not None
            link = next(m.group() for line in process.stdout if (m := re.search(r"http://\S+", line)))
            page.goto(link)
            page.wait_for_selector("text=Describe a container")
            usable = time.perf_counter() - began
            guesses, bands, busy = measured(page, link.partition("/enter")[0], changes, psutil.Process(process.pid))
        finally:
            process.kill()
            process.wait()
            browser.close()
    tell("usable page", [usable])
    tell("best guess", guesses)
    tell("band", bands)
    print(f"processor time of the server for a change, guess and both bands together: {busy:.3f} s")
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


def measured(page: Page, base: str, changes: int, server: psutil.Process) -> tuple[list[float], list[float], float]:
    """Return the times of single changes to the best guess and to the band, and the server's work for one [s]."""
    page.goto(f"{base}/containers/new")
    page.wait_for_selector("#describe[data-state=settled]")
    time.sleep(3.0)  # the kernel is loaded in the background by then, as it is before anyone has typed
    page.evaluate(WATCH)
    guesses, bands = [], []
    before = sum(server.cpu_times()[:2])
    for number in range(changes):
        key, pattern = next(itertools.islice(itertools.cycle(FIELDS.items()), number, None))
        page.evaluate(CHANGE, [key, pattern.format(number // 4 % 10)])
        page.wait_for_selector("#describe[data-state=band], #describe[data-state=settled]")
        best, band = page.evaluate(TIMES)
        guesses.append(best / 1000.0)
        bands.append(band / 1000.0)
        page.wait_for_selector("#describe[data-state=settled]")
    return guesses, bands, (sum(server.cpu_times()[:2]) - before) / changes


def tell(what: str, seconds: list[float]) -> None:
    """Print the middle, the 95th percentile, and its ratio to what is allowed."""
    middle, late = np.quantile(seconds, [0.5, 0.95])
    allowed = ALLOWED[what]
    print(f"{what:12s} middle {middle:6.3f} s, 95 % {late:6.3f} s, allowed {allowed:g} s, ratio {late / allowed:.2f}")


if __name__ == "__main__":
    main()
