"""`holdtime check`: is a claim kept, is a standard's limit met? Pass, fail or undecided, with probability."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, fields
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.container import Container
from geometries.errors import InputError, InputProblem, at_once, refuse
from geometries.quantities import Dimension
from thermal_model.bench.reduce.evidence import points_of
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import Calibrated, CalibrationOptions
from thermal_model.cli.check_readings import for_standard, read_measured
from thermal_model.cli.limits import options_named
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.record import command
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario, spelling
from thermal_model.cli.settings import read_design
from thermal_model.cli.typed import typed_quantity
from thermal_model.judge.claims import Claim, check_claim, read_claim
from thermal_model.judge.food_holding import held_times
from thermal_model.judge.measured_claim import AskedConditions, judge_claim
from thermal_model.judge.measured_standard import evaluate
from thermal_model.judge.standards import (
    CONDITIONS,
    Procedure,
    StandardResult,
    Vessel,
    ends_between,
    scenario_of,
    simulate,
)
from thermal_model.prediction import Prediction, predict
from thermal_model.report.check_plots import (
    claim_picture,
    holding_picture,
    measured_claim_picture,
    standard_picture,
)
from thermal_model.report.check_text import (
    HOLDING_LIMITS,
    RULE,
    claim_document,
    claim_text,
    holding_document,
    holding_text,
    measured_claim_document,
    measured_claim_text,
    standard_document,
    standard_text,
)
from thermal_model.report.pictures.record import Picture
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_conditions, given_line
from thermal_model.scenario import Scenario
from thermal_model.version import version
from thermal_model.words.numbers import Scale, scale_of
from thermal_model.words.paragraphs import in_blocks

EXAMPLE = "holdtime check single_wall_steel --claim 'hot for 20 min' --above 60C --start 90C --room 20C --fill 300mL"

DEFAULT_DRAWS, LEAST_DRAWS, DEFAULT_SEED = 400, 20, 1


class Standard(StrEnum):
    """What `--standard` takes."""

    JIS = "jis-s-2006"
    EN = "en-12546-1"
    FOOD = "food-holding"


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What `holdtime check` is asked."""

    design: options.Design
    given: ScenarioOptions
    claim: Annotated[str | None, typer.Option("--claim", metavar="TEXT", help="'hot for 12 h', 'cold for 24 h'.")] = (
        None
    )
    above: Annotated[str | None, typer.Option("--above", metavar="TEMP", help="What counts as hot.")] = None
    below: Annotated[str | None, typer.Option("--below", metavar="TEMP", help="What counts as cold.")] = None
    standard: Annotated[
        Standard | None, typer.Option("--standard", help="A standard's test, or limits for holding food.")
    ] = None
    vessel: Annotated[
        Vessel | None,
        typer.Option("--vessel", help="Class of the vessel; jis-s-2006 has limits of its own for each."),
    ] = None
    readings: Annotated[
        Path | None,
        typer.Option(
            "--readings", metavar="PATH", help="Judge readings instead of the model: a bench folder, or a CSV."
        ),
    ] = None
    run: Annotated[str | None, typer.Option("--run", metavar="NAME", help="Which run of the bench folder.")] = None
    calibrated: CalibrationOptions
    draws: options.Draws = DEFAULT_DRAWS
    seed: options.Seed = DEFAULT_SEED
    picture: PictureOptions
    answer: AnswerOptions

    @property
    def scale(self) -> Scale:
        """Of the temperatures shown."""
        return scale_of(self.above, self.below, self.given.start, self.given.room)

    def sample(self, known: Calibrated) -> dict[str, Any]:
        """Return how the sample is drawn."""
        return {"draws": self.draws, "seed": self.seed, "belief": known.belief}


@command(Wanted, EXAMPLE)
def check(wanted: Wanted) -> None:
    """Check a claim or a standard: pass, fail or undecided, with its probability."""
    _check_options(wanted)
    if wanted.standard in (Standard.JIS, Standard.EN):
        _check_standard(wanted)
    elif wanted.standard is Standard.FOOD:
        _check_food(wanted)
    elif wanted.readings is not None:
        _check_measured_claim(wanted)
    else:
        _check_claim(wanted)


