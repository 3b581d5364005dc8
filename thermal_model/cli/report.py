"""`holdtime report`: one page of a bench, for a screen, for print and for a mail; it works offline."""

import time
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from geometries.errors import InputError, at_once
from geometries.files import write_text
from geometries.quantities import Dimension
from geometries.validation import validated
from thermal_model.cli import options
from thermal_model.cli.calibration_options import Calibration
from thermal_model.cli.limits import default_limit, options_named, read_limits
from thermal_model.cli.lists import ColdStart, ColdUntil
from thermal_model.cli.outputs import check_files
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.typed import typed_quantity
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import duration_text

EXAMPLE = "holdtime report galley_bench --fill 350mL --until 60C --output galley.html"

Page = Annotated[Path, typer.Option("--output", "-o", metavar="FILE", help="The page: .html.")]


@dataclass(frozen=True, kw_only=True)
class Report:
    """What `holdtime report` is asked."""

    bench: options.Bench
    output: Page
    fill: options.Fill = None
    start: options.Start = None
    until: options.OneUntil = None
    room: options.Room = None
    contents: options.Contents = None
    cold_start: ColdStart = "4C"
    cold_until: ColdUntil = "10C"
    calibration: Calibration = None
    draws: options.Draws = 100
    seed: options.Seed = 1


@command(Report, EXAMPLE)
def report(wanted: Report) -> None:
    """Make one page of a bench that a reader can explore: ranking, readings, why, and what if; works offline."""
    from thermal_model.bench.calibration.calibration_file import read_calibration
    from thermal_model.bench.read.folder import read_bench
    from thermal_model.report.page.contents import Asked, gather
    from thermal_model.report.page.html import page_html
    from thermal_model.report.page.knowledge import known_of

    began = time.monotonic()
    bench, calibration, scenario, typed, cold_start, cold_limit, *_ = at_once(
        lambda: read_bench(wanted.bench),
        lambda: None if wanted.calibration is None else read_calibration(wanted.calibration),
        lambda: _scenario(wanted),
        lambda: read_limits(wanted.until),
        lambda: typed_quantity(wanted.cold_start, Dimension.TEMPERATURE, "--cold-start"),
        lambda: typed_quantity(wanted.cold_until, Dimension.TEMPERATURE, "--cold-until"),
        lambda: check_files(None, wanted.output),
        lambda: _check_ending(wanted.output),
    )
    limit = typed[0] if typed else default_limit(scenario)
    asked = Asked(scenario, limit, cold_start, cold_limit, draws=wanted.draws, seed=wanted.seed)
    with progress_bar("fitting all runs") as show:
        known = known_of(bench, calibration, progress=show)
    with options_named(), progress_bar("making the page") as show:
        contents = gather(known, asked, progress=show)
    text = page_html(contents)
    write_text(wanted.output, text)
    size = len(text.encode()) / 1e6
    took = duration_text(time.monotonic() - began, 1.0)
    typer.echo(f"written: {wanted.output}, {size:.1f} MB, in {took}; open it in any browser", err=True)


def _scenario(wanted: Report) -> Scenario:
    given = {name: getattr(wanted, name) for name in ("fill", "start", "room", "contents")}
    return validated(Scenario, {name: value for name, value in given.items() if value is not None}, "", needs_unit=True)


def _check_ending(path: Path) -> None:
    if path.suffix.lower() not in (".html", ".htm"):
        raise InputError("a page ends in .html; give such a name", source=str(path))
