"""`holdtime validate`: how well the model, calibrated on all other runs of a bench, predicts each run."""

from dataclasses import dataclass
from typing import Any

import typer

from geometries.errors import at_once
from thermal_model.bench.calibration.calibration import warnings_of
from thermal_model.bench.calibration.fit import fit
from thermal_model.bench.calibration.validation import leave_one_out
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.record import command
from thermal_model.report.calibration_text import validation_document, validation_text
from thermal_model.report.validation_plots import validation_picture

EXAMPLE = "holdtime validate galley_bench"


@dataclass(frozen=True, kw_only=True)
class Validate:
    """What `holdtime validate` is asked."""

    bench: options.Bench
    picture: PictureOptions
    answer: AnswerOptions


@command(Validate, EXAMPLE)
def validate(wanted: Validate) -> None:
    """Predict each run of a bench from all its other runs, and say whether the intervals hold what they claim."""
    with progress_bar(READING):
        read, _ = at_once(lambda: read_bench(wanted.bench), lambda: wanted.picture.check(wanted.answer.output))
    with progress_bar("fitting all runs") as show:
        fitted = fit(read, progress=show)
    with progress_bar("predicting each run from the others"):
        found, warnings = leave_one_out(fitted), tuple(warnings_of(fitted))
    document: dict[str, Any] = {"bench": read.name, **validation_document(found), "warnings": list(warnings)}
    drawn = None
    if found.runs:
        document, drawn = wanted.picture.drawn_into(document, validation_picture(read, found)), wanted.picture.plot
    elif wanted.picture.plot is not None:
        typer.echo("no picture: no run has a reading that could be predicted", err=True)
    wanted.answer.give(lambda: validation_text(read, found, warnings), document, drawn)
