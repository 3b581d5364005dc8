"""`holdtime explain A --against-...`: one container in two conditions, accounted for by capacities and paths."""

from dataclasses import replace
from functools import partial
from typing import Any

from geometries.container import Container
from geometries.errors import InputProblem, at_once, refuse
from thermal_model.assemble.contents import filled_volume
from thermal_model.cli.assumed import assumed_inputs
from thermal_model.cli.calibration_options import read_calibrated
from thermal_model.cli.explain_common import Asked, calibration_document, with_calibration
from thermal_model.cli.limits import options_named
from thermal_model.cli.one_design import belief_of
from thermal_model.cli.progress import progress_bar
from thermal_model.cli.scenario_options import read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.cli.typed import typed_duration
from thermal_model.prediction import predict
from thermal_model.reasons.loss_story import loss_story
from thermal_model.report.explain_plots import story_picture
from thermal_model.report.loss_story_text import story_document, story_text
from thermal_model.report.summary import given_conditions
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import scale_of


def run_story(wanted: Asked) -> None:
    """Read container and conditions, follow both runs, and tell."""
    container, scenario, duration, known, *_ = at_once(
        lambda: read_design(wanted.designs[0], wanted.given.settings, wanted.calibration),
        lambda: read_scenario(wanted.given),
        lambda: typed_duration(wanted.after, "--after"),
        lambda: read_calibrated(wanted.calibration, wanted.calibrated_as, wanted.designs[0]),
        lambda: wanted.picture.check(wanted.answer.output),
        lambda: _refuse_for_story(wanted),
    )
    other = _other_scenario(wanted, container)
    with options_named(), progress_bar("following both runs") as show:
        drawn: dict[str, Any] = {"draws": wanted.sample, "seed": wanted.seed, "belief": belief_of(known)}
        story = loss_story(container, scenario, other, duration, **drawn)
        show(0.7)
        ends = story.first.end, story.second.end
        both = [predict(container, s, [end], draws=0) for s, end in zip((scenario, other), ends, strict=True)]
    assumed = assumed_inputs(scenario), assumed_inputs(other)
    scale = scale_of(wanted.given.start, wanted.given.room)
    pair = both[0], both[1]
    document = story_document(story, pair, assumed, wanted.sample, wanted.seed) | calibration_document((known,))
    first, second = (given_conditions(one, scale) for one in both)
    document = wanted.picture.drawn_into(document, story_picture(story, (first, second), scale))
    text = partial(story_text, story, pair, assumed, scale)
    wanted.answer.give(lambda: with_calibration(text(), (known,)), document, wanted.picture.plot)


def _refuse_for_story(wanted: Asked) -> None:
    given = {"--if": wanted.if_, "--until": wanted.until, "--calibrated-as-b": wanted.calibrated_as_b}
    problems = [
        InputProblem("has no meaning for one container in two conditions; leave it out", source=option)
        for option, value in given.items()
        if value
    ]
    problems += [
        InputProblem(f"changes the container: {text}; give two designs for that", source="--set-b")
        for text in wanted.set_b
        if not text.startswith("scenario.")
    ]
    refuse(problems)


def _other_scenario(wanted: Asked, container: Container) -> Scenario:
    other = replace(wanted.given, settings=(*wanted.given.settings, *wanted.set_b))
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
