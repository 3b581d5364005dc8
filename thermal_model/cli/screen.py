"""`holdtime screen`: the best designs under constraints; which value holds so long; which share of production does."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.errors import InputError, InputProblem, at_once, refuse
from geometries.files import write_text
from geometries.ranges import Range, read_range
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.constraint_options import ConstraintOptions, Hold, read_hold, read_tolerances
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
from thermal_model.cli.scenario_options import refuse_given_and_varied
from thermal_model.cli.settings import assignment
from thermal_model.report.pictures.record import Picture
from thermal_model.report.screen_plots import inverse_picture, production_picture, screening_picture
from thermal_model.report.screen_text import (
    front_document,
    front_text,
    inverse_document,
    inverse_text,
    production_document,
    production_text,
    screening_csv,
)
from thermal_model.study.axes import Axis
from thermal_model.study.inverse import find_value
from thermal_model.study.measures import HOLD, read_measure
from thermal_model.study.ranges import number_field
from thermal_model.study.sampling import Plan, planned
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.screen import check_count
from thermal_model.study.tolerance import production_share

EXAMPLE = (
    "holdtime screen slim_neck_double_seal --fill 500mL --vary body.neck.mouth_diameter='30..60 mm' "
    "--vary lid.layers.1.depth='5..25 mm' --at-most mass=400g --count 16 --draws 8"
)

DEFAULT_COUNT, DEFAULT_DRAWS, DEFAULT_PIECES, DEFAULT_SEED = 256, 64, 512, 1


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What `holdtime screen` is asked."""

    asked: Asked
    vary: Vary = ()
    bounds: ConstraintOptions
    against: Annotated[
        str | None,
        typer.Option("--against", metavar="NAME", help="Weighed against the hold time: mass (left out), mouth, ..."),
    ] = None
    count: Annotated[
        int | None, typer.Option("--count", min=2, max=100_000, help="Designs drawn from ranges without steps; pieces.")
    ] = None
    find: Annotated[
        str | None,
        typer.Option("--find", metavar="PATH=RANGE", help="Which value holds as long as --hold says?"),
    ] = None
    tolerance: Annotated[
        tuple[str, ...],
        typer.Option(
            "--tolerance",
            metavar="PATH=SPREAD",
            help="Spread in production, two pieces in three; which share meets --hold?",
        ),
    ] = ()
    hold: Hold = None
    draws: options.Draws = DEFAULT_DRAWS
    seed: options.Seed = DEFAULT_SEED
    picture: PictureOptions
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write all designs as a CSV.")] = None
    answer: AnswerOptions


@command(Wanted, EXAMPLE)
def screen(wanted: Wanted) -> None:
    """Find the best designs, the value that holds so long, or the share of production that does."""
    files = wanted.csv, wanted.answer.output
    read = read_question(wanted.asked, lambda: refuse(_wrong_options(wanted)), lambda: wanted.picture.check(*files))
    answer = _find if wanted.find is not None else _produce if wanted.tolerance else _screen
    text, document, picture = answer(wanted, read)
    document = wanted.picture.drawn_into(document, picture) | question_document(read)
    wanted.answer.give(lambda: question_text(text, read), document, wanted.csv, wanted.picture.plot)


def _wrong_options(wanted: Wanted) -> Iterator[InputProblem]:
    """Yield what is wrong with options of one question beside those of another."""
    front = {
        "--vary": wanted.vary,
        "--at-most": wanted.bounds.at_most,
        "--at-least": wanted.bounds.at_least,
        "--against": wanted.against,
        "--count": None if wanted.tolerance else wanted.count,
        "--csv": wanted.csv,
    }
    single = {"--find": wanted.find, "--tolerance": wanted.tolerance}
    asked = [option for option, given in single.items() if given]
    if len(asked) > 1:
        yield InputProblem("asks another question than --find; give one of the two", source="--tolerance")
    if asked:
        if wanted.hold is None:
            yield InputProblem("needs the hold time that is wanted: --hold 8h", source=asked[0])
        message = f"does not go with {asked[0]}; leave it out"
        yield from (InputProblem(message, source=option) for option, given in front.items() if given)
        return
    if wanted.hold is not None:
        message = "goes with --find or --tolerance; for a constraint write --at-least hold=8h"
        yield InputProblem(message, source="--hold")
    if not wanted.vary:
        example = "--vary body.neck.mouth_diameter='35..60 mm'"
        yield InputProblem(f"give what to vary, for example {example}, or --find, or --tolerance", source="--vary")