def _read(wanted: Wanted, conditions: Callable[[Wanted], Any]) -> tuple[Any, Container, Any, Calibrated]:
    """Return claim, container, conditions and what a calibration knows, or raise the problems of all together."""
    claim, container, found, _, known = at_once(
        lambda: None if wanted.claim is None else read_claim(wanted.claim, "--claim"),
        lambda: read_design(wanted.design, wanted.given.settings, wanted.calibrated.calibration),
        lambda: conditions(wanted),
        lambda: wanted.picture.check(wanted.answer.output),
        lambda: wanted.calibrated.of(wanted.design),
    )
    return claim, container, found, known


def _scenario(wanted: Wanted) -> Scenario:
    return read_scenario(wanted.given)


def _check_options(wanted: Wanted) -> None:
    problems = []
    if (wanted.claim is None) == (wanted.standard is None):
        names = ", ".join(Standard)
        problems.append(InputProblem(f"give one of --claim 'hot for 12 h' and --standard ({names})"))
    if wanted.claim is None and (wanted.above or wanted.below):
        problems.append(InputProblem("goes with --claim", source="--above" if wanted.above else "--below"))
    if wanted.readings is not None and wanted.standard is Standard.FOOD:
        message = f"goes with --claim, --standard {Standard.JIS} or {Standard.EN}"
        problems.append(InputProblem(message, source="--readings"))
    if wanted.readings is not None and wanted.standard is not None and wanted.picture.plot is not None:
        message = "a standard's test by readings is one number, which is not drawn; leave it out"
        problems.append(InputProblem(message, source="--plot"))
    if wanted.vessel is not None and wanted.standard is not Standard.JIS:
        problems.append(InputProblem(f"goes with --standard {Standard.JIS}", source="--vessel"))
    if wanted.vessel is None and wanted.standard is Standard.JIS:
        message = (
            f"{Standard.JIS} has limits of its own for each class; say which the vessel is: --vessel stoppered "
            "(a stopper closes the neck, it is poured from), direct-drink, tabletop or other"
        )
        problems.append(InputProblem(message, source="--vessel"))
    if wanted.calibrated.calibration is not None and wanted.readings is not None:
        problems.append(InputProblem("has no part in what readings say; leave it out", source="--calibration"))
    if wanted.draws < LEAST_DRAWS:
        problems.append(InputProblem(f"a probability needs a sample of {LEAST_DRAWS} or more", source="--draws"))
    if wanted.run is not None and wanted.readings is None:
        problems.append(InputProblem("goes with --readings FOLDER", source="--run"))
    refuse(problems)


# --- claims -----------------------------------------------------------------------------------------------------


def _check_claim(wanted: Wanted) -> None:
    claim, container, scenario, known = _read(wanted, _scenario)
    limit = _limit(claim, scenario, wanted)
    with options_named(until=_side(claim)):
        nominal = predict(container, scenario, [limit], draws=0, belief=known.belief)
        with progress_bar(f"computing {wanted.draws} samples") as tell:
            result = check_claim(container, scenario, claim, limit, **wanted.sample(known), progress=tell)
    picture = claim_picture(result, container, given_conditions(nominal, wanted.scale), wanted.scale)
    blocks = [claim_text(result, wanted.scale)]
    _show(claim_document(result, str(wanted.claim)), blocks, nominal, wanted, known, picture=picture)


def _limit(claim: Claim, scenario: Scenario | None, wanted: Wanted) -> float:
    """Return above or below what, or ask for all that a claim leaves open, in one line.

    Without a scenario, readings say start and room.
    """
    sides = ("--above", wanted.above), ("--below", wanted.below)
    (option, typed), (wrong, other) = sides if claim.is_hot else sides[::-1]
    if other is not None:
        raise InputError(f"has no meaning for '{wanted.claim}'; write {option}", source=wrong)
    asked = _open_questions(claim, scenario, typed is None, option)
    if asked:
        message = f"'{wanted.claim}' does not say {', '.join(asked)}; the answer depends on it, so give it"
        raise InputError(message, source="--claim")
    assert typed is not None
    return typed_quantity(typed, Dimension.TEMPERATURE, option)


