"""`holdtime bundle`: a bench with its designs, calibration and rankings, for others to make again."""

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated

import typer

from geometries.errors import InputError, at_once
from geometries.files import new_folder
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli import options
from thermal_model.cli.limits import default_limit, options_named, read_limits
from thermal_model.cli.lists import ListOptions
from thermal_model.cli.outputs import check_files
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario

EXAMPLE = "holdtime bundle galley_bench --fill 350mL --until 60C --output galley.zip"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime bundle` is asked."""

    bench: options.Bench
    given: ScenarioOptions
    until: options.OneUntil = None
    lists: ListOptions
    draws: options.Draws = 100
    seed: options.Seed = 1
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="ZIP|FOLDER", help="A .zip file, or a folder that is made.")
    ]


@command(Asked, EXAMPLE)
def bundle(asked: Asked) -> None:
    """Pack a bench with its designs, calibration and rankings, for others to make again: holdtime reproduce."""
    from thermal_model.bundle.pack import pack, zipped
    from thermal_model.bundle.recipe import ListRecipe, Recipe, make

    with progress_bar(READING):
        bench, scenario, typed, *_ = at_once(
            lambda: read_bench(asked.bench),
            lambda: read_scenario(asked.given),
            lambda: read_limits(asked.until),
            lambda: check_files(None, asked.output),
            lambda: _check_ending(asked.output),
        )
    limit = typed[0] if typed else default_limit(scenario)
    lists = {
        name: ListRecipe(scenario=conditions, limit=until)
        for name, (conditions, until) in asked.lists.of(scenario, limit).items()
    }
    recipe = Recipe(lists=lists, draws=asked.draws, seed=asked.seed)
    with options_named(), progress_bar("calibrating and ranking") as show:
        made = make(bench, recipe, show)
    if asked.output.suffix.lower() == ".zip":
        with TemporaryDirectory(prefix="holdtime-") as place:
            pack(asked.bench, Path(place), bench, recipe, made)
            zipped(Path(place), asked.output)
    else:
        with new_folder(asked.output) as growing:
            pack(asked.bench, growing, bench, recipe, made)
    typer.echo(f"written: {asked.output}; to make it again: holdtime reproduce {asked.output}", err=True)


def _check_ending(output: Path) -> None:
    if output.suffix and output.suffix.lower() != ".zip":
        message = f"ends in {output.suffix}; a bundle is a .zip file, or a folder, whose name has no ending"
        raise InputError(message, source=str(output))
