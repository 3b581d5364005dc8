"""`holdtime validate`: how well the model, calibrated on all other runs of a bench, predicts each run."""

from pathlib import Path
from typing import Annotated

import typer

from geometries.errors import at_once
from thermal_model.bench.calibration.calibration import warnings_of
from thermal_model.bench.calibration.fit import fit
from thermal_model.bench.calibration.validation import leave_one_out
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli import options
from thermal_model.cli.outputs import check_files
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.report.calibration_text import validation_document, validation_text
from thermal_model.report.results import json_text, write_json

EXAMPLE = "holdtime validate galley_bench"

Bench = Annotated[Path, typer.Argument(metavar="BENCH", help="A bench folder: holdtime bench new makes one.")]


def validate(bench: Bench, json: options.Json = False, output: options.Output = None) -> None:
    """Predict each run of a bench from all its other runs, and say whether the intervals hold what they claim."""
    with progress_bar(READING):
        read, _ = at_once(lambda: read_bench(bench), lambda: check_files(None, output))
    with progress_bar("fitting all runs") as show:
        fitted = fit(read, progress=show)
    with progress_bar("predicting each run from the others"):
        found, warnings = leave_one_out(fitted), tuple(warnings_of(fitted))
    document = {"bench": read.name, **validation_document(found), "warnings": list(warnings)}
    if output is not None:
        write_json(output, document)
    typer.echo(json_text(document) if json else validation_text(read, found, warnings), nl=not json)
    if output is not None and not json:
        typer.echo(f"\nwritten: {output}", err=True)


validate.__doc__ = f"{validate.__doc__}\n\nExample: {EXAMPLE}"
