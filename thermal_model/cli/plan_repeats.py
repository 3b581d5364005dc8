"""`holdtime plan repeats`: how many runs of each container separate two of them."""

import math
from dataclasses import dataclass
from typing import Annotated, Any

import typer

from geometries.errors import InputError, InputProblem, at_once, refuse
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import Calibration
from thermal_model.cli.one_design import belief_of
from thermal_model.cli.outputs import check_files
from thermal_model.cli.plan_common import Asked, read_asked, show_plan
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.question_options import Until
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.cli.typed import typed_share
from thermal_model.plan.repeatability import LID_SEATING, expected_repeatability, together
from thermal_model.plan.repeats import ContainerComparison, Repeatability, difference_found, repeats_for
from thermal_model.report.plan_text import found_text, repeats_text, signed_percent


@dataclass(frozen=True)
class _Spreads:
    """What is to be found, against what scatter, and where the figures are from."""

    difference: float | None
    is_predicted: bool
    repeatability: Repeatability
    why: str


@dataclass(frozen=True, kw_only=True)
class RepeatsOptions:
    """What `holdtime plan repeats` is asked."""

    given: ScenarioOptions
    designs: Annotated[
        TEXTS, typer.Argument(metavar="[A [B]]", help="Two designs to tell apart, or one for its scatter.")
    ] = ()
    until: Until = None
    difference: Annotated[
        str | None, typer.Option("--difference", metavar="SHARE", help="In hold time, '5 %'; else that of A and B.")
    ] = None
    repeatability: Annotated[
        str | None, typer.Option("--repeatability", metavar="SHARE", help="Scatter from run to run, '2 %'.")
    ] = None
    days: Annotated[str | None, typer.Option("--days", metavar="SHARE", help="Scatter from day to day, '1 %'.")] = None
    repeats_: Annotated[
        int | None, typer.Option("--repeats", min=1, max=1000, help="So many runs: which difference do they find?")
    ] = None
    power: Annotated[str, typer.Option("--power", metavar="SHARE", help="Probability of finding it.")] = "80%"
    significance: Annotated[
        str, typer.Option("--significance", metavar="SHARE", help="How often to claim a difference that is not there.")
    ] = "5%"
    calibration: Calibration = None
    answer: AnswerOptions


@command(RepeatsOptions, "holdtime plan repeats --difference 5% --repeatability 3%")
def repeats(wanted: RepeatsOptions) -> None:
    """Tell how many runs of each container separate two of them, with stated power."""
    _check_repeats(wanted)
    names = wanted.designs
    wanted_power, level, *_ = at_once(
        lambda: typed_share(wanted.power, "--power"),
        lambda: typed_share(wanted.significance, "--significance"),
        lambda: check_files(None, wanted.answer.output),
    )
    asked = read_asked(names, wanted.given, wanted.until, calibration=wanted.calibration) if names else None
    with progress_bar("counting repeats"):
        spreads = _spreads(asked, wanted)
        if wanted.repeats_ is not None:
            found = _found(spreads, wanted.repeats_, wanted_power, level)
        else:
            found = _needed(spreads, wanted_power, level)
    show_plan(*found, asked, wanted.answer)


def _check_repeats(wanted: RepeatsOptions) -> None:
    names, wants_found, problems = wanted.designs, wanted.repeats_ is not None, []
    if len(names) > 2:
        problems.append(InputProblem(f"give two designs at most; given: {len(names)}", "designs"))
    if not names and wanted.repeatability is None:
        problems.append(InputProblem("give --repeatability '2 %', or a design that says what to expect"))
    if wanted.calibration is not None and not names:
        problems.append(InputProblem("goes with a design that it knows", source="--calibration"))
    if wants_found and wanted.difference is not None:
        problems.append(InputProblem("give --difference or --repeats, not both", source="--repeats"))
    if not wants_found and wanted.difference is None and len(names) < 2:
        problems.append(InputProblem("give --difference '5 %', two designs to tell apart, or --repeats 5"))
    refuse(problems)


def _spreads(asked: Asked | None, typed: RepeatsOptions) -> _Spreads:
    wanted = None if typed.difference is None else math.log1p(typed_share(typed.difference, "--difference"))
    if wanted is None and asked is not None and len(asked.containers) == 2:
        times = [one.hold_times[0].nominal for one in asked.nominal]
        if None in times or times[0] == times[1]:
            raise InputError("is not to be had from these designs; give it", source="--difference")
        wanted = math.log(times[0]) - math.log(times[1])  # type: ignore[arg-type]
    is_predicted = typed.difference is None
    days = None if typed.days is None else typed_share(typed.days, "--days")
    if typed.repeatability is not None:
        within = typed_share(typed.repeatability, "--repeatability")
        return _Spreads(wanted, is_predicted, Repeatability(within, days or 0.0), "as given.")
    assert asked is not None
    expected = together(
        [
            expected_repeatability(
                container,
                asked.scenario,
                asked.limit,
                belief=belief_of(known),
                seating=None if known is None else known.seating,
            )
            for container, known in zip(asked.containers, asked.known, strict=True)
        ]
    )
    between = expected.between_days if days is None else days
    known = asked.known[0]
    seat = (
        f"with {100.0 * LID_SEATING:.0f} % for how the lid seats (judgement). Measure it: holdtime bench reduce."
        if known is None
        else f"and from how differently lids sat on {known.bench}."
    )
    names = " and ".join(container.name for container in asked.containers)
    why = f"expected of {names} from jug, thermometer and room, {seat}"
    return _Spreads(wanted, is_predicted, Repeatability(expected.within_day, between), why)


def _needed(spreads: _Spreads, power: float, significance: float) -> tuple[dict[str, Any], list[str]]:
    assert spreads.difference is not None
    size = spreads.difference
    what = signed_percent(abs(size)) + (", as predicted of these two," if spreads.is_predicted else "")
    plans = [
        repeats_for(c, size, spreads.repeatability, power=power, significance=significance) for c in ContainerComparison
    ]
    document = _repeats_document(spreads, power, significance) | {
        "repeats": [{"comparison": p.comparison.value, "repeats": p.repeats, "power": p.power} for p in plans]
    }
    return document, [repeats_text(plans, what, spreads.repeatability, spreads.why, power, significance)]


def _found(spreads: _Spreads, repeats: int, power: float, significance: float) -> tuple[dict[str, Any], list[str]]:

    found = [
        (c, difference_found(c, repeats, spreads.repeatability, power=power, significance=significance))
        for c in ContainerComparison
    ]
    document = _repeats_document(spreads, power, significance) | {
        "repeats_given": repeats,
        "differences": [{"comparison": c.value, "log_ratio": d if math.isfinite(d) else None} for c, d in found],
    }
    return document, [found_text(found, repeats, spreads.repeatability, spreads.why, power)]


def _repeats_document(spreads: _Spreads, power: float, significance: float) -> dict[str, Any]:
    return {
        "log_ratio": spreads.difference,
        "within_day": spreads.repeatability.within_day,
        "between_days": spreads.repeatability.between_days,
        "source": spreads.why,
        "power": power,
        "significance": significance,
    }
