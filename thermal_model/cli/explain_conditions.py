"""`holdtime explain A --against-...`: one container in two conditions, accounted for by capacities and paths."""

from dataclasses import replace
from functools import partial
from typing import Any

from geometries.container import Container
from geometries.errors import InputError, InputProblem, at_once
from geometries.quantities import Dimension, parse_quantity
from thermal_model.assemble.contents import filled_volume
from thermal_model.cli.assumed import assumed_inputs
from thermal_model.cli.calibration_options import read_calibrated
from thermal_model.cli.explain_common import Wanted, calibration_document, show_answer, with_calibration
from thermal_model.cli.limits import with_option_names
from thermal_model.cli.picture_options import with_picture
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.prediction import predict
from thermal_model.reasons.loss_story import loss_story
from thermal_model.report.loss_story_plots import story_picture
from thermal_model.report.loss_story_text import story_document, story_text
from thermal_model.report.summary import given_line
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import scale_of


def run_story(given: ScenarioOptions, wanted: Wanted) -> None:
    """Read container and conditions, follow both runs, and tell."""
    container, scenario, duration, known, *_ = at_once(
        lambda: read_design(wanted.designs[0], given.settings, wanted.calibration),
        lambda: read_scenario(given),
        lambda: _duration(wanted.after),
        lambda: read_calibrated(wanted.calibration, wanted.calibrated_as[0], wanted.designs[0]),
        lambda: wanted.picture.check(wanted.output),
        lambda: _refuse_for_story(wanted),
    )
    other = _other_scenario(given, wanted, container)
    try:
        belief = None if known is None else known.belief
        with progress_bar("following both runs") as show:
            drawn: dict[str, Any] = {"draws": wanted.draws, "seed": wanted.seed, "belief": belief}
            story = loss_story(container, scenario, other, duration, **drawn)
            show(0.7)
            ends = story.first.end, story.second.end
            both = [predict(container, s, [end], draws=0) for s, end in zip((scenario, other), ends, strict=True)]
    except InputError as error:
        raise with_option_names(error) from None
    assumed = assumed_inputs(scenario), assumed_inputs(other)
    scale = scale_of(given.start, given.room)
    pair = both[0], both[1]
    document = story_document(story, pair, assumed, wanted.draws, wanted.seed) | calibration_document((known,))
    first, second = (given_line(one, frozenset(), scale).partition(": ")[2] for one in both)
    picture = story_picture(story, (first, second), scale)
    wanted.picture.draw(picture)
    text = partial(story_text, story, pair, assumed, scale)
    show_answer(lambda: with_calibration(text(), (known,)), with_picture(document, picture), wanted)


def _refuse_for_story(wanted: Wanted) -> None:
    given = {"--if": wanted.parts, "--until": wanted.until, "--calibrated-as-b": wanted.calibrated_as[1]}
    problems = [
        InputProblem("has no meaning for one container in two conditions; leave it out", source=option)
        for option, value in given.items()
        if value
    ]
    problems += [
        InputProblem(f"changes the container: {text}; give two designs for that", source="--set-b")
        for text in wanted.settings_b
        if not text.startswith("scenario.")
    ]
    if problems:
        raise InputError(problems)


def _other_scenario(given: ScenarioOptions, wanted: Wanted, container: Container) -> Scenario:
    other = replace(given, settings=(*given.settings, *wanted.settings_b))
    if wanted.against_preheat is not None:
        other = replace(other, preheat=wanted.against_preheat)
    if wanted.against_fill is not None:
        share = FILL_SHARES.get(wanted.against_fill.strip().lower())
        full = float(filled_volume(container, read_scenario(replace(other, fill=None, ice=None))))
        text = wanted.against_fill if share is None else f"{share * full * 1e6!r} mL"
        other = replace(other, fill=text)
    return read_scenario(other)


FILL_SHARES = {"full": 1.0, "half": 0.5, "quarter": 0.25}
"""Words for a fill, of what counts as full."""


def _duration(text: str) -> float:
    try:
        duration = parse_quantity(text, Dimension.DURATION)
    except ValueError as error:
        raise InputError(InputProblem(str(error), source="--after")) from None
    if not 0.0 < duration <= 7.0 * 86400.0:
        raise InputError(
            InputProblem(f"'{text}' is not allowed; it must be above zero, at most 7 days", source="--after")
        )
    return duration
