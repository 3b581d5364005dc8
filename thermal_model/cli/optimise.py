"""`holdtime optimise`: the best design under constraints, or the front of several wishes."""

import pickle
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.errors import InputError, InputProblem, at_once, refuse, refuse_repeated
from geometries.files import write_text
from geometries.quantities import Dimension
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
from thermal_model.cli.typed import typed_share
from thermal_model.judge.scenario_library import load_carry_scenario
from thermal_model.prediction import check_run
from thermal_model.report.optimum_text import optimum_csv, optimum_document, optimum_text
from thermal_model.study.expression import read_expression
from thermal_model.study.journal import SUFFIX, Journal
from thermal_model.study.measures import HOLD, Measure, cost_measure, hold_measure, read_measure
from thermal_model.study.optimum.answers import Answers
from thermal_model.study.optimum.designs import DesignSpace, hold_name
from thermal_model.study.optimum.optimise import BestDesigns
from thermal_model.study.optimum.optimise import optimise as best_designs
from thermal_model.study.optimum.pieces import SHARE, Pieces
from thermal_model.study.question import Question
from thermal_model.study.sweep import axis_document, libraries
from thermal_model.version import version

EXAMPLE = (
    "holdtime optimise slim_neck_double_seal --fill 500mL --vary body.neck.mouth_diameter='35..60 mm' "
    "--vary lid.seals='1, 2' --at-least mouth=40mm --tries 40"
)

