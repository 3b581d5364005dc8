"""`holdtime new`: a design of one's own from a few questions."""

import sys
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from geometries.design_file import load_container
from geometries.errors import InputError, at_once, nearest_hint, printable
from geometries.files import write_text
from geometries.questions import (
    QUESTION,
    FormQuestion,
    container_of,
    design_text,
    doubts,
    next_question,
    read_answer,
)
from thermal_model.cli.picture_options import LookOptions, PictureOptions
from thermal_model.cli.progress import DRAWING, progress_bar
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.settings import assignment
from thermal_model.prediction import predict
from thermal_model.report.summary import summary_text
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale

EXAMPLE = "holdtime new mine.toml"
BACK = "back"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime new` is asked."""

    target: Annotated[Path, typer.Argument(metavar="FILE", help="Where the design goes, mine.toml.")]
    answer: Annotated[
        TEXTS,
        typer.Option("--answer", metavar="KEY=VALUE", help="Answer without being asked, mouth='46 mm'; repeatable."),
    ] = ()
    plot: Annotated[
        Path | None, typer.Option("--plot", metavar="FILE", help="Draw it to scale: .png, .svg or .pdf.")
    ] = None
    looks: LookOptions


@command(Asked, EXAMPLE)
def new(asked: Asked) -> None:
    """Describe a container by answering questions; '?' for what you don't know."""
    target, plot = asked.target, asked.plot
    _, name, answers = at_once(
        lambda: PictureOptions(plot=plot, looks=asked.looks).check(target),
        lambda: _name_of(target),
        lambda: dict(at_once(*(partial(_given, text) for text in asked.answer))),
    )
    answers = _asked(answers, name)
    container = container_of(answers, name)
    write_text(target, design_text(answers, name))
    if plot is not None:
        with progress_bar(DRAWING):
            from thermal_model.report.drawing import Drawn, draw_containers

            draw_containers([Drawn(container)], plot, look=asked.looks.look)
    for path in filter(None, (target, plot)):
        typer.echo(f"written: {path}", err=True)
    _tell(target)


def _name_of(file: Path) -> str:
    """Return the name of a design from that of its file."""
    import re

    name = re.sub(r"[^a-z0-9]+", "_", file.stem.lower()).strip("_")[:60]
    if not name or not name[0].isalpha():
        raise InputError("must begin with a letter, for example mine.toml", source=str(file))
    return name


def _given(text: str) -> tuple[str, str]:
    key, value = assignment(text, "--answer", "mouth='46 mm'")
    if key not in QUESTION:
        hint = nearest_hint(key, QUESTION)
        raise InputError(f"is no question; {hint}questions: {', '.join(QUESTION)}", key, source="--answer")
    try:
        return key, read_answer(QUESTION[key], value)
    except InputError as error:
        raise error.within("--answer") from None


def _asked(answers: dict[str, str], name: str) -> dict[str, str]:
    """Ask until every question has an answer and the answers fit together."""
    given = len(answers)
    if next_question(answers) is not None:
        typer.echo(
            f"Sizes with their unit: 46 mm, 1 7/8 in. Enter alone if you don't know; '{BACK}' to go back.", err=True
        )
    while True:
        while (question := next_question(answers)) is not None:
            _ask(question, answers)
        try:
            container_of(answers, name)
            return answers
        except InputError as error:
            wrong = [problem.field for problem in error.problems if problem.field in QUESTION]
            if not wrong or given == len(answers):
                raise
            typer.echo("\nThe answers do not fit together:", err=True)
            for problem in error.problems:
                typer.echo(f"  {problem}", err=True)
            for key in wrong:
                answers.pop(key, None)


def _ask(question: FormQuestion, answers: dict[str, str]) -> None:
    """Ask one question until its answer can be read, or forget the one before."""
    typer.echo(f"\n{question.text}", err=True)
    if question.how:
        typer.echo(f"  {question.how}", err=True)
    for number, (key, words) in enumerate(question.choices.items(), start=1):
        typer.echo(f"  {key if key.isdecimal() else number}  {words}", err=True)
    while True:
        typer.echo("  > ", nl=False, err=True)
        text = sys.stdin.readline()  # at its end nothing more is known
        if text.strip().lower() == BACK:
            if answers:
                answers.popitem()
            return
        try:
            answers[question.key] = read_answer(question, text)
            for doubt in doubts({question.key: text}).values():
                typer.echo(f"  Sure? {doubt}.", err=True)
        except InputError as error:
            typer.echo(f"  {printable(error.problems[0].message)}", err=True)
        else:
            return


def _tell(file: Path) -> None:
    """Print the hold time from 90 to 60 C, and what makes it uncertain."""
    prediction = predict(load_container(file), Scenario(), [333.15])
    typer.echo(summary_text(prediction, frozenset({"start", "room", "fill", "contents", "until"}), Scale.CELSIUS))
    typer.echo(f"\nlook at it: holdtime designs show {file} --plot drawing.png", err=True)
