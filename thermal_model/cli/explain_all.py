"""`holdtime explain --all`: which features go with hold time in a set of containers."""

from dataclasses import replace
from functools import partial
from pathlib import Path

from geometries.design_file import catalogue_names
from geometries.errors import InputError, InputProblem, at_once
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli.calibration_options import read_calibrated
from thermal_model.cli.explain_common import Wanted, show_answer
from thermal_model.cli.limits import default_limit, read_limits, with_option_names
from thermal_model.cli.picture_options import with_picture
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.judge.compare import Entry
from thermal_model.prediction import Prediction, predict
from thermal_model.reasons.features import study_features
from thermal_model.report.features_plots import features_picture
from thermal_model.report.features_text import features_document, features_text
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_line
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale, scale_of


def run_all(given: ScenarioOptions, wanted: Wanted) -> None:
    """Read the containers, compute their hold times in the same conditions, and tell."""
    entries, scenario, typed, *_ = at_once(
        lambda: _entries(given, wanted),
        partial(read_scenario, given),
        lambda: read_limits((wanted.until,) if wanted.until is not None else ()),
        lambda: wanted.picture.check(wanted.output),
        lambda: _refuse_for_all(wanted),
    )
    limit = typed[0] if typed else default_limit(scenario)
    try:
        predictions = _best_guesses(entries, scenario, limit)
        held = [p.hold_times[0].nominal or 0.0 for p in predictions]
        study = study_features({entry.name: entry.container for entry in entries}, held)
    except InputError as error:
        raise with_option_names(error) from None
    hottest = max(predictions, key=lambda p: p.hold_times[0].nominal or 0.0)
    inputs = {"scenario": scenario.model_dump(mode="json"), "until_K": limit, "designs": [e.name for e in entries]}
    conditions = _conditions(hottest, limit, scale_of(wanted.until))
    picture = features_picture(study, conditions)
    document = with_picture(features_document(study, inputs, warning_lines(hottest)), picture)
    wanted.picture.draw(picture)
    is_corrected = any(entry.belief is not None for entry in entries)
    text = partial(features_text, study, is_corrected=is_corrected)
    show_answer(lambda: _all_text(text(), hottest, conditions), document, wanted)


def _all_text(text: str, prediction: Prediction, conditions: str) -> str:
    return "\n\n".join([f"All in the same conditions: {conditions}", text, caution_lines(prediction)])


def _conditions(prediction: Prediction, limit: float, scale: Scale) -> str:
    """Return what holds for all containers."""
    given = given_line(prediction, frozenset(), scale).partition(": ")[2]
    side = "below" if limit > prediction.scenario.start else "above"
    if prediction.scenario.fill is None:
        given = f"each full to its lid, {given.partition(' mL, ')[2]}"
    return f"{given}; stays {side} {scale.text(limit)}"


def _entries(given: ScenarioOptions, wanted: Wanted) -> list[Entry]:
    """Return the containers of the designs given, of a bench folder, or of the catalogue."""
    if len(wanted.designs) == 1 and Path(wanted.designs[0]).is_dir():
        return _entries_of_bench(Path(wanted.designs[0]), wanted)
    designs = tuple(dict.fromkeys(wanted.designs)) or tuple(catalogue_names())
    containers = at_once(*(partial(read_design, design, given.settings) for design in designs))
    known = at_once(*(partial(read_calibrated, wanted.calibration, None, design) for design in designs))
    _refuse_namesakes([container.name for container in containers])
    return [
        Entry(container.name, container, None if calibrated is None else calibrated.belief)
        for container, calibrated in zip(containers, known, strict=True)
    ]


def _entries_of_bench(folder: Path, wanted: Wanted) -> list[Entry]:
    """Return the containers of a bench as its readings correct them."""
    from thermal_model.bench.calibration.fit import fit
    from thermal_model.bench.calibration.posterior import belief

    if wanted.calibration is not None:
        raise InputError(InputProblem("a bench brings its own; leave it out", source="--calibration"))
    with progress_bar(READING):
        bench = read_bench(folder)
    with progress_bar("fitting all runs") as show:
        found = fit(bench, progress=show)
    return [Entry(name, container, belief(found, name)) for name, container in sorted(bench.containers.items())]


def _refuse_namesakes(names: list[str]) -> None:
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise InputError(InputProblem("two designs bear this name; rename one", "name", name) for name in twice)


def _best_guesses(entries: list[Entry], scenario: Scenario, limit: float) -> list[Prediction]:
    found, problems = [], []
    with progress_bar(f"computing {len(entries)} containers") as tell:
        for number, entry in enumerate(entries):
            try:
                prediction = predict(entry.container, scenario, [limit], draws=0, belief=entry.belief)
            except InputError as error:
                problems += [replace(p, source=p.source or entry.name) for p in error.problems]
                continue
            if prediction.hold_times[0].nominal is None:
                problems.append(
                    InputProblem("does not get to the limit; take one nearer to the start", source=entry.name)
                )
            found.append(prediction)
            tell((number + 1) / len(entries))
    if problems:
        raise InputError(problems)
    return found


def _refuse_for_all(wanted: Wanted) -> None:
    given = {
        "--if": wanted.parts,
        "--set-b": wanted.settings_b,
        "--calibrated-as": wanted.calibrated_as[0],
        "--calibrated-as-b": wanted.calibrated_as[1],
        "--against-fill": wanted.against_fill,
        "--against-preheat": wanted.against_preheat,
    }
    problems = [
        InputProblem("has no meaning with --all; leave it out", source=o) for o, value in given.items() if value
    ]
    if problems:
        raise InputError(problems)
