"""`holdtime carry`: from the bench's condition to the reader's."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.container import Container
from geometries.errors import InputError, InputProblem, at_once
from thermal_model.cli import options
from thermal_model.cli.assumed import assumed_inputs
from thermal_model.cli.calibration_options import Calibrated, CalibratedAs, Calibration, read_calibrated
from thermal_model.cli.limits import default_limit, read_limits, with_option_names
from thermal_model.cli.picture_options import PictureOptions, with_picture
from thermal_model.cli.progress import parts_of, progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.judge.carry import Carried
from thermal_model.judge.carry import carry as carried
from thermal_model.judge.scenario_library import CarryScenario, copy_scenario, library_names, load_carry_scenario
from thermal_model.prediction import Prediction, predict
from thermal_model.report.carry_plots import carried_picture
from thermal_model.report.carry_text import carry_document, carry_text
from thermal_model.report.results import json_text, write_json
from thermal_model.report.summary import given_line
from thermal_model.words.numbers import Scale, aligned, scale_of

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
    calibration: Calibration = None
    calibrated_as: CalibratedAs = None
    draws: options.Draws = 64
    seed: options.Seed = 1
    no_interval: options.NoInterval = False
    picture: PictureOptions
    json: options.Json = False
    output: options.Output = None


@command(Asked, EXAMPLE)
def carry(wanted: Asked) -> None:
    """Carry a container from the bench's condition, which the options give, to other scenarios."""
    if wanted.list_:
        _list_scenarios(wants_json=wanted.json)
    elif wanted.copy is not None:
        _copy(wanted.copy)
    else:
        _run(wanted)


def _list_scenarios(*, wants_json: bool) -> None:
    scenarios = {name: load_carry_scenario(name) for name in library_names()}
    if wants_json:
        documents = [{"name": name, **wanted.model_dump(mode="json")} for name, wanted in scenarios.items()]
        typer.echo(json_text({"scenarios": documents}), nl=False)
        return
    typer.echo(aligned([(name, wanted.summary) for name, wanted in scenarios.items()], indent=""))


def _copy(name: str) -> None:
    written = copy_scenario(name, Path())
    typer.echo(f"written: {', '.join(map(str, written))}; change it, then: --to {written[0]}", err=True)


def _run(wanted: Asked) -> None:
    container, scenario, typed, scenarios, known, _ = at_once(
        lambda: _container(wanted.design, wanted.given, wanted.calibration),
        lambda: read_scenario(wanted.given),
        lambda: read_limits(wanted.until),
        lambda: _scenarios(wanted.to),
        lambda: read_calibrated(wanted.calibration, wanted.calibrated_as, wanted.design or ""),
        lambda: wanted.picture.check(wanted.output),
    )
    limits = typed or [default_limit(scenario)]
    try:
        with progress_bar(f"computing {len(scenarios) + 1} scenarios") as tell:
            belief = None if known is None else known.belief
            drawn: dict[str, Any] = {
                "draws": 0 if wanted.no_interval else wanted.draws,
                "seed": wanted.seed,
                "belief": belief,
            }
            parts = parts_of(tell, 2)
            bench = predict(container, scenario, limits, progress=next(parts), **drawn)
            found = carried(container, scenarios, progress=next(parts), **drawn)
    except InputError as error:
        raise with_option_names(error) from None
    assumed = tuple(sorted(assumed_inputs(scenario, has_limit=bool(typed))))
    _write(bench, found, assumed, known, wanted, scale_of(*wanted.until, wanted.given.start, wanted.given.room))


def _container(design: str | None, given: ScenarioOptions, calibration: Path | None) -> Container:
    if design is None:
        raise InputError(InputProblem("give a design file, or a name from: holdtime designs list", "design"))
    return read_design(design, given.settings, calibration)


def _scenarios(names: tuple[str, ...]) -> dict[str, CarryScenario]:

    wanted = dict.fromkeys(names or library_names())
    return dict(zip(wanted, at_once(*(partial(load_carry_scenario, name) for name in wanted)), strict=True))


def _write(
    bench: Prediction,
    found: list[Carried],
    assumed: tuple[str, ...],
    known: Calibrated | None,
    wanted: Asked,
    scale: Scale,
) -> None:

    given = given_line(bench, frozenset(), scale).partition(": ")[2]
    picture = carried_picture(bench, found, given, scale)
    document = with_picture(carry_document(bench, found, assumed), picture)
    if known is not None:
        document["calibration"] = known.document()
    if wanted.output is not None:
        write_json(wanted.output, document)
    wanted.picture.draw(picture)
    if wanted.json:
        typer.echo(json_text(document), nl=False)
        return
    if known is not None:
        typer.echo(f"{known.line()}\n")
    typer.echo(carry_text(bench, found, frozenset(assumed), scale))
    for path in filter(None, (wanted.output, wanted.picture.plot)):
        typer.echo(f"\nwritten: {path}", err=True)