DEFAULT_TRIES, DEFAULT_COUNT, DEFAULT_PIECES, DEFAULT_SEED = 400, 12, 64, 1


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What `holdtime optimise` is asked."""

    asked: Asked
    vary: Vary = ()
    best: Annotated[
        tuple[str, ...],
        typer.Option("--best", metavar="NAME", help="hold (left out), mass, cost, share, ...; several: a front."),
    ] = ()
    bounds: ConstraintOptions
    cost: Annotated[
        str | None,
        typer.Option("--cost", metavar="EXPRESSION", help="'14*wall_kg + 9*lid_kg + 0.6*seals': a figure of your own."),
    ] = None
    also: Annotated[
        tuple[str, ...],
        typer.Option("--also", metavar="SCENARIO", help="A further scenario, as carry --to: hold@NAME counts too."),
    ] = ()
    share: Annotated[
        str | None,
        typer.Option("--share", metavar="SHARE", help="'95%': a hold time counts as what so many of the pieces hold."),
    ] = None
    tolerance: Annotated[
        tuple[str, ...],
        typer.Option(
            "--tolerance", metavar="PATH=SPREAD", help="Spread in production, two pieces in three; repeatable."
        ),
    ] = ()
    unknown: Annotated[
        bool, typer.Option("--unknown", help="Pieces differ in what is not known of the design, too.")
    ] = False
    hold: Hold = None
    pieces: Annotated[int, typer.Option("--pieces", min=16, max=10_000, help="That each design is made into.")] = (
        DEFAULT_PIECES
    )
    tries: Annotated[
        int, typer.Option("--tries", min=10, max=1_000_000, help="Designs tried over all the ranges, for each wish.")
    ] = DEFAULT_TRIES
    count: Annotated[int, typer.Option("--count", min=3, max=500, help="Designs of a front, about.")] = DEFAULT_COUNT
    seed: options.Seed = DEFAULT_SEED
    picture: PictureOptions
    save: Annotated[
        Path | None, typer.Option("--save", metavar="FILE", help="Write the best design as a design file.")
    ] = None
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write the designs found as a CSV.")] = None
    answer: AnswerOptions

    @property
    def files(self) -> tuple[Path | None, ...]:
        """What is written, but for a picture."""
        return self.answer.output, self.save, self.csv


@command(Wanted, EXAMPLE)
def optimise(wanted: Wanted) -> None:
    """Find the best design under constraints, or the front of several wishes; stopped, the same command goes on."""
    read = read_question(
        wanted.asked, lambda: refuse(_wrong_options(wanted)), lambda: wanted.picture.check(*wanted.files)
    )
    space = _space(wanted, read)
    with _journal(space, wanted, read) as journal:
        if journal is not None:
            answers = Answers(journal)
            space = replace(space, answers=answers)
            if answers.known:
                typer.echo(f"holdtime: note: goes on where it was stopped, {answers.known} answers are there", err=True)
        with progress_bar("looking for the best") as tell:
            found = best_designs(space, budget=wanted.tries, seed=wanted.seed, size=wanted.count, told=tell)
        if found.was_stopped:
            AnswerOptions(json=wanted.answer.json).give(
                lambda: question_text(optimum_text(found), read), optimum_document(found)
            )
            raise KeyboardInterrupt
        _write(found, wanted, read)
        if journal is not None:
            journal.remove()


@contextmanager
def _journal(space: DesignSpace, wanted: Wanted, read: Read) -> Iterator[Journal | None]:
    """Yield the journal beside what is written; None where nothing is, and so nothing is gone on with."""
    file = next(filter(None, wanted.files), None)
    if file is None:
        yield None
        return
    folder = file.with_name(file.name + SUFFIX)
    journal = Journal(folder, _inputs(space, wanted, read), of="search")
    try:
        yield journal
    except InputError as error:
        if not any(problem.source.startswith(str(folder)) for problem in error.problems):
            journal.remove()  # refused: there is nothing to go on with
        raise
    except KeyboardInterrupt:
        journal.release()
        message = f"holdtime: nothing is written yet; what is done is kept in {folder}, the same command goes on there"
        typer.echo(message, err=True)
        raise


def _inputs(space: DesignSpace, wanted: Wanted, read: Read) -> dict[str, Any]:
    """Return what decides a search, as a JSON object."""
    belief = read.question.belief
    return {
        "version": version(),
        "libraries": libraries(),
        "design": read.question.container.model_dump(mode="json", exclude_unset=True),
        "scenarios": [question.scenario.model_dump(mode="json") for question in space.questions],
        "until_K": [question.limit for question in space.questions],
        "vary": {axis.path: axis_document(axis) for axis in space.axes},
        "best": [measure.name for measure in space.objectives],
        "bounds": [constraint.text() for constraint in space.constraints],
        "cost": wanted.cost,
        "spreads": {spread.field.path: spread.deviation for spread in space.pieces.spreads},
        "pieces": [space.pieces.count, space.pieces.share, space.pieces.with_unknowns, space.pieces.wanted],
        "belief": None if belief is None else sha256(pickle.dumps(belief)).hexdigest(),
        "search": [wanted.tries, wanted.count, wanted.seed],
    }


def _write(found: BestDesigns, wanted: Wanted, read: Read) -> None:
    from geometries.design_file import container_text

    document = optimum_document(found) | {"seed": wanted.seed, "tries": wanted.tries} | question_document(read)
    if len(found.space.objectives) > 1:
        from thermal_model.report.optimum_plots import optimum_picture

        document = wanted.picture.drawn_into(document, optimum_picture(found, read.subtitle, wanted.seed))
    if wanted.csv is not None:
        write_text(wanted.csv, optimum_csv(found))
    if wanted.save is not None:
        write_text(wanted.save, container_text(found.container(0)))
    files = wanted.csv, wanted.save, wanted.picture.plot
    wanted.answer.give(lambda: question_text(optimum_text(found), read), document, *files)


def _wrong_options(wanted: Wanted) -> Iterator[InputProblem]:
    if not wanted.vary:
        message = "give what may change, for example --vary body.neck.mouth_diameter='35..60 mm'"
        yield InputProblem(message, source="--vary")
    if wanted.picture.plot is not None and len(wanted.best) < 2:
        yield InputProblem("draws a front; ask for two with --best hold --best mass", source="--plot")
    if len(wanted.best) > 3:
        yield InputProblem("are too many to weigh against each other; give three at most", source="--best")
    named = [*wanted.best, *wanted.bounds.names]
    if "cost" in named and wanted.cost is None:
        yield InputProblem("--best cost or --at-most cost=12 needs it", source="--cost")
    if "cost" not in named and wanted.cost is not None:
        yield InputProblem("is not asked for: --best cost", source="--cost")
    if (SHARE in named) != (wanted.hold is not None):
        message = "goes with --best share or --at-least share=95%, which say what share of the pieces holds so long"
        yield InputProblem(message, source="--hold")
    for name in dict.fromkeys(wanted.best):
        if wanted.best.count(name) > 1:
            yield InputProblem("is wished for twice", name, source="--best")


# --- what is optimised ----------------------------------------------------------------------------------------------


def _space(wanted: Wanted, read: Read) -> DesignSpace:
    axes, others, pieces = at_once(
        lambda: read_variations(wanted.vary, read),
        lambda: [_other(name, read.question) for name in wanted.also],
        lambda: _pieces(wanted, read.question),
    )
    names = (HOLD, *(hold_name(name) for name, _ in others))
    question, own = read.question, _own(wanted, names)
    *objectives, constraints = at_once(
        *(
            partial(read_measure, name, question.container, question.scenario, "--best", own)
            for name in wanted.best or (HOLD,)
        ),
        lambda: wanted.bounds.read(question, own),
    )
    refuse_repeated([name for name, _ in others], "is given twice; give it once", "--also")
    questions = (question, *(other for _, other in others))
    return DesignSpace(questions, names, tuple(axes), tuple(objectives), tuple(constraints), pieces)


def _other(name: str, question: Question) -> tuple[str, Question]:
    """Return a further scenario under its short name; it is filled as it would fill the design itself."""
    carried = load_carry_scenario(name)
    scenario, limit = carried.for_container(question.container), float(carried.limits[0].temperature)
    check_run(question.container, scenario, [limit])
    own = Question(question.container, scenario, limit, question.horizon, question.unknowns, question.belief)
    return Path(name).stem, own


def _own(wanted: Wanted, names: tuple[str, ...]) -> dict[str, Measure]:
    """Return the measures that only this command has."""
    own = {name: hold_measure(name, f"hold time in {name.partition('@')[2]}") for name in names[1:]}
    if wanted.cost is not None:
        own["cost"] = cost_measure(read_expression(wanted.cost, "--cost"))
    if wanted.hold is not None:
        label = f"share of the pieces that hold {wanted.hold}"
        own[SHARE] = Measure(SHARE, label, Dimension.FRACTION, False, lambda _c, _s: float("nan"))
    return own


def _pieces(wanted: Wanted, question: Question) -> Pieces:
    spreads = read_tolerances(wanted.tolerance, question)
    if not (spreads or wanted.unknown or wanted.share is not None or wanted.hold is not None):
        return Pieces()
    share = 0.95 if wanted.share is None else typed_share(wanted.share, "--share")
    hold = 1.0 if wanted.hold is None else read_hold(wanted.hold)
    has_unknowns = wanted.unknown or not spreads
    unsure = tuple(path for path, _ in question.container.unsure)
    pieces = Pieces(wanted.pieces, share, tuple(spreads), has_unknowns, wanted.seed, hold)
    return replace(pieces, belief=question.belief, unsure=unsure)
