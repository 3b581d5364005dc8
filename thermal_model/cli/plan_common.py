"""What the sub-commands of `holdtime plan` have in common: designs in one scenario, a limit, and how answers show."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from geometries.container import Container
from geometries.errors import at_once
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import Calibrated
from thermal_model.cli.limits import options_named
from thermal_model.cli.one_design import OneDesign, belief_of, read_one_design
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.prediction import Prediction, predict
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_line
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import Belief
from thermal_model.words.numbers import Scale
from thermal_model.words.paragraphs import in_blocks


@dataclass(frozen=True)
class Asked:
    """Designs in one scenario, and a limit."""

    containers: tuple[Container, ...]
    scenario: Scenario
    limit: float
    nominal: tuple[Prediction, ...]
    assumed: frozenset[str]
    scale: Scale
    known: tuple[Calibrated | None, ...]

    @property
    def beliefs(self) -> tuple[Belief | None, ...]:
        """What is known of each design's unknowns."""
        return tuple(map(belief_of, self.known))


def read_asked(
    designs: Sequence[str],
    given: ScenarioOptions,
    until: str | None,
    *others: Callable[[], Any],
    calibration: Path | None = None,
    calibrated_as: str | None = None,
) -> Asked:
    """Return what was asked, or raise the problems of designs, scenario, limit and `others` all together."""
    found = at_once(
        *(partial(read_one_design, design, given, until, calibration, calibrated_as) for design in designs), *others
    )
    read: list[OneDesign] = found[: len(designs)]
    with options_named(), progress_bar("computing best guesses"):
        nominal = tuple(predict(one.container, one.scenario, one.limits, draws=0, belief=one.belief) for one in read)
    first = read[0]
    return Asked(
        tuple(one.container for one in read),
        first.scenario,
        first.limits[0],
        nominal,
        first.assumed,
        first.scale,
        tuple(one.calibrated for one in read),
    )


def _given_line(asked: Asked) -> str:
    lines = [given_line(one, asked.assumed, asked.scale) for one in asked.nominal]
    conditions = {line.partition(": ")[2] for line in lines}
    lines = [f"Given: {conditions.pop()}"] if len(conditions) == 1 else lines
    return "\n".join([*lines, *(one.line() for one in asked.known if one is not None)])


def show_plan(
    document: dict[str, Any],
    blocks: Sequence[str],
    asked: Asked | None,
    answer: AnswerOptions,
    *files: Path | None,
    hottest: Prediction | None = None,
) -> None:
    """Write the JSON object to a file if asked for; print it, or the text between what was given and the cautions.

    Cautions are those of the first design, or of the hottest run that is meant.
    """
    if asked is not None:
        warned = hottest or asked.nominal[0]
        document |= {
            "warnings": warning_lines(warned),
            "inputs": {
                "designs": [container.model_dump(mode="json") for container in asked.containers],
                "scenario": asked.scenario.model_dump(mode="json"),
                "assumed": sorted(asked.assumed),
                "calibration": [one.document() for one in asked.known if one is not None],
            },
        }
    around = [_given_line(asked), *blocks, caution_lines(warned)] if asked is not None else blocks
    answer.give(lambda: in_blocks(around), document, *files)
