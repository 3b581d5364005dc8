"""`holdtime plan`: how long to run and to soak, how many repeats, in which order, and which run would teach most."""

from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any

import typer

from geometries.quantities import Dimension
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import Calibration, CalibrationOptions
from thermal_model.cli.limits import options_named
from thermal_model.cli.outputs import check_files
from thermal_model.cli.plan_common import read_asked, show_plan
from thermal_model.cli.plan_repeats import repeats
from thermal_model.cli.plan_schedule import schedule
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.cli.typed import typed_duration, typed_quantity, typed_share
from thermal_model.plan.next_run import advise, usual_candidates
from thermal_model.plan.run_length import run_length
from thermal_model.plan.soak import soak as soaked
from thermal_model.prediction import predict
from thermal_model.report.plan_text import (
    advice_document,
    advice_text,
    run_document,
    run_text,
    soak_document,
    soak_text,
)
from thermal_model.work_done import parts_of

DEFAULT_DRAWS, DEFAULT_SOAK_DRAWS, DEFAULT_SEED = 100, 20, 1

HOT_LIMIT = 333.15
"""To which a hot candidate is followed for its cautions. [K]"""

plan = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Plan a bench: length of runs, soak, repeats, schedule, the next run.",
)

Designs = Annotated[
    TEXTS,
    typer.Argument(metavar="DESIGN...", help="Design files (TOML), or names from: holdtime designs list"),
]


# --- how long to run --------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class RunLengthOptions:
    """What `holdtime plan run` is asked."""

    designs: Designs
    given: ScenarioOptions
    until: options.OneUntil = None
    margin: Annotated[str, typer.Option("--margin", metavar="SHARE", help="Added to the latest time expected.")] = "10%"
    calibration: Calibration = None
    draws: options.Draws = DEFAULT_DRAWS
    seed: options.Seed = DEFAULT_SEED
    answer: AnswerOptions


@plan.command("run")
@command(RunLengthOptions, "holdtime plan run wide_mouth_disc stoneware_cup --fill 200mL --draws 24")
def run(wanted: RunLengthOptions) -> None:
    """Tell how long a run must be to see the limit passed, and when to read."""
    others = (lambda: check_files(None, wanted.answer.output), lambda: typed_share(wanted.margin, "--margin"))
    calibrated = CalibrationOptions(calibration=wanted.calibration)
    asked = read_asked(wanted.designs, wanted.given, wanted.until, calibrated, *others)
    draws = max(wanted.draws, 1)
    common: dict[str, Any] = {"draws": draws, "seed": wanted.seed, "margin": typed_share(wanted.margin, "--margin")}
    with progress_bar(f"computing {draws} samples") as tell:
        lengths = [
            run_length(one.container, one.scenario, one.limits[0], belief=one.belief, progress=tell, **common)
            for one in asked.designs
        ]
    show_plan(run_document(lengths), run_text(lengths, asked.first.scale), asked, wanted.answer)


# --- how long to soak -------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class SoakOptions:
    """What `holdtime plan soak` is asked."""

    designs: Designs
    given: ScenarioOptions
    within: Annotated[str, typer.Option("--within", metavar="DIFFERENCE", help="Of the room: what counts as back.")] = (
        "0.5 K"
    )
    calibration: Calibration = None
    draws: options.Draws = DEFAULT_SOAK_DRAWS
    seed: options.Seed = DEFAULT_SEED
    answer: AnswerOptions


@plan.command("soak")
@command(SoakOptions, "holdtime plan soak slim_neck_double_seal --draws 4")
def soak(wanted: SoakOptions) -> None:
    """Tell how long to stand empty between runs, until everything is back at room temperature."""
    tolerance = partial(
        typed_quantity, wanted.within, Dimension.TEMPERATURE_DIFFERENCE, "--within", above=0.0, at_most=10.0
    )
    calibrated = CalibrationOptions(calibration=wanted.calibration)
    others = (lambda: check_files(None, wanted.answer.output), tolerance)
    asked = read_asked(wanted.designs, wanted.given, None, calibrated, *others)
    common: dict[str, Any] = {"draws": wanted.draws, "seed": wanted.seed, "tolerance": tolerance()}
    with progress_bar("letting them cool") as tell:
        found = []
        parts = parts_of(tell, 2 * len(asked.designs))
        for one in asked.designs:
            cool = partial(soaked, one.container, one.scenario, belief=one.belief, **common)
            has_lid = one.container.lid is not None
            on = cool(is_lid_on=has_lid, progress=next(parts))
            off = next(parts)
            found.append((on, cool(is_lid_on=False, progress=off) if has_lid else None))
    scenario = asked.first.scenario
    text = soak_text(found, float(scenario.start), float(scenario.room), asked.first.scale)
    show_plan(soak_document(found, wanted.draws, wanted.seed), text, asked, wanted.answer)


plan.command("repeats")(repeats)
plan.command("schedule")(schedule)


# --- the run that teaches most ----------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class NextRunOptions:
    """What `holdtime plan next` is asked."""

    design: options.Design
    given: ScenarioOptions
    until: options.OneUntil = None
    length: Annotated[str, typer.Option("--length", metavar="TIME", help="Of every candidate run.")] = "8h"
    calibrated: CalibrationOptions
    answer: AnswerOptions


@plan.command("next")
@command(NextRunOptions, "holdtime plan next single_wall_steel --fill 300mL --until 50C --length 2h")
def next_(wanted: NextRunOptions) -> None:
    """Tell which run would teach most about the hold time that these options ask for."""
    duration = partial(typed_duration, wanted.length, "--length")
    others = (duration, lambda: check_files(None, wanted.answer.output))
    asked = read_asked([wanted.design], wanted.given, wanted.until, wanted.calibrated, *others)
    one = asked.first
    candidates = usual_candidates(one.container, one.scenario)
    with options_named(), progress_bar(f"weighing {len(candidates)} runs") as tell:
        common: dict[str, Any] = {"length": duration(), "belief": one.belief, "progress": tell}
        advice = advise(one.container, one.scenario, one.limits[0], candidates, **common)
    hot = predict(one.container, candidates[0].scenario, [HOT_LIMIT], draws=0)
    show_plan(advice_document(advice), advice_text(advice, one.scale), asked, wanted.answer, hottest=hot)
