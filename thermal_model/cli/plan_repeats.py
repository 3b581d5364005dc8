"""`holdtime plan repeats`: how many runs of each container separate two of them."""

import math
from dataclasses import dataclass
from typing import Annotated, Any

import typer

from geometries.errors import InputError, InputProblem, at_once, refuse
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import Calibration, CalibrationOptions
from thermal_model.cli.outputs import check_files
from thermal_model.cli.plan_common import Asked, read_asked, show_plan
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.scenario_options import ScenarioOptions
from thermal_model.cli.typed import typed_share
from thermal_model.plan.repeatability import LID_SEATING, expected_repeatability, together
from thermal_model.plan.repeats import ContainerComparison, Repeatability, difference_found, repeats_for
from thermal_model.report.plan_text import found_text, repeats_text, signed_percent
from thermal_model.words.documents import plain


@dataclass(frozen=True, kw_only=True)
class RepeatsOptions:
    """What `holdtime plan repeats` is asked."""

    given: ScenarioOptions
    designs: Annotated[
        TEXTS, typer.Argument(metavar="[A [B]]", help="Two designs to tell apart, or one for its scatter.")
    ] = ()
    until: options.OneUntil = None
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
    calibrated = CalibrationOptions(calibration=wanted.calibration)
    asked = read_asked(names, wanted.given, wanted.until, calibrated) if names else None
    with progress_bar("counting repeats"):
        difference = _difference(asked, wanted)
        scatter, why = _scatter(asked, wanted)
        document = {
            "log_ratio": difference,
            "within_day": scatter.within_day,
            "between_days": scatter.between_days,
            "source": why,
            "power": wanted_power,
            "significance": level,
        }
        tested: dict[str, Any] = {"power": wanted_power, "significance": level}
        if wanted.repeats_ is not None:
            found = [(c, difference_found(c, wanted.repeats_, scatter, **tested)) for c in ContainerComparison]
            sizes = [{"comparison": c.value, "log_ratio": plain(size)} for c, size in found]
            document |= {"repeats_given": wanted.repeats_, "differences": sizes}
            text = found_text(found, wanted.repeats_, scatter, why, wanted_power)
        else:
            assert difference is not None
            plans = [repeats_for(c, difference, scatter, **tested) for c in ContainerComparison]
            document["repeats"] = [
                {"comparison": p.comparison.value, "repeats": p.repeats, "power": p.power} for p in plans
            ]
            of_whom = "" if wanted.difference is not None else ", as predicted of these two,"
            what = signed_percent(abs(difference)) + of_whom
            text = repeats_text(plans, what, scatter, why, wanted_power, level)
    if asked is None:
        wanted.answer.give(lambda: text, document)
    else:
        show_plan(document, text, asked, wanted.answer)


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


def _difference(asked: Asked | None, wanted: RepeatsOptions) -> float | None:
    """Return the difference of log hold times that is to be found, as typed or as predicted of two designs."""
    if wanted.difference is not None:
        return math.log1p(typed_share(wanted.difference, "--difference"))
    if asked is None or len(asked.designs) < 2:
        return None
    times = [one.hold_times[0].nominal for one in asked.nominal]
    if None in times or times[0] == times[1]:
        raise InputError("is not to be had from these designs; give it", source="--difference")
    return math.log(times[0]) - math.log(times[1])  # type: ignore[arg-type]


def _scatter(asked: Asked | None, wanted: RepeatsOptions) -> tuple[Repeatability, str]:
    """Return against what scatter it is to be found, and where that is from."""
    days = None if wanted.days is None else typed_share(wanted.days, "--days")
    if wanted.repeatability is not None:
        return Repeatability(typed_share(wanted.repeatability, "--repeatability"), days or 0.0), "as given."
    assert asked is not None
    expected = together(
        [
            expected_repeatability(
                one.container, one.scenario, one.limits[0], belief=one.belief, seating=one.calibrated.seating
            )
            for one in asked.designs
        ]
    )
    calibrated = asked.first.calibrated
    seat = (
        f"and from how differently lids sat on {calibrated.bench}."
        if calibrated.file
        else f"with {100.0 * LID_SEATING:.0f} % for how the lid seats (judgement). Measure it: holdtime bench reduce."
    )
    names = " and ".join(one.container.name for one in asked.designs)
    between = expected.between_days if days is None else days
    return Repeatability(expected.within_day, between), f"expected of {names} from jug, thermometer and room, {seat}"