# --- the front --------------------------------------------------------------------------------------------------


def _screen(wanted: Wanted, read: Read) -> tuple[str, dict[str, Any], Picture]:
    from thermal_model.study.screen import intervals, screen

    question = read.question
    axes, constraints, against = at_once(
        lambda: read_variations(wanted.vary, read),
        lambda: wanted.bounds.read(question),
        lambda: read_measure(wanted.against or "mass", question.container, question.scenario, "--against"),
    )
    if against.name == HOLD:
        raise InputError("the hold time is weighed against something else; try mass", source="--against")
    plan = _plan(axes, wanted)
    with progress_bar(f"screening {plan.count} designs") as tell:
        found = screen(question, plan, constraints, against, progress=tell)
    spread: dict[int, tuple[float, float]] = {}
    if wanted.draws:
        with progress_bar("drawing what is not known") as tell:
            spread = intervals(question, found, draws=wanted.draws, seed=wanted.seed, progress=tell)
    if wanted.csv is not None:
        write_text(wanted.csv, screening_csv(found, question))
    picture = screening_picture(found, spread, question, read.subtitle)
    document = front_document(found, constraints, spread)
    return front_text(found, constraints, spread, question), document, picture


def _plan(axes: list[Axis], wanted: Wanted) -> Plan:
    """Return a grid if every axis has its steps, else a Sobol' sequence."""
    is_open = any(isinstance(axis.variation, Range) and axis.variation.count is None for axis in axes)
    sampling = Sampling.SOBOL if is_open else Sampling.GRID
    count = wanted.count or DEFAULT_COUNT if is_open else wanted.count
    plan = planned(tuple(axes), sampling, count, wanted.seed)
    check_count(plan.count)
    return plan


# --- the inverse question, and production -----------------------------------------------------------------------


def _find(wanted: Wanted, read: Read) -> tuple[str, dict[str, Any], Picture]:
    question = read.question
    assert wanted.find is not None
    path, text = assignment(wanted.find, "--find", "body.neck.mouth_diameter='35..60 mm'")
    range_, hold = at_once(
        lambda: read_range(number_field(path, question.container, question.scenario, "--find"), text, "--find"),
        lambda: read_hold(wanted.hold or ""),
    )
    refuse_given_and_varied(read.given, [path], "--find")
    question.check_values(path, (range_.low, range_.high), "--find")
    with progress_bar(f"searching in {wanted.draws} samples") as tell:
        found = find_value(question, range_, hold, draws=wanted.draws, seed=wanted.seed, progress=tell)
    picture = inverse_picture(found, question, read.subtitle)
    return inverse_text(found, question), inverse_document(found, question), picture


def _produce(wanted: Wanted, read: Read) -> tuple[str, dict[str, Any], Picture]:
    question = read.question
    spreads, hold = at_once(lambda: read_tolerances(wanted.tolerance, question), lambda: read_hold(wanted.hold or ""))
    pieces = wanted.count or DEFAULT_PIECES
    with progress_bar(f"making {pieces} pieces") as tell:
        found = production_share(question, spreads, hold, pieces=pieces, seed=wanted.seed, progress=tell)
    picture = production_picture(found, question, read.subtitle)
    return production_text(found, question), production_document(found), picture
