"""`holdtime check`: is a claim kept, is a standard's limit met? Pass, fail or undecided, with probability."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from thermal_model.cli import options
from thermal_model.cli.calibration_options import CalibratedAs, Calibration
from thermal_model.cli.outputs import check_files
from thermal_model.cli.scenario_signature import with_scenario

if TYPE_CHECKING:
    from geometries.container import Container
    from thermal_model.cli.calibration_options import Calibrated
    from thermal_model.cli.scenario_options import ScenarioOptions
    from thermal_model.judge.claims import Claim
    from thermal_model.judge.measured_standard import MeasuredRun
    from thermal_model.judge.standards import Procedure
    from thermal_model.prediction import Prediction
    from thermal_model.scenario import Scenario
    from thermal_model.uncertainty import Belief

EXAMPLE = "holdtime check single_wall_steel --claim 'hot for 20 min' --above 60C --start 90C --room 20C --fill 300mL"

DEFAULT_DRAWS, LEAST_DRAWS, DEFAULT_SEED = 400, 20, 1


class Standard(StrEnum):
    """What `--standard` takes."""

    JIS = "jis-s-2006"
    EN = "en-12546-1"
    FOOD = "food-holding"


@dataclass(frozen=True)
class _Wanted:
    """What is to be checked and written."""

    design: str
    claim: str | None
    above: str | None
    below: str | None
    standard: Standard | None
    readings: Path | None
    run: str | None
    calibration: Path | None
    calibrated_as: str | None
    draws: int
    seed: int
    json: bool
    output: Path | None

    def known(self) -> "Calibrated | None":
        """Return what a calibration knows of the design."""
        from thermal_model.cli.calibration_options import read_calibrated

        return read_calibrated(self.calibration, self.calibrated_as, self.design)

    @property
    def belief(self) -> "Belief | None":
        """What is known of the unknowns; None are the priors."""
        known = self.known()
        return None if known is None else known.belief


@with_scenario
def check(
    design: options.Design,
    given: "ScenarioOptions",
    claim: Annotated[
        str | None, typer.Option("--claim", metavar="TEXT", help="'hot for 12 h', 'cold for 24 h'.")
    ] = None,
    above: Annotated[str | None, typer.Option("--above", metavar="TEMP", help="What counts as hot.")] = None,
    below: Annotated[str | None, typer.Option("--below", metavar="TEMP", help="What counts as cold.")] = None,
    standard: Annotated[
        Standard | None, typer.Option("--standard", help="A standard's test, or limits for holding food.")
    ] = None,
    readings: Annotated[
        Path | None,
        typer.Option(
            "--readings", metavar="PATH", help="Judge readings instead of the model: a bench folder, or a CSV."
        ),
    ] = None,
    run: Annotated[str | None, typer.Option("--run", metavar="NAME", help="Which run of the bench folder.")] = None,
    calibration: Calibration = None,
    calibrated_as: CalibratedAs = None,
    draws: options.Draws = DEFAULT_DRAWS,
    seed: options.Seed = DEFAULT_SEED,
    json: options.Json = False,
    output: options.Output = None,
) -> None:
    """Check a claim or a standard: pass, fail or undecided, with its probability."""
    wanted = _Wanted(
        design, claim, above, below, standard, readings, run, calibration, calibrated_as, draws, seed, json, output
    )
    _check_options(wanted)
    if standard in (Standard.JIS, Standard.EN):
        _check_standard(given, wanted)
    elif standard is Standard.FOOD:
        _check_food(given, wanted)
    else:
        _check_claim(given, wanted)


def _sample(wanted: _Wanted) -> dict[str, Any]:
    return {"draws": wanted.draws, "seed": wanted.seed, "belief": wanted.belief}


def _check_options(wanted: _Wanted) -> None:
    from geometries.errors import InputError, InputProblem

    problems = []
    if (wanted.claim is None) == (wanted.standard is None):
        names = ", ".join(Standard)
        problems.append(InputProblem(f"give one of --claim 'hot for 12 h' and --standard ({names})"))
    if wanted.claim is None and (wanted.above or wanted.below):
        problems.append(InputProblem("goes with --claim", source="--above" if wanted.above else "--below"))
    if wanted.readings is not None and wanted.standard not in (Standard.JIS, Standard.EN):
        problems.append(InputProblem(f"goes with --standard {Standard.JIS} or {Standard.EN}", source="--readings"))
    if wanted.calibration is not None and wanted.readings is not None:
        problems.append(InputProblem("has no part in what readings say; leave it out", source="--calibration"))
    if wanted.draws < LEAST_DRAWS:
        problems.append(InputProblem(f"a probability needs {LEAST_DRAWS} draws or more", source="--draws"))
    if wanted.run is not None and wanted.readings is None:
        problems.append(InputProblem("goes with --readings FOLDER", source="--run"))
    if problems:
        raise InputError(problems)


# --- claims -----------------------------------------------------------------------------------------------------


def _check_claim(given: "ScenarioOptions", wanted: _Wanted) -> None:
    from geometries.errors import InputError, at_once
    from thermal_model.cli.limits import with_option_names
    from thermal_model.cli.progress import progress_bar
    from thermal_model.cli.scenario_options import read_scenario
    from thermal_model.cli.settings import read_design
    from thermal_model.judge.claims import check_claim, read_claim
    from thermal_model.prediction import predict
    from thermal_model.report.check_text import claim_document, claim_text
    from thermal_model.words.numbers import scale_of

    assert wanted.claim is not None
    claim, container, scenario, *_ = at_once(
        partial(read_claim, wanted.claim, "--claim"),
        partial(read_design, wanted.design, given.settings),
        partial(read_scenario, given),
        partial(check_files, None, wanted.output),
        wanted.known,
    )
    limit = _limit(claim, scenario, wanted)
    try:
        nominal = predict(container, scenario, [limit], draws=0, belief=wanted.belief)
        with progress_bar(f"computing {wanted.draws} draws") as tell:
            result = check_claim(container, scenario, claim, limit, **_sample(wanted), progress=tell)
    except InputError as error:
        raise _named(with_option_names(error), claim) from None
    scale = scale_of(wanted.above, wanted.below, given.start, given.room)
    _show(claim_document(result, wanted.claim), [claim_text(result, scale)], nominal, given, wanted)


def _limit(claim: "Claim", scenario: "Scenario", wanted: _Wanted) -> float:
    """Return above or below what, or ask for all that a claim leaves open, in one line."""
    from geometries.errors import InputError, InputProblem
    from geometries.quantities import Dimension
    from thermal_model.cli.typed import typed_quantity

    option, typed = ("--above", wanted.above) if claim.is_hot else ("--below", wanted.below)
    wrong, other = ("--below", wanted.below) if claim.is_hot else ("--above", wanted.above)
    if other is not None:
        raise InputError(InputProblem(f"has no meaning for '{wanted.claim}'; write {option}", source=wrong))
    asked = _open_questions(claim, scenario, typed is None, option)
    if asked:
        message = f"'{wanted.claim}' does not say {', '.join(asked)}; the answer hangs on it, so give it"
        raise InputError(InputProblem(message, source="--claim"))
    assert typed is not None
    return typed_quantity(typed, Dimension.TEMPERATURE, option)


def _open_questions(claim: "Claim | None", scenario: "Scenario", lacks_limit: bool, option: str) -> list[str]:
    is_hot = claim is None or claim.is_hot
    side, limit, start = ("above", "60C", "95C") if is_hot else ("below", "10C", "4C")
    asked = [f"{side} which temperature ({option} {limit})"] if lacks_limit else []
    if "start" not in scenario.model_fields_set:
        asked.append(f"from which start (--start {start})")
    if not {"room", "room_profile"} & scenario.model_fields_set:
        asked.append("in a room of which temperature (--room 20C)")
    return asked


def _named(error: Exception, claim: "Claim") -> Exception:
    """Return an error that names --above or --below in place of --until."""
    from dataclasses import replace

    from geometries.errors import InputError

    assert isinstance(error, InputError)
    option = "--above" if claim.is_hot else "--below"
    return InputError(replace(p, source=option) if p.source == "--until" else p for p in error.problems)


# --- standards --------------------------------------------------------------------------------------------------


def _check_standard(given: "ScenarioOptions", wanted: _Wanted) -> None:
    from geometries.errors import at_once
    from thermal_model.cli.settings import read_design
    from thermal_model.judge.standards import Procedure, ends_between, scenario_of
    from thermal_model.prediction import predict
    from thermal_model.report.check_text import RULE, standard_document, standard_text
    from thermal_model.words.numbers import scale_of

    container, *_ = at_once(
        partial(read_design, wanted.design, given.settings),
        lambda: _refuse_conditions(given, wanted),
        lambda: check_files(None, wanted.output),
        wanted.known,
    )
    procedures = {Standard.JIS: (Procedure.JIS_HOT, Procedure.JIS_COLD), Standard.EN: (Procedure.EN_HOT,)}
    scale, blocks, documents = scale_of(given.room), [], []
    heading = None
    if wanted.readings is not None:
        results = [_from_readings(procedures[_standard(wanted)], container, given, wanted)]
        heading = f"{container.name}, {results[0][1]}"
    else:
        results = [(_simulated(p, container, wanted), "in the model") for p in procedures[_standard(wanted)]]
    for result, basis in results:
        is_hot_model = result.procedure is Procedure.JIS_HOT and wanted.readings is None
        blocks.append(standard_text(result, basis, scale, ends_between(container) if is_hot_model else None))
        documents.append(standard_document(result, basis))
    if any(result.minimum is not None for result, _ in results):
        blocks.append(RULE)
    nominal = predict(container, scenario_of(procedures[_standard(wanted)][0]), [333.15], draws=0)
    _show({"results": documents}, blocks, nominal, given, wanted, heading)


def _standard(wanted: _Wanted) -> Standard:
    assert wanted.standard is not None
    return wanted.standard


def _simulated(procedure: "Procedure", container: "Container", wanted: _Wanted) -> Any:
    from thermal_model.cli.progress import progress_bar
    from thermal_model.judge.standards import simulate

    with progress_bar(f"computing {wanted.draws} draws") as tell:
        return simulate(procedure, container, **_sample(wanted), progress=tell)


def _refuse_conditions(given: "ScenarioOptions", wanted: _Wanted) -> None:
    """Refuse what a standard prescribes itself."""
    from dataclasses import fields

    from geometries.errors import InputError, InputProblem

    allowed = {"settings", *(("room",) if wanted.readings is not None and wanted.readings.is_file() else ())}
    problems = [
        InputProblem(f"is prescribed by {wanted.standard}; leave it out", source="--" + field.name.replace("_", "-"))
        for field in fields(given)
        if field.name not in allowed and getattr(given, field.name)
    ]
    if any(text.strip().startswith("scenario.") for text in given.settings):
        problems.append(InputProblem(f"what is done is prescribed by {wanted.standard}; leave it out", source="--set"))
    if problems:
        raise InputError(problems)


# --- readings ---------------------------------------------------------------------------------------------------


def _from_readings(
    procedures: "Sequence[Procedure]", container: "Container", given: "ScenarioOptions", wanted: _Wanted
) -> tuple[Any, str]:
    """Judge a measured run by the hot or the cold procedure, whichever its start is nearer to."""
    from thermal_model.judge.measured_standard import evaluate
    from thermal_model.judge.standards import CONDITIONS

    assert wanted.readings is not None
    if wanted.readings.is_dir():
        measured, container = _bench_run(wanted, container.name)
    else:
        measured = _csv_run(given, wanted)
    first = measured.readings[0].temperature if measured.readings else CONDITIONS[procedures[0]].start
    nearest = min(procedures, key=lambda p: abs(CONDITIONS[p].start - (measured.start or first)))
    return evaluate(nearest, container, measured), f"measured in {measured.name}"


def _csv_run(given: "ScenarioOptions", wanted: _Wanted) -> "MeasuredRun":
    from geometries.quantities import Dimension
    from thermal_model.bench.records import Probe, Reading
    from thermal_model.cli.typed import typed_quantity
    from thermal_model.csv_columns import read_columns
    from thermal_model.judge.measured_standard import TIME_TOLERANCE, MeasuredRun

    assert wanted.readings is not None
    columns = read_columns(wanted.readings, {"time": Dimension.DURATION, "temperature": Dimension.TEMPERATURE})
    rows = sorted(zip(columns["time"], columns["temperature"], strict=True))
    room = None if given.room is None else typed_quantity(given.room, Dimension.TEMPERATURE, "--room")
    readings = [Reading(time, temperature, 30.0, number) for number, (time, temperature) in enumerate(rows)]
    start = rows[0][1] if rows[0][0] <= TIME_TOLERANCE else None
    return MeasuredRun(str(wanted.readings), readings, start, room, Probe("of the CSV"))


def _bench_run(wanted: _Wanted, name: str) -> "tuple[MeasuredRun, Container]":
    """Return a run of a bench folder and the container as it stood in it."""
    from geometries.errors import InputError, InputProblem, nearest_hint
    from thermal_model.bench.read.folder import read_bench
    from thermal_model.judge.measured_standard import MeasuredRun

    assert wanted.readings is not None
    bench = read_bench(wanted.readings)
    runs = {run.name: run for run in bench.runs}
    if wanted.run not in runs:
        hint = "" if wanted.run is None else f"'{wanted.run}' is no run; {nearest_hint(wanted.run, runs)}"
        raise InputError(InputProblem(f"{hint}give one of: {', '.join(runs)}", source="--run"))
    run = runs[wanted.run]
    start = float(run.scenario.start) if run.start_spread < float("inf") else None
    own = [reading for reading in run.readings if reading.probe in ("", run.probe)]
    is_known = run.room_spread < float("inf") and run.scenario.room_profile is None
    room = float(run.scenario.room) if is_known else None
    if name not in (run.container, run.container_at_run.name):
        raise InputError(InputProblem(f"'{run.name}' is a run of {run.container}, not of {name}", source="--run"))
    fill = None if run.scenario.fill is None else float(run.scenario.fill)
    return MeasuredRun(run.name, own, start, room, bench.probes[run.probe], fill), run.container_at_run


# --- food -------------------------------------------------------------------------------------------------------


def _check_food(given: "ScenarioOptions", wanted: _Wanted) -> None:
    from geometries.errors import InputError, InputProblem, at_once
    from thermal_model.cli.progress import progress_bar
    from thermal_model.cli.scenario_options import read_scenario
    from thermal_model.cli.settings import read_design
    from thermal_model.judge.food_holding import held_times
    from thermal_model.prediction import predict
    from thermal_model.report.check_text import HOLDING_LIMITS, holding_document, holding_text
    from thermal_model.words.numbers import scale_of

    container, scenario, *_ = at_once(
        partial(read_design, wanted.design, given.settings),
        partial(read_scenario, given),
        partial(check_files, None, wanted.output),
        wanted.known,
    )
    asked = _open_questions(None, scenario, False, "")
    if asked:
        raise InputError(InputProblem(f"say {' and '.join(asked)}; the answer hangs on it", source="--standard"))
    limits = [limit for limit in HOLDING_LIMITS if limit.applies(scenario)]
    if not limits:
        raise InputError(InputProblem("no limit for holding food lies between start and room", source="--start"))
    with progress_bar(f"computing {wanted.draws} draws") as tell:
        held = held_times(container, scenario, limits, **_sample(wanted), progress=tell)
    nominal = predict(container, scenario, [limit.temperature for limit in limits], draws=0)
    text = holding_text(held, scale_of(given.start, given.room))
    _show(holding_document(held), [text], nominal, given, wanted)


# --- the answer -------------------------------------------------------------------------------------------------


def _show(
    document: dict[str, Any],
    blocks: Sequence[str],
    nominal: "Prediction",
    given: "ScenarioOptions",
    wanted: _Wanted,
    heading: str | None = None,
) -> None:
    """Write the JSON object to a file if asked for; print it, or the text under what was given."""
    from thermal_model.report.results import json_text, warning_lines, write_json
    from thermal_model.report.summary import caution_lines, given_line
    from thermal_model.version import version
    from thermal_model.words.numbers import scale_of

    scenario, known = nominal.scenario, wanted.known()
    assumed = {"fill", "contents"} - scenario.model_fields_set if wanted.standard in (None, Standard.FOOD) else set()
    document |= {
        "warnings": warning_lines(nominal),
        "inputs": {
            "design": nominal.container.model_dump(mode="json"),
            "scenario": scenario.model_dump(mode="json"),
            "assumed": sorted(assumed),
            "calibration": None if known is None else known.document(),
        },
        "version": version(),
    }
    if wanted.output is not None:
        write_json(wanted.output, document)
    if wanted.json:
        typer.echo(json_text(document), nl=False)
        return
    scale = scale_of(wanted.above, wanted.below, given.start, given.room)
    heading = heading or given_line(nominal, frozenset(assumed), scale)
    heading = heading if known is None else f"{heading}\n{known.line()}"
    typer.echo("\n\n".join([heading, *blocks, caution_lines(nominal)]))
    if wanted.output is not None:
        typer.echo(f"\nwritten: {wanted.output}", err=True)


check.__doc__ = f"{check.__doc__}\n\nExample: {EXAMPLE}"