def _open_questions(claim: Claim | None, scenario: Scenario | None, lacks_limit: bool, option: str) -> list[str]:
    is_hot = claim is None or claim.is_hot
    side, limit, start = ("above", "60C", "95C") if is_hot else ("below", "10C", "4C")
    asked = [f"{side} which temperature ({option} {limit})"] if lacks_limit else []
    if scenario is None:
        return asked
    if "start" not in scenario.model_fields_set:
        asked.append(f"from which start (--start {start})")
    if not {"room", "room_profile"} & scenario.model_fields_set:
        asked.append("in a room of which temperature (--room 20C)")
    return asked


def _check_measured_claim(wanted: Wanted) -> None:
    """Judge a claim by readings alone, in the conditions they were made in."""
    assert wanted.readings is not None
    claim, container, asked, known = _read(wanted, _asked_conditions)
    limit = _limit(claim, None, wanted)
    typed = {"start": wanted.given.start, "room": wanted.given.room, "fill": wanted.given.fill}
    measured = read_measured(wanted.readings, wanted.run, container, **typed)
    with options_named(until=_side(claim)):
        result = judge_claim(claim, limit, measured.run, measured.probes, measured.offsets, asked)
        nominal = predict(measured.run.container_at_run, measured.run.scenario, [limit], draws=0)
    scale, run = wanted.scale, measured.run
    heading = f"Measured in {run.name}; {given_line(nominal, frozenset(), scale)}"
    text = measured_claim_text(result, scale, measured.warnings)
    document = measured_claim_document(result, str(wanted.claim), measured.warnings)
    points = points_of(run, measured.probes, measured.offsets)
    picture = measured_claim_picture(result, run.container_at_run, points, given_conditions(nominal, scale), scale)
    _show(document, [text], nominal, wanted, known, heading, picture)


def _asked_conditions(wanted: Wanted) -> AskedConditions:
    """Return in what conditions the claim is to hold; refuse what readings say themselves.

    Of a CSV, --room and --fill say in which room and at which fill it was read.
    """
    assert wanted.readings is not None
    given = wanted.given
    message = "readings were made in conditions of their own; leave it out"
    refuse(InputProblem(message, source=option) for option in _given_but(given, {"start", "room", "fill", "settings"}))
    asked = {"start": (given.start, Dimension.TEMPERATURE)}
    if wanted.readings.is_dir():
        asked |= {"room": (given.room, Dimension.TEMPERATURE), "fill": (given.fill, Dimension.VOLUME)}
    return AskedConditions(
        **{
            name: typed_quantity(text, dimension, f"--{name}")
            for name, (text, dimension) in asked.items()
            if text is not None
        }
    )


def _given_but(given: ScenarioOptions, allowed: Collection[str]) -> list[str]:
    """Return the options of the scenario that were given, but for some."""
    names = [field.name for field in fields(given) if field.name not in allowed and getattr(given, field.name)]
    return [spelling(name) for name in names]


def _side(claim: Claim) -> str:
    """Return the option that says the limit of a claim."""
    return "--above" if claim.is_hot else "--below"


# --- standards --------------------------------------------------------------------------------------------------


def _check_standard(wanted: Wanted) -> None:
    _, container, _, known = _read(wanted, _refuse_conditions)
    procedures = (Procedure.EN_HOT,) if wanted.standard is Standard.EN else (Procedure.JIS_HOT, Procedure.JIS_COLD)
    scale, blocks, documents = wanted.scale, [], []
    heading = picture = None
    if wanted.readings is not None:
        results = [_from_readings(procedures, container, wanted)]
        heading = f"{container.name}, {results[0][1]}"
    else:
        results = [(_simulated(p, container, wanted, known), "in the model") for p in procedures]
        picture = standard_picture([result for result, _ in results], container, scale, wanted.draws, wanted.seed)
    for result, basis in results:
        is_hot_model = result.procedure is Procedure.JIS_HOT and wanted.readings is None
        blocks.append(standard_text(result, basis, scale, ends_between(container) if is_hot_model else None))
        documents.append(standard_document(result, basis))
    if any(result.minimum is not None for result, _ in results):
        blocks.append(RULE)
    nominal = predict(container, scenario_of(procedures[0]), [333.15], draws=0)
    _show({"results": documents}, blocks, nominal, wanted, known, heading, picture)


