"""What commands that ask one question of many designs have in common: design, scenario, one limit, files."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any

import typer

from geometries.container import Container
from geometries.errors import at_once
from geometries.ranges import Range
from thermal_model.cli import options
from thermal_model.cli.calibration_options import CalibrationOptions
from thermal_model.cli.one_design import OneDesign, read_one_design
from thermal_model.cli.scenario_options import ScenarioOptions, refuse_given_and_varied
from thermal_model.cli.settings import assignment
from thermal_model.prediction import Prediction
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_conditions, given_line, hold_time_lines, limit_text
from thermal_model.scenario import Scenario
from thermal_model.study.axes import Axis, read_axes
from thermal_model.study.question import Question
from thermal_model.version import version
from thermal_model.words.paragraphs import in_blocks

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
    until: options.OneUntil = None
    given: ScenarioOptions
    calibrated: CalibrationOptions


@dataclass(frozen=True)
class Read:
    """A question with what surrounds it.

    Attributes
    ----------
    question : Question
    one : OneDesign
        The design itself.
    nominal : Prediction
        Of the design itself, without an interval.
    given : ScenarioOptions
        As typed.
    """

    question: Question
    one: OneDesign
    nominal: Prediction
    given: ScenarioOptions

    @property
    def subtitle(self) -> str:
        """What was given, for a picture."""
        limit = limit_text(self.question.limit, self.question.scenario, self.one.scale)
        return f"{given_conditions(self.nominal, self.one.scale)}; stays {limit}"


def read_question(asked: Asked, *others: Callable[[], Any]) -> Read:
    """Return what was asked, or raise the problems of design, scenario, limit and `others` all together."""
    one = read_one_design(asked.design, asked.given, asked.until, asked.calibrated, *others)
    nominal = one.best_guess()
    question = Question.calibrated(one.container, one.scenario, one.limits[0], one.belief)
    return Read(question, one, nominal, asked.given)


def read_variations(texts: Sequence[str], read: Read) -> list[Axis]:
    """Return the axes that --vary gives; none of them may be set as well.

    Raises
    ------
    InputError
        With the problems of all of them.
    """
    question = read.question
    axes = varied_axes(texts, question.container, question.scenario, read.given)
    for axis in axes:
        if axis.is_number:
            of = axis.variation
            ends = (of.low, of.high) if isinstance(of, Range) else (axis.points.min(), axis.points.max())
            question.check_values(axis.path, ends, "--vary")
    return axes


def varied_axes(texts: Sequence[str], container: Container, scenario: Scenario, given: ScenarioOptions) -> list[Axis]:
    """Return what --vary says; none of it may be set as well."""
    example = "body.neck.mouth_diameter='35..60 mm:6'"
    pairs = at_once(*(partial(assignment, text, "--vary", example) for text in texts))
    axes = read_axes(pairs, container, scenario, "--vary")
    refuse_given_and_varied(given, [axis.path for axis in axes], "--vary")
    return axes


def question_document(read: Read) -> dict[str, Any]:
    """Return what was asked and which version answers, for the end of a JSON object."""
    return read.one.calibrated.entry() | {
        "warnings": warning_lines(read.nominal),
        "inputs": {
            "design": read.nominal.container.model_dump(mode="json"),
            "scenario": read.question.scenario.model_dump(mode="json"),
            "until_K": read.question.limit,
            "assumed": sorted(read.one.assumed),
        },
        "version": version(),
    }


def question_text(text: str, read: Read) -> str:
    """Return the answer under what was given and over the cautions."""
    one, nominal = read.one, read.nominal
    given = given_line(nominal, one.assumed, one.scale)
    held = hold_time_lines(nominal, one.assumed, one.scale).replace("(no interval asked for)", "(best guess)")
    return in_blocks([given, held, one.calibrated.line(), text, caution_lines(nominal)])
