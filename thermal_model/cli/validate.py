"""`holdtime validate`: how well the model, calibrated on all other runs of a bench, predicts each run."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.errors import at_once
from thermal_model.bench.calibration.calibration import warnings_of
from thermal_model.bench.calibration.fit import fit
from thermal_model.bench.calibration.validation import leave_one_out
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli import options
from thermal_model.cli.picture_options import PictureOptions, with_picture
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.record import command
from thermal_model.report.calibration_text import validation_document, validation_text
from thermal_model.report.results import json_text, write_json
from thermal_model.report.validation_plots import validation_picture

EXAMPLE = "holdtime validate galley_bench"

Bench = Annotated[Path, typer.Argument(metavar="BENCH", help="A bench folder: holdtime bench new makes one.")]


@dataclass(frozen=True, kw_only=True)
class Validate:
    """What `holdtime validate` is asked."""

    bench: Bench
    picture: PictureOptions
    json: options.Json = False
    output: options.Output = None


@command(Validate, EXAMPLE)
def validate(wanted: Validate) -> None:
    """Predict each run of a bench from all its other runs, and say whether the intervals hold what they claim."""
    output = wanted.output
    with progress_bar(READING):
        read, _ = at_once(lambda: read_bench(wanted.bench), lambda: wanted.picture.check(output))
    with progress_bar("fitting all runs") as show:
        fitted = fit(read, progress=show)
    with progress_bar("predicting each run from the others"):
        found, warnings = leave_one_out(fitted), tuple(warnings_of(fitted))
    document: dict[str, Any] = {"bench": read.name, **validation_document(found), "warnings": list(warnings)}
    picture = validation_picture(read, found) if found.runs else None
    if picture is not None:
        document = with_picture(document, picture)
    if output is not None:
        write_json(output, document)
    typer.echo(json_text(document) if wanted.json else validation_text(read, found, warnings), nl=not wanted.json)
    if picture is not None:
        wanted.picture.draw(picture)
    elif wanted.picture.plot is not None:
        typer.echo("no picture: no run has a reading that could be predicted", err=True)
    for path in (output, wanted.picture.plot if picture is not None else None):
        if path is not None and not wanted.json:
            typer.echo(f"\nwritten: {path}", err=True)
