"""What the sub-commands of `holdtime plan` have in common: designs in one scenario, a limit, and how answers show."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import typer

from geometries.container import Container
from geometries.errors import InputError, at_once
from thermal_model.cli.assumed import assumed_inputs
from thermal_model.cli.calibration_options import Calibrated, read_calibrated
from thermal_model.cli.limits import default_limit, read_limits, with_option_names
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.prediction import Prediction, predict
from thermal_model.report.results import json_text, warning_lines, write_json
from thermal_model.report.summary import caution_lines, given_line
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import Belief
from thermal_model.words.numbers import Scale, scale_of


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
        return tuple(None if one is None else one.belief for one in self.known)


def read_asked(
    designs: Sequence[str],
    given: ScenarioOptions,
    until: str | None,
    *others: Callable[[], Any],
    calibration: Path | None = None,
    calibrated_as: str | None = None,
) -> Asked:
    """Return what was asked, or raise the problems of designs, scenario, limit and `others` all together."""
    count = len(designs)
    scenario, typed, *found = at_once(
        partial(read_scenario, given),
        lambda: read_limits((until,) if until is not None else ()),
        *(partial(read_design, design, given.settings, calibration) for design in designs),
        *(partial(read_calibrated, calibration, calibrated_as, design) for design in designs),
        *others,
    )
    containers, known = tuple(found[:count]), tuple(found[count : 2 * count])
    limit = typed[0] if typed else default_limit(scenario)
    try:
        with progress_bar("computing best guesses"):
            nominal = tuple(
                predict(container, scenario, [limit], draws=0, belief=None if one is None else one.belief)
                for container, one in zip(containers, known, strict=True)
            )
    except InputError as error:
        raise with_option_names(error) from None
    assumed = assumed_inputs(scenario, has_limit=bool(typed))
    scale = scale_of(until, given.start, given.room)
    return Asked(containers, scenario, limit, nominal, assumed, scale, known)


def _given_line(asked: Asked) -> str:
    lines = [given_line(one, asked.assumed, asked.scale) for one in asked.nominal]
    conditions = {line.partition(": ")[2] for line in lines}
    lines = [f"Given: {conditions.pop()}"] if len(conditions) == 1 else lines
    return "\n".join([*lines, *(one.line() for one in asked.known if one is not None)])


def show_plan(
    document: dict[str, Any],
    blocks: Sequence[str],
    asked: Asked | None,
    json: bool,
    output: Path | None,
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
    if output is not None:
        write_json(output, document)
    if json:
        typer.echo(json_text(document), nl=False)
        return
    around = [_given_line(asked), *blocks, caution_lines(warned)] if asked is not None else blocks
    typer.echo("\n\n".join(around))
    for path in filter(None, (output, *files)):
        typer.echo(f"\nwritten: {path}", err=True)
