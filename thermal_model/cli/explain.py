"""`holdtime explain`: why one container holds longer than another, part by part."""

from dataclasses import dataclass
from typing import Annotated

import typer

from thermal_model.cli import options
from thermal_model.cli.calibration_options import CalibratedAs, Calibration
from thermal_model.cli.explain_all import run_all
from thermal_model.cli.explain_common import Wanted
from thermal_model.cli.explain_conditions import run_story
from thermal_model.cli.explain_pair import run_pair
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.question_options import Until
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.scenario_options import ScenarioOptions

EXAMPLE = "holdtime explain slim_neck_double_seal single_seal_plug --fill 500mL --until 60C"

DEFAULT_DRAWS, DEFAULT_SEED = 32, 1


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime explain` is asked."""

    given: ScenarioOptions
    designs: Annotated[
        TEXTS,
        typer.Argument(
            metavar="A [B]", help="Design files (TOML), or names from: holdtime designs list; one with --against-..."
        ),
    ] = ()
    until: Until = None
    set_b: Annotated[
        TEXTS,
        typer.Option("--set-b", metavar="PATH=VALUE", help="As --set, but in B only: scenario.fill='250mL'."),
    ] = ()
    if_: Annotated[
        TEXTS,
        typer.Option("--if", metavar="PART", help="Give A this part of B: 'lid layers', 'mouth', ...; repeatable."),
    ] = ()
    against_fill: Annotated[
        str | None,
        typer.Option("--against-fill", metavar="FILL", help="A against itself filled 'half', 'quarter' or '250mL'."),
    ] = None
    against_preheat: Annotated[
        str | None,
        typer.Option("--against-preheat", metavar="TEXT", help="A against itself preheated, '5 min at 95 C'."),
    ] = None
    after: Annotated[
        str, typer.Option("--after", metavar="TIME", help="When A is compared with itself in other conditions.")
    ] = "6h"
    all_: Annotated[
        bool,
        typer.Option("--all", help="Which features go with hold time, in designs or a bench folder; none: catalogue."),
    ] = False
    calibration: Calibration = None
    calibrated_as: CalibratedAs = None
    calibrated_as_b: Annotated[
        str | None, typer.Option("--calibrated-as-b", metavar="NAME", help="As --calibrated-as, for B.")
    ] = None
    draws: options.Draws = DEFAULT_DRAWS
    seed: options.Seed = DEFAULT_SEED
    no_interval: options.NoInterval = False
    picture: PictureOptions
    json: options.Json = False
    output: options.Output = None


@command(Asked, EXAMPLE)
def explain(asked: Asked) -> None:
    """Tell why one container holds longer than another, part by part."""
    wanted = Wanted(
        asked.designs,
        asked.until,
        asked.set_b,
        asked.if_,
        asked.against_fill,
        asked.against_preheat,
        asked.after,
        asked.calibration,
        (asked.calibrated_as, asked.calibrated_as_b),
        0 if asked.no_interval else asked.draws,
        asked.seed,
        asked.picture,
        asked.json,
        asked.output,
    )
    _answer(asked.given, wanted, is_about_all=asked.all_)


def _answer(given: ScenarioOptions, wanted: Wanted, *, is_about_all: bool) -> None:
    """Answer the question that was asked."""
    if is_about_all:
        run_all(given, wanted)
    elif wanted.is_story:
        run_story(given, wanted)
    else:
        run_pair(given, wanted)
