"""`holdtime calibrate`: what the readings of a bench say of all that a ruler can't see."""

from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.errors import at_once
from thermal_model.bench.calibration.calibration import Calibration
from thermal_model.bench.calibration.calibration import calibrate as calibrated
from thermal_model.bench.calibration.calibration_file import calibration_document, write_calibration
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli import options
from thermal_model.cli.outputs import check_files
from thermal_model.cli.progress import DRAWING, READING, progress_bar
from thermal_model.report.calibration_text import calibration_text, findings_document
from thermal_model.report.results import json_text

EXAMPLE = "holdtime calibrate galley_bench --output galley.calibration.json"

Bench = Annotated[Path, typer.Argument(metavar="BENCH", help="A bench folder: holdtime bench new makes one.")]
Plot = Annotated[
    Path | None,
    typer.Option(
        "--plot", metavar="FILE", help="Readings with bands, what is left over, before against after: .png, ..."
    ),
]


def calibrate(
    bench: Bench,
    sample: Annotated[
        bool, typer.Option("--sample", help="Sample all that the readings allow, with diagnostics: slower.")
    ] = False,
    seed: options.Seed = 1,
    plot: Plot = None,
    json: options.Json = False,
    output: options.Output = None,
) -> None:
    """Fit all that a ruler can't see to the readings of a bench, for --calibration of other commands."""
    with progress_bar(READING):
        read, _ = at_once(lambda: read_bench(bench), lambda: check_files(plot, output))
    with progress_bar("fitting all runs") as show:
        found = calibrated(read, wants_sample=sample, seed=seed, progress=show)
    document = _document(found, bench, seed)
    if output is not None:
        write_calibration(output, document)
    if plot is not None:
        with progress_bar(DRAWING):
            from thermal_model.report.calibration_plots import draw_calibration

            draw_calibration(found, plot)
    _show(found, document, wants_json=json, files=(output, plot))


def _document(found: Calibration, folder: Path, seed: int) -> dict[str, Any]:
    method = "laplace" if found.sampled is None else "sampled"
    return {**calibration_document(found.fit, folder, seed=seed, method=method), **findings_document(found)}


def _show(found: Calibration, document: dict[str, Any], *, wants_json: bool, files: tuple[Path | None, ...]) -> None:
    if wants_json:
        typer.echo(json_text(document), nl=False)
        return

    typer.echo(calibration_text(found))
    for path in filter(None, files):
        typer.echo(f"\nwritten: {path}", err=True)


calibrate.__doc__ = f"{calibrate.__doc__}\n\nExample: {EXAMPLE}"
