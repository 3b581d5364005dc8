"""What commands that ask one question of many designs have in common: design, scenario, one limit, files."""

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.errors import InputError, at_once
from geometries.ranges import Range
from thermal_model.cli import options
from thermal_model.cli.assumed import assumed_inputs
from thermal_model.cli.calibration_options import Calibrated, CalibratedAs, Calibration, read_calibrated
from thermal_model.cli.limits import default_limit, read_limits, with_option_names
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario, refuse_given_and_varied
from thermal_model.cli.settings import assignment, read_design
from thermal_model.prediction import Prediction, predict
from thermal_model.report.results import json_text, warning_lines
from thermal_model.report.summary import caution_lines, given_line, hold_time_lines
from thermal_model.study.axes import Axis, read_axes
from thermal_model.study.question import Question
from thermal_model.version import version
from thermal_model.words.numbers import Scale, scale_of

Until = Annotated[
    str | None, typer.Option("--until", metavar="TEMP", help="Limit temperature; left out: 60 C, cold contents 10 C.")
]
Vary = Annotated[
    tuple[str, ...],
    typer.Option(
        "--vary",
        metavar="PATH=RANGE",
        help="body.neck.mouth_diameter='35..60 mm', scenario.fill='200..500 mL'; repeatable.",
    ),
]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Design, limit and scenario as typed."""

    design: options.Design
    until: Until = None
    given: ScenarioOptions
    calibration: Calibration = None
    calibrated_as: CalibratedAs = None


@dataclass(frozen=True)
class Read:
    """A question with what surrounds it.

    Attributes
    ----------
    question : Question
    nominal : Prediction
        Of the design itself, without an interval.
    assumed : tuple of str
        Inputs that were not given.
    scale : Scale
        Of the temperatures shown.
    calibrated : Calibrated or None
    given : ScenarioOptions
        As typed.
    """

    question: Question
    nominal: Prediction
    assumed: tuple[str, ...]
    scale: Scale
    calibrated: Calibrated | None = None
    given: ScenarioOptions = field(default_factory=ScenarioOptions)

    @property
    def subtitle(self) -> str:
        """What was given, for a picture."""
        given = given_line(self.nominal, frozenset(), self.scale).partition(": ")[2]
        side = "below" if self.question.limit > self.question.scenario.start else "above"
        return f"{given}; stays {side} {self.scale.text(self.question.limit)}"


def read_question(asked: Asked, *others: Callable[[], Any]) -> Read:
    """Return what was asked, or raise the problems of design, scenario, limit and `others` all together."""
    container, scenario, typed, calibrated, *_ = at_once(
        lambda: read_design(asked.design, asked.given.settings, asked.calibration),
        lambda: read_scenario(asked.given),
        lambda: read_limits((asked.until,) if asked.until is not None else ()),
        lambda: read_calibrated(asked.calibration, asked.calibrated_as, asked.design),
        *others,
    )
    limit = typed[0] if typed else default_limit(scenario)
    try:
        belief = None if calibrated is None else calibrated.belief
        nominal = predict(container, scenario, [limit], draws=0, belief=belief)
    except InputError as error:
        raise with_option_names(error) from None
    assumed = assumed_inputs(scenario, has_limit=bool(typed))
    scale = scale_of(asked.until, asked.given.start, asked.given.room)
    question = Question.calibrated(container, scenario, limit, belief)
    return Read(question, nominal, tuple(sorted(assumed)), scale, calibrated, asked.given)


def read_variations(texts: Sequence[str], read: Read, option: str = "--vary") -> list[Axis]:
    """Return the axes that an option gives; none of them may be set as well.

    Raises
    ------
    InputError
        With the problems of all of them.
    """
    question = read.question
    example = "body.neck.mouth_diameter='35..60 mm'"
    pairs = at_once(*(functools.partial(assignment, text, option, example) for text in texts))
    axes = read_axes(pairs, question.container, question.scenario, option)
    refuse_given_and_varied(read.given, [axis.path for axis in axes], option)
    for axis in axes:
        if axis.is_number:
            question.check_values(axis.path, _ends(axis), option)
    return axes


def _ends(axis: Axis) -> tuple[float, float]:
    variation = axis.variation
    if isinstance(variation, Range):
        return variation.low, variation.high
    return float(axis.points.min()), float(axis.points.max())


def question_document(read: Read) -> dict[str, Any]:
    """Return what was asked and which version answers, for the end of a JSON object."""
    calibration = {} if read.calibrated is None else {"calibration": read.calibrated.document()}
    return calibration | {
        "warnings": warning_lines(read.nominal),
        "inputs": {
            "design": read.nominal.container.model_dump(mode="json"),
            "scenario": read.question.scenario.model_dump(mode="json"),
            "until_K": read.question.limit,
            "assumed": list(read.assumed),
        },
        "version": version(),
    }


def show(
    text: str, document: dict[str, Any], read: Read, *, wants_json: bool, files: Sequence[Path | None] = ()
) -> None:
    """Print the answer, under what was given and over the cautions; or the JSON object alone."""
    if wants_json:
        typer.echo(json_text(document), nl=False)
        return

    assumed = frozenset(read.assumed)
    heading = [
        given_line(read.nominal, assumed, read.scale),
        hold_time_lines(read.nominal, assumed, read.scale).replace("(no interval asked for)", "(best guess)"),
    ]
    calibrated = [] if read.calibrated is None else [read.calibrated.line()]
    typer.echo("\n\n".join([*heading, *calibrated, text, caution_lines(read.nominal)]))
    for path in filter(None, files):
        typer.echo(f"\nwritten: {path}", err=True)
