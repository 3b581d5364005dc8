"""`holdtime sensitivity`: which dimension, and which unknown, a hold time depends on."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

import typer

from geometries.errors import InputError, InputProblem, refuse
from geometries.ranges import Range
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.question_options import (
    Asked,
    Read,
    Vary,
    question_document,
    question_text,
    read_question,
    read_variations,
)
from thermal_model.cli.record import command
from thermal_model.report.sensitivity_plots import sensitivity_picture
from thermal_model.report.sensitivity_text import global_document, global_text, local_document, local_text
from thermal_model.study.question import Question
from thermal_model.study.sensitivity import GlobalSensitivity, LocalSensitivity, global_sensitivity, local_sensitivity
from thermal_model.uncertainty import PRIORS

EXAMPLE = "holdtime sensitivity slim_neck_double_seal --fill 500mL --until 60C"


class Over(StrEnum):
    """What is varied."""

    DESIGN = "design"
    UNKNOWNS = "unknowns"
    BOTH = "both"


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What `holdtime sensitivity` is asked."""

    asked: Asked
    over: Annotated[
        Over | None, typer.Option("--over", help="What to vary; left out: the design; with --global what --vary says.")
    ] = None
    vary: Vary = ()
    is_global: Annotated[
        bool, typer.Option("--global/--local", help="Sobol' indices over ranges, or small steps one at a time.")
    ] = False
    samples: Annotated[
        int, typer.Option("--samples", min=2, max=65_536, help="Base sample of --global, a power of two.")
    ] = 64
    seed: options.Seed = 1
    picture: PictureOptions
    answer: AnswerOptions


@command(Wanted, EXAMPLE)
def sensitivity(wanted: Wanted) -> None:
    """Tell which dimension, and which unknown, a hold time depends on."""
    read = read_question(
        wanted.asked, lambda: _check_options(wanted), lambda: wanted.picture.check(wanted.answer.output)
    )
    question = read.question
    found: GlobalSensitivity | LocalSensitivity
    if wanted.is_global:
        found = _global(wanted, read)
        document, text = global_document(found, question), global_text(found, question)
    else:
        found = _local(wanted, question)
        document, text = local_document(found, question), local_text(found, question)
    picture = sensitivity_picture(found, question, read.subtitle)
    document = wanted.picture.drawn_into({**document, **question_document(read)}, picture)
    wanted.answer.give(lambda: question_text(text, read), document, wanted.picture.plot)


def _check_options(wanted: Wanted) -> None:
    if wanted.vary and not wanted.is_global:
        raise InputError("goes with --global; --local takes small steps from the design", source="--vary")
    if wanted.is_global and wanted.over in (Over.DESIGN, Over.BOTH) and not wanted.vary:
        message = f"{wanted.over.value} with --global needs ranges: --vary body.neck.mouth_diameter='35..60 mm'"
        raise InputError(message, source="--over")
    if wanted.over is Over.UNKNOWNS and wanted.vary:
        raise InputError("unknowns leaves no dimension to vary; take both, or no --vary", source="--over")


def _local(wanted: Wanted, question: Question) -> LocalSensitivity:
    over_design, over_unknowns = wanted.over is not Over.UNKNOWNS, wanted.over in (Over.UNKNOWNS, Over.BOTH)
    with progress_bar("varying one at a time") as show:
        return local_sensitivity(question, over_design=over_design, over_unknowns=over_unknowns, progress=show)


def _global(wanted: Wanted, read: Read) -> GlobalSensitivity:
    axes = read_variations(wanted.vary, read) if wanted.vary else []
    message = "an index needs a range, low..high, not a list of values"
    refuse(InputProblem(message, axis.path, source="--vary") for axis in axes if not isinstance(axis.variation, Range))
    ranges = [axis.variation for axis in axes if isinstance(axis.variation, Range)]
    over = wanted.over or (Over.DESIGN if ranges else Over.UNKNOWNS)
    unknowns = [] if over is Over.DESIGN else list(PRIORS)
    with progress_bar("computing the sample") as show:
        return global_sensitivity(
            read.question, ranges, unknowns, samples=wanted.samples, seed=wanted.seed, progress=show
        )
