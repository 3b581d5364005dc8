"""`holdtime explain --all`: which features go with hold time in a set of containers."""

from dataclasses import replace
from functools import partial
from pathlib import Path

from geometries.design_file import catalogue_names
from geometries.errors import InputError, InputProblem, at_once, refuse, refuse_repeated
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli.calibration_options import read_calibrated
from thermal_model.cli.explain_common import Asked
from thermal_model.cli.limits import default_limit, options_named, read_limits
from thermal_model.cli.one_design import belief_of
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.scenario_options import read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.judge.compare import Entry
from thermal_model.prediction import Prediction, predict
from thermal_model.reasons.features import study_features
from thermal_model.report.explain_plots import features_picture
from thermal_model.report.features_text import features_document, features_text
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_conditions, limit_text
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale, scale_of
from thermal_model.words.paragraphs import in_blocks


def run_all(wanted: Asked) -> None:
    """Read the containers, compute their hold times in the same conditions, and tell."""
    entries, scenario, typed, *_ = at_once(
        lambda: _entries(wanted),
        partial(read_scenario, wanted.given),
        lambda: read_limits(wanted.until),
        lambda: wanted.picture.check(wanted.answer.output),
        lambda: _refuse_for_all(wanted),
    )
    limit = typed[0] if typed else default_limit(scenario)
    with options_named():
        predictions = _best_guesses(entries, scenario, limit)
        held = [p.hold_times[0].nominal or 0.0 for p in predictions]
        study = study_features({entry.name: entry.container for entry in entries}, held)
    hottest = max(predictions, key=lambda p: p.hold_times[0].nominal or 0.0)
    inputs = {"scenario": scenario.model_dump(mode="json"), "until_K": limit, "designs": [e.name for e in entries]}
    conditions = _conditions(hottest, limit, scale_of(wanted.until))
    document = features_document(study, inputs, warning_lines(hottest))
    document = wanted.picture.drawn_into(document, features_picture(study, conditions))
    is_corrected = any(entry.belief is not None for entry in entries)
    text = partial(features_text, study, is_corrected=is_corrected)
    wanted.answer.give(lambda: _all_text(text(), hottest, conditions), document, wanted.picture.plot)


def _all_text(text: str, prediction: Prediction, conditions: str) -> str:
    return in_blocks([f"All in the same conditions: {conditions}", text, caution_lines(prediction)])


def _conditions(prediction: Prediction, limit: float, scale: Scale) -> str:
    """Return what holds for all containers."""
    given = given_conditions(prediction, scale)
    if prediction.scenario.fill is None:
        given = f"each full to its lid, {given.partition(' mL, ')[2]}"
    return f"{given}; stays {limit_text(limit, prediction.scenario, scale)}"


def _entries(wanted: Asked) -> list[Entry]:
    """Return the containers of the designs given, of a bench folder, or of the catalogue."""
    if len(wanted.designs) == 1 and Path(wanted.designs[0]).is_dir():
        return _entries_of_bench(Path(wanted.designs[0]), wanted)
    designs = tuple(dict.fromkeys(wanted.designs)) or tuple(catalogue_names())
    containers = at_once(*(partial(read_design, design, wanted.given.settings) for design in designs))
    known = at_once(*(partial(read_calibrated, wanted.calibration, None, design) for design in designs))
    refuse_repeated([container.name for container in containers], "two designs bear this name; rename one")
    return [
        Entry(container.name, container, belief_of(calibrated))
        for container, calibrated in zip(containers, known, strict=True)
    ]


def _entries_of_bench(folder: Path, wanted: Asked) -> list[Entry]:
    """Return the containers of a bench as its readings correct them."""
    from thermal_model.bench.calibration.fit import fit
    from thermal_model.bench.calibration.posterior import belief

    if wanted.calibration is not None:
        raise InputError("a bench brings its own; leave it out", source="--calibration")
    with progress_bar(READING):
        bench = read_bench(folder)
    with progress_bar("fitting all runs") as show:
        found = fit(bench, progress=show)
    return [Entry(name, container, belief(found, name)) for name, container in sorted(bench.containers.items())]


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
    refuse(problems)
    return found


def _refuse_for_all(wanted: Asked) -> None:
    given = {
        "--if": wanted.if_,
        "--set-b": wanted.set_b,
        "--calibrated-as": wanted.calibrated_as,
        "--calibrated-as-b": wanted.calibrated_as_b,
        "--against-fill": wanted.against_fill,
        "--against-preheat": wanted.against_preheat,
    }
    refuse(InputProblem("has no meaning with --all; leave it out", source=o) for o, value in given.items() if value)
