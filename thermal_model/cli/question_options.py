"""What commands that ask one question of many designs have in common: design, scenario, one limit, files."""

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any

import typer

from geometries.container import Container
from geometries.errors import at_once
from geometries.ranges import Range
from thermal_model.cli import options
from thermal_model.cli.calibration_options import Calibrated, CalibratedAs, Calibration
from thermal_model.cli.limits import options_named
from thermal_model.cli.one_design import read_one_design
from thermal_model.cli.scenario_options import ScenarioOptions, refuse_given_and_varied
from thermal_model.cli.settings import assignment
from thermal_model.prediction import Prediction, predict
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_conditions, given_line, hold_time_lines, limit_text
from thermal_model.scenario import Scenario
from thermal_model.study.axes import Axis, read_axes
from thermal_model.study.question import Question
from thermal_model.version import version
from thermal_model.words.numbers import Scale
from thermal_model.words.paragraphs import in_blocks

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
    assumed : frozenset of str
        Inputs that were not given.
    scale : Scale
        Of the temperatures shown.
    calibrated : Calibrated or None
    given : ScenarioOptions
        As typed.
    """

    question: Question
    nominal: Prediction
    assumed: frozenset[str]
    scale: Scale
    calibrated: Calibrated | None = None
    given: ScenarioOptions = field(default_factory=ScenarioOptions)

    @property
    def subtitle(self) -> str:
        """What was given, for a picture."""
        limit = limit_text(self.question.limit, self.question.scenario, self.scale)
        return f"{given_conditions(self.nominal, self.scale)}; stays {limit}"


def read_question(asked: Asked, *others: Callable[[], Any]) -> Read:
    """Return what was asked, or raise the problems of design, scenario, limit and `others` all together."""
    one = read_one_design(asked.design, asked.given, asked.until, asked.calibration, asked.calibrated_as, *others)
    with options_named():
        nominal = predict(one.container, one.scenario, one.limits, draws=0, belief=one.belief)
    question = Question.calibrated(one.container, one.scenario, one.limits[0], one.belief)
    return Read(question, nominal, one.assumed, one.scale, one.calibrated, asked.given)


def read_variations(texts: Sequence[str], read: Read, option: str = "--vary") -> list[Axis]:
    """Return the axes that an option gives; none of them may be set as well.

    Raises
    ------
    InputError
        With the problems of all of them.
    """
    question = read.question
    axes = varied_axes(texts, question.container, question.scenario, read.given, option)
    for axis in axes:
        if axis.is_number:
            question.check_values(axis.path, _ends(axis), option)
    return axes


def varied_axes(
    texts: Sequence[str], container: Container, scenario: Scenario, given: ScenarioOptions, option: str = "--vary"
) -> list[Axis]:
    """Return what an option varies; none of it may be set as well."""
    example = "body.neck.mouth_diameter='35..60 mm:6'"
    pairs = at_once(*(functools.partial(assignment, text, option, example) for text in texts))
    axes = read_axes(pairs, container, scenario, option)
    refuse_given_and_varied(given, [axis.path for axis in axes], option)
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
            "assumed": sorted(read.assumed),
        },
        "version": version(),
    }


def question_text(text: str, read: Read) -> str:
    """Return the answer under what was given and over the cautions."""
    heading = [
        given_line(read.nominal, read.assumed, read.scale),
        hold_time_lines(read.nominal, read.assumed, read.scale).replace("(no interval asked for)", "(best guess)"),
    ]
    calibrated = [] if read.calibrated is None else [read.calibrated.line()]
    return in_blocks([*heading, *calibrated, text, caution_lines(read.nominal)])
