"""`holdtime calibrate`: what the readings of a bench say of all that a ruler can't see."""

from dataclasses import dataclass
from typing import Annotated

import typer

from geometries.errors import at_once
from thermal_model.bench.calibration.calibration import Calibration
from thermal_model.bench.calibration.calibration import calibrate as calibrated
from thermal_model.bench.calibration.calibration_file import calibration_document, write_calibration
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.record import command
from thermal_model.report.calibration_plots import calibration_picture
from thermal_model.report.calibration_text import calibration_text, findings_document, sample_expert_text

EXAMPLE = "holdtime calibrate galley_bench --output galley.calibration.json"


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What `holdtime calibrate` is asked."""

    bench: options.Bench
    sample: Annotated[
        bool, typer.Option("--sample", help="Sample all that the readings allow, with diagnostics: slower.")
    ] = False
    seed: options.Seed = 1
    expert: Annotated[bool, typer.Option("--expert", help="Add the terms of the field: how good the sample is.")] = (
        False
    )
    picture: PictureOptions
    answer: AnswerOptions


@command(Wanted, EXAMPLE)
def calibrate(wanted: Wanted) -> None:
    """Fit all that a ruler can't see to the readings of a bench, for --calibration of other commands."""
    with progress_bar(READING):
        read, _ = at_once(lambda: read_bench(wanted.bench), lambda: wanted.picture.check(wanted.answer.output))
    with progress_bar("fitting all runs") as show:
        found = calibrated(read, wants_sample=wanted.sample, seed=wanted.seed, progress=show)
    method = "laplace" if found.sampled is None else "sampled"
    document = calibration_document(found.fit, wanted.bench, seed=wanted.seed, method=method)
    document = wanted.picture.drawn_into({**document, **findings_document(found)}, calibration_picture(found))
    wanted.answer.give(lambda: _text(found, wanted), document, wanted.picture.plot, write=write_calibration)


def _text(found: Calibration, wanted: Wanted) -> str:
    text = calibration_text(found)
    return f"{text}\n\n{sample_expert_text(found.sampled)}" if wanted.expert else text
