"""A page of a small bench without a fit, two containers whose names try to break it; and what its panel should say."""

from pathlib import Path

from geometries.design_file import load_container
from thermal_model.bench.records import Bench, Probe, Reading, Run
from thermal_model.judge.compare import Entry
from thermal_model.report.page.contents import Asked, PageContents, gather
from thermal_model.report.page.html import page_html
from thermal_model.report.page.knowledge import Known
from thermal_model.scenario import Scenario

HOSTILE = "</script><script>window.broken = 1</script><img src=x onerror='window.broken = 1'>&amp;\"'"
"""A title that a user may write; nothing of it may become part of the page."""


def made_contents(draws: int) -> PageContents:
    """Two containers and a run of each, nothing fitted."""
    containers = {"slim": load_container("thin_disc_lid"), "</script>": load_container("stoneware_cup")}
    containers["slim"] = containers["slim"].model_copy(update={"title": HOSTILE})
    runs = tuple(_run(name, containers[name], k) for k, name in enumerate(containers))
    bench = Bench("night <b>watch", containers, {"log": Probe("log")}, runs, ())
    entries = tuple(Entry(name, container) for name, container in containers.items())
    known = Known(bench, entries, dict.fromkeys(containers), ("a warning with <i>",))
    return gather(known, Asked(Scenario(fill=300e-6), 333.15, 277.15, 283.15, draws=draws))


def _run(name: str, container: object, number: int) -> Run:
    readings = tuple(Reading(600.0 * k, 355.0 - 2.0 * k, 1.0, 2 + k) for k in range(8))
    scenario = Scenario(start=360.0, fill=300e-6)
    return Run(f"run-{number}", name, "log", container, scenario, None, 0.5, 0.5, 0.02, readings, (), "", 2)


def write_page(contents: PageContents, path: Path) -> Path:
    path.write_text(page_html(contents), encoding="utf-8")
    return path
