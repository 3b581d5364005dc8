"""What the sub-commands of `holdtime plan` have in common: designs in one scenario, a limit, and how answers show."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from geometries.errors import at_once
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import CalibrationOptions
from thermal_model.cli.one_design import OneDesign, read_one_design
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.prediction import Prediction
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_line
from thermal_model.words.paragraphs import in_blocks


@dataclass(frozen=True)
class Asked:
    """Designs in one scenario, with a limit, and the best guess of each."""

    designs: tuple[OneDesign, ...]
    nominal: tuple[Prediction, ...]

    @property
    def first(self) -> OneDesign:
        """The first design; scenario, limit and scale are those of all."""
        return self.designs[0]


def read_asked(
    designs: Sequence[str],
    given: ScenarioOptions,
    until: str | None,
    calibrated: CalibrationOptions,
    *others: Callable[[], Any],
) -> Asked:
    """Return what was asked, or raise the problems of designs, scenario, limit and `others` all together."""
    found = at_once(*(partial(read_one_design, design, given, until, calibrated) for design in designs), *others)
    read: list[OneDesign] = found[: len(designs)]
    with progress_bar("computing best guesses"):
        return Asked(tuple(read), tuple(one.best_guess() for one in read))


def _given_line(asked: Asked) -> str:
    lines = [given_line(one, asked.first.assumed, asked.first.scale) for one in asked.nominal]
    conditions = {line.partition(": ")[2] for line in lines}
    lines = [f"Given: {conditions.pop()}"] if len(conditions) == 1 else lines
    return "\n".join([*lines, *filter(None, (one.calibrated.line() for one in asked.designs))])


def show_plan(
    document: dict[str, Any],
    text: str,
    asked: Asked,
    answer: AnswerOptions,
    hottest: Prediction | None = None,
) -> None:
    """Write the JSON object to a file if asked for; print it, or the text between what was given and the cautions.

    Cautions are those of the first design, or of the hottest run that is meant.
    """
    warned = hottest or asked.nominal[0]
    document |= {
        "warnings": warning_lines(warned),
        "inputs": {
            "designs": [one.container.model_dump(mode="json") for one in asked.designs],
            "scenario": asked.first.scenario.model_dump(mode="json"),
            "assumed": sorted(asked.first.assumed),
            "calibration": [*filter(None, (one.calibrated.document() for one in asked.designs))],
        },
    }
    answer.give(lambda: in_blocks([_given_line(asked), text, caution_lines(warned)]), document)
