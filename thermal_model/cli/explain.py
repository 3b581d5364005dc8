"""`holdtime explain`: why one container holds longer than another, part by part."""

from typing import Annotated

import typer

from thermal_model.cli import options
from thermal_model.cli.calibration_options import CalibratedAs, Calibration
from thermal_model.cli.explain_all import run_all
from thermal_model.cli.explain_common import Wanted
from thermal_model.cli.explain_conditions import run_story
from thermal_model.cli.explain_pair import run_pair
from thermal_model.cli.question_options import Plot, Until
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.cli.scenario_signature import with_scenario

EXAMPLE = "holdtime explain slim_neck_double_seal single_seal_plug --fill 500mL --until 60C"

DEFAULT_DRAWS, DEFAULT_SEED = 32, 1


@with_scenario
def explain(
    given: ScenarioOptions,
    designs: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="A [B]", help="Design files (TOML), or names from: holdtime designs list; one with --against-..."
        ),
    ] = None,
    until: Until = None,
    set_b: Annotated[
        list[str] | None,
        typer.Option("--set-b", metavar="PATH=VALUE", help="As --set, but in B only: scenario.fill='250mL'."),
    ] = None,
    if_: Annotated[
        list[str] | None,
        typer.Option("--if", metavar="PART", help="Give A this part of B: 'lid layers', 'mouth', ...; repeatable."),
    ] = None,
    against_fill: Annotated[
        str | None,
        typer.Option("--against-fill", metavar="FILL", help="A against itself filled 'half', 'quarter' or '250mL'."),
    ] = None,
    against_preheat: Annotated[
        str | None,
        typer.Option("--against-preheat", metavar="TEXT", help="A against itself preheated, '5 min at 95 C'."),
    ] = None,
    after: Annotated[
        str, typer.Option("--after", metavar="TIME", help="When A is compared with itself in other conditions.")
    ] = "6h",
    all_: Annotated[
        bool,
        typer.Option("--all", help="Which features go with hold time, in designs or a bench folder; none: catalogue."),
    ] = False,
    calibration: Calibration = None,
    calibrated_as: CalibratedAs = None,
    calibrated_as_b: Annotated[
        str | None, typer.Option("--calibrated-as-b", metavar="NAME", help="As --calibrated-as, for B.")
    ] = None,
    draws: options.Draws = DEFAULT_DRAWS,
    seed: options.Seed = DEFAULT_SEED,
    no_interval: options.NoInterval = False,
    plot: Plot = None,
    json: options.Json = False,
    output: options.Output = None,
) -> None:
    """Tell why one container holds longer than another, part by part."""
    wanted = Wanted(
        tuple(designs or ()),
        until,
        tuple(set_b or ()),
        tuple(if_ or ()),
        against_fill,
        against_preheat,
        after,
        calibration,
        (calibrated_as, calibrated_as_b),
        0 if no_interval else draws,
        seed,
        plot,
        json,
        output,
    )
    _answer(given, wanted, is_about_all=all_)


def _answer(given: ScenarioOptions, wanted: Wanted, *, is_about_all: bool) -> None:
    """Answer the question that was asked."""
    if is_about_all:
        run_all(given, wanted)
    elif wanted.is_story:
        run_story(given, wanted)
    else:
        run_pair(given, wanted)


explain.__doc__ = f"{explain.__doc__}\n\nExample: {EXAMPLE}"