def _simulated(procedure: Procedure, container: Container, wanted: Wanted, known: Calibrated) -> StandardResult:
    vessel = wanted.vessel or Vessel.OTHER
    with progress_bar(f"computing {wanted.draws} samples") as tell:
        return simulate(procedure, container, vessel=vessel, **wanted.sample(known), progress=tell)


def _refuse_conditions(wanted: Wanted) -> None:
    """Refuse what a standard prescribes itself."""
    allowed = {"settings", *(("room",) if wanted.readings is not None and wanted.readings.is_file() else ())}
    problems = [
        InputProblem(f"is prescribed by {wanted.standard}; leave it out", source=option)
        for option in _given_but(wanted.given, allowed)
    ]
    if any(text.strip().startswith("scenario.") for text in wanted.given.settings):
        problems.append(InputProblem(f"what is done is prescribed by {wanted.standard}; leave it out", source="--set"))
    refuse(problems)


def _from_readings(procedures: Sequence[Procedure], container: Container, wanted: Wanted) -> tuple[StandardResult, str]:
    """Judge a measured run by the hot or the cold procedure, whichever its start is nearer to."""
    assert wanted.readings is not None
    found = read_measured(wanted.readings, wanted.run, container, start=None, room=wanted.given.room, fill=None)
    measured = for_standard(found)
    first = measured.readings[0].temperature if measured.readings else CONDITIONS[procedures[0]].start
    nearest = min(procedures, key=lambda p: abs(CONDITIONS[p].start - (measured.start or first)))
    result = evaluate(nearest, found.run.container_at_run, measured, wanted.vessel or Vessel.OTHER)
    return result, f"measured in {measured.name}"


# --- food -------------------------------------------------------------------------------------------------------


def _check_food(wanted: Wanted) -> None:
    _, container, scenario, known = _read(wanted, _scenario)
    asked = _open_questions(None, scenario, False, "")
    if asked:
        raise InputError(f"say {' and '.join(asked)}; the answer depends on it", source="--standard")
    limits = [limit for limit in HOLDING_LIMITS if limit.applies(scenario)]
    if not limits:
        raise InputError("no limit for holding food lies between start and room", source="--start")
    with progress_bar(f"computing {wanted.draws} samples") as tell:
        held = held_times(container, scenario, limits, **wanted.sample(known), progress=tell)
    nominal = predict(container, scenario, [limit.temperature for limit in limits], draws=0)
    scale = wanted.scale
    picture = holding_picture(held, container, given_conditions(nominal, scale), scale, wanted.seed)
    _show(holding_document(held), [holding_text(held, scale)], nominal, wanted, known, picture=picture)


# --- the answer -------------------------------------------------------------------------------------------------


def _show(
    document: dict[str, Any],
    blocks: Sequence[str],
    nominal: Prediction,
    wanted: Wanted,
    known: Calibrated,
    heading: str | None = None,
    picture: Picture | None = None,
) -> None:
    """Write the JSON object to a file if asked for; print it, or the text under what was wanted.given."""
    scenario = nominal.scenario
    assumed = {"fill", "contents"} - scenario.model_fields_set if wanted.standard in (None, Standard.FOOD) else set()
    document |= {
        "warnings": warning_lines(nominal),
        "inputs": {
            "design": nominal.container.model_dump(mode="json"),
            "scenario": scenario.model_dump(mode="json"),
            "assumed": sorted(assumed),
            "calibration": known.document() or None,
        },
        "version": version(),
    }
    if picture is not None:
        document = wanted.picture.drawn_into(document, picture)
    heading = heading or given_line(nominal, frozenset(assumed), wanted.scale)
    heading = "\n".join(filter(None, (heading, known.line())))
    text = in_blocks([heading, *blocks, caution_lines(nominal)])
    wanted.answer.give(lambda: text, document, wanted.picture.plot)
