"""`holdtime carry`: from the bench's condition to the reader's."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.errors import InputError, at_once
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions, print_json
from thermal_model.cli.calibration_options import CalibrationOptions
from thermal_model.cli.limits import options_named
from thermal_model.cli.one_design import OneDesign, read_one_design
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.judge.carry import carry as carried
from thermal_model.judge.scenario_library import CarryScenario, copy_scenario, library_names, load_carry_scenario
from thermal_model.prediction import predict
from thermal_model.report.carry_plots import carried_picture
from thermal_model.report.carry_text import carry_document, carry_text
from thermal_model.report.summary import given_conditions
from thermal_model.words.numbers import aligned
from thermal_model.words.paragraphs import in_blocks
from thermal_model.work_done import parts_of

EXAMPLE = "holdtime carry slim_neck_double_seal --fill 500mL --to tea_at_the_counter --to iced_water_at_the_helm"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime carry` is asked."""

    given: ScenarioOptions
    design: Annotated[
        str | None,
        typer.Argument(metavar="DESIGN", help="A design file (TOML), or a name from: holdtime designs list"),
    ] = None
    until: options.Until = ()
    to: Annotated[
        tuple[str, ...],
        typer.Option("--to", metavar="SCENARIO", help="A name from --list, or a file; repeatable; left out: all."),
    ] = ()
    list_: Annotated[bool, typer.Option("--list", help="Print the scenarios that come along, and do no more.")] = False
    copy: Annotated[
        str | None, typer.Option("--copy", metavar="SCENARIO", help="Copy one into this folder, to change it.")
    ] = None
    calibrated: CalibrationOptions
    draws: options.Draws = 64
    seed: options.Seed = 1
    no_interval: options.NoInterval = False
    picture: PictureOptions
    answer: AnswerOptions


@command(Asked, EXAMPLE)
def carry(wanted: Asked) -> None:
    """Carry a container from the bench's condition, which the options give, to other scenarios."""
    if wanted.list_:
        _list_scenarios(wants_json=wanted.answer.json)
    elif wanted.copy is not None:
        written = copy_scenario(wanted.copy, Path())
        typer.echo(f"written: {', '.join(map(str, written))}; change it, then: --to {written[0]}", err=True)
    else:
        _run(wanted)


def _list_scenarios(*, wants_json: bool) -> None:
    scenarios = {name: load_carry_scenario(name) for name in library_names()}
    if wants_json:
        documents = [{"name": name, **wanted.model_dump(mode="json")} for name, wanted in scenarios.items()]
        print_json({"scenarios": documents})
        return
    typer.echo(aligned([(name, wanted.summary) for name, wanted in scenarios.items()], indent=""))


def _run(wanted: Asked) -> None:
    one, scenarios, _ = at_once(
        lambda: _read(wanted), lambda: _scenarios(wanted.to), lambda: wanted.picture.check(wanted.answer.output)
    )
    draws = 0 if wanted.no_interval else wanted.draws
    drawn: dict[str, Any] = {"draws": draws, "seed": wanted.seed, "belief": one.belief}
    with options_named(), progress_bar(f"computing {len(scenarios) + 1} scenarios") as tell:
        parts = parts_of(tell, 2)
        bench = predict(one.container, one.scenario, one.limits, progress=next(parts), **drawn)
        found = carried(one.container, scenarios, progress=next(parts), **drawn)
    document = carry_document(bench, found, sorted(one.assumed))
    picture = carried_picture(bench, found, given_conditions(bench, one.scale), one.scale)
    document = wanted.picture.drawn_into(document, picture) | one.calibrated.entry()
    wanted.answer.give(
        lambda: in_blocks([one.calibrated.line(), carry_text(bench, found, one.assumed, one.scale)]),
        document,
        wanted.picture.plot,
    )


def _read(wanted: Asked) -> OneDesign:
    if wanted.design is None:
        raise InputError("give a design file, or a name from: holdtime designs list", "design")
    return read_one_design(wanted.design, wanted.given, wanted.until, wanted.calibrated)


def _scenarios(names: tuple[str, ...]) -> dict[str, CarryScenario]:
    wanted = dict.fromkeys(names or library_names())
    return dict(zip(wanted, at_once(*(partial(load_carry_scenario, name) for name in wanted)), strict=True))
