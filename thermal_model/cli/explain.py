"""`holdtime explain`: why one container holds longer than another, part by part; in two conditions; in a whole set."""

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.container import Container
from geometries.design_file import catalogue_names
from geometries.errors import InputError, InputProblem, at_once, nearest_hint, refuse, refuse_given, refuse_repeated
from thermal_model.assemble.contents import filled_volume
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.calibration_options import Calibrated, CalibrationOptions
from thermal_model.cli.limits import default_limit, options_named, read_limits
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.scenario_options import ScenarioOptions, assumed_inputs, read_scenario
from thermal_model.cli.settings import read_design
from thermal_model.cli.typed import typed_duration
from thermal_model.judge.compare import Entry
from thermal_model.prediction import Prediction, predict
from thermal_model.reasons.features import study_features
from thermal_model.reasons.loss_story import loss_story
from thermal_model.reasons.pair import Contender, explain_pair
from thermal_model.reasons.parts import Group
from thermal_model.report.explain_pair_text import pair_document, pair_text
from thermal_model.report.explain_plots import features_picture, pair_picture, story_picture
from thermal_model.report.features_text import features_document, features_text
from thermal_model.report.loss_story_text import story_document, story_text
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_conditions, limit_text
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale, scale_of
from thermal_model.words.paragraphs import in_blocks

EXAMPLE = "holdtime explain slim_neck_double_seal single_seal_plug --fill 500mL --until 60C"

FILL_SHARES = {"full": 1.0, "half": 0.5, "quarter": 0.25}
"""Words for a fill, of what counts as full."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What `holdtime explain` is asked."""

    given: ScenarioOptions
    designs: Annotated[
        TEXTS,
        typer.Argument(
            metavar="A [B]", help="Design files (TOML), or names from: holdtime designs list; one with --against-..."
        ),
    ] = ()
    until: options.OneUntil = None
    set_b: Annotated[
        TEXTS,
        typer.Option("--set-b", metavar="PATH=VALUE", help="As --set, but in B only: scenario.fill='250mL'."),
    ] = ()
    if_: Annotated[
        TEXTS,
        typer.Option("--if", metavar="PART", help="Give A this part of B: 'lid layers', 'mouth', ...; repeatable."),
    ] = ()
    against_fill: Annotated[
        str | None,
        typer.Option("--against-fill", metavar="FILL", help="A against itself filled 'half', 'quarter' or '250mL'."),
    ] = None
    against_preheat: Annotated[
        str | None,
        typer.Option("--against-preheat", metavar="TEXT", help="A against itself preheated, '5 min at 95 C'."),
    ] = None
    after: Annotated[
        str, typer.Option("--after", metavar="TIME", help="When A is compared with itself in other conditions.")
    ] = "6h"
    all_: Annotated[
        bool,
        typer.Option("--all", help="Which features go with hold time, in designs or a bench folder; none: catalogue."),
    ] = False
    calibrated: CalibrationOptions
    calibrated_as_b: Annotated[
        str | None, typer.Option("--calibrated-as-b", metavar="NAME", help="As --calibrated-as, for B.")
    ] = None
    draws: options.Draws = 32
    seed: options.Seed = 1
    no_interval: options.NoInterval = False
    picture: PictureOptions
    answer: AnswerOptions

    @property
    def sample(self) -> int:
        """Draws that are made."""
        return 0 if self.no_interval else self.draws

    @property
    def is_story(self) -> bool:
        """Whether one container is compared with itself in other conditions."""
        return len(self.designs) == 1 and bool(
            self.against_fill or self.against_preheat or any(text.startswith("scenario.") for text in self.set_b)
        )


@command(Asked, EXAMPLE)
def explain(asked: Asked) -> None:
    """Tell why one container holds longer than another, part by part."""
    if asked.all_:
        _explain_all(asked)
    elif asked.is_story:
        _tell_story(asked)
    else:
        _explain_pair(asked)


def _under_calibration(text: str, *calibrated: Calibrated) -> str:
    """Return a text with what was taken from a calibration in front."""
    lines = [
        f"{letter}: {known.line()}" if len(calibrated) > 1 else known.line()
        for letter, known in zip("AB", calibrated, strict=False)
        if known.file
    ]
    return in_blocks(["\n".join(lines), text])


def _calibration_entry(*calibrated: Calibrated) -> dict[str, Any]:
    """Return what was taken from a calibration, for a JSON object; nothing if there is none."""
    documents = [known.document() for known in calibrated if known.file]
    return {"calibration": documents} if documents else {}


# --- two containers ---------------------------------------------------------------------------------------------


def _explain_pair(wanted: Asked) -> None:
    """Read the pair, swap their parts, and tell."""
    given, calibrated = wanted.given, wanted.calibrated
    given_b = replace(given, settings=(*given.settings, *wanted.set_b))
    (name, name_b), _, _, parts = at_once(
        lambda: _two(wanted),
        lambda: refuse_given(
            {
                "--against-fill": wanted.against_fill is not None,
                "--against-preheat": wanted.against_preheat is not None,
            },
            "goes with one design; for two write --set-b scenario.fill='250 mL'",
        ),
        lambda: wanted.picture.check(wanted.answer.output),
        lambda: _parts(wanted.if_),
    )
    first, second, scenario, scenario_b, typed, known, known_b = at_once(
        partial(read_design, name, given.settings, calibrated.calibration),
        partial(read_design, name_b, given_b.settings, calibrated.calibration),
        partial(read_scenario, given),
        partial(read_scenario, given_b),
        partial(read_limits, wanted.until),
        partial(calibrated.of, name),
        partial(replace(calibrated, calibrated_as=wanted.calibrated_as_b).of, name_b),
    )
    limit = typed[0] if typed else default_limit(scenario)
    both = Contender(first, scenario, known.belief), Contender(second, scenario_b, known_b.belief)
    with options_named():
        predictions = predict(first, scenario, [limit], draws=0), predict(second, scenario_b, [limit], draws=0)
        with progress_bar("swapping parts") as tell:
            found = explain_pair(*both, limit, draws=wanted.sample, seed=wanted.seed, progress=tell)
    assumed = assumed_inputs(scenario, has_limit=bool(typed)), assumed_inputs(scenario_b)
    scale = scale_of(wanted.until, given.start, given.room)
    document = pair_document(found, predictions, parts, assumed) | _calibration_entry(known, known_b)
    document = wanted.picture.drawn_into(document, pair_picture(found, given_conditions(predictions[0], scale)))
    text = partial(pair_text, found, predictions, parts, assumed, scale)
    wanted.answer.give(lambda: _under_calibration(text(), known, known_b), document, wanted.picture.plot)


def _two(wanted: Asked) -> tuple[str, str]:
    """Return A and B; a single design with --set-b is compared with itself changed."""
    designs = wanted.designs
    if len(designs) == 1 and wanted.set_b:
        return designs[0], designs[0]
    if len(designs) != 2:
        message = (
            f"give two designs to tell apart, or one with --against-fill, --against-preheat or --set-b; "
            f"given: {len(designs)}"
        )
        raise InputError(message, "designs")
    return designs[0], designs[1]


def _parts(names: tuple[str, ...]) -> tuple[Group, ...]:
    known = {group.value: group for group in Group}
    refuse(
        InputProblem(f"'{name}' is no part; {nearest_hint(name, known)}parts: {', '.join(known)}", source="--if")
        for name in names
        if name.strip().lower() not in known
    )
    return tuple(known[name.strip().lower()] for name in names)


# --- one container in two conditions ----------------------------------------------------------------------------


def _tell_story(wanted: Asked) -> None:
    """Read container and conditions, follow both runs, and tell."""
    container, scenario, duration, known, *_ = at_once(
        lambda: read_design(wanted.designs[0], wanted.given.settings, wanted.calibrated.calibration),
        lambda: read_scenario(wanted.given),
        lambda: typed_duration(wanted.after, "--after"),
        lambda: wanted.calibrated.of(wanted.designs[0]),
        lambda: wanted.picture.check(wanted.answer.output),
        lambda: _refuse_for_story(wanted),
    )
    other = _other_scenario(wanted, container)
    with options_named(), progress_bar("following both runs") as show:
        drawn: dict[str, Any] = {"draws": wanted.sample, "seed": wanted.seed, "belief": known.belief}
        story = loss_story(container, scenario, other, duration, **drawn)
        show(0.7)
        first = predict(container, scenario, [story.first.end], draws=0)
        second = predict(container, other, [story.second.end], draws=0)
    both, assumed = (first, second), (assumed_inputs(scenario), assumed_inputs(other))
    scale = scale_of(wanted.given.start, wanted.given.room)
    document = story_document(story, both, assumed, wanted.sample, wanted.seed) | _calibration_entry(known)
    picture = story_picture(story, (given_conditions(first, scale), given_conditions(second, scale)), scale)
    document = wanted.picture.drawn_into(document, picture)
    text = partial(story_text, story, both, assumed, scale)
    wanted.answer.give(lambda: _under_calibration(text(), known), document, wanted.picture.plot)


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


# --- a set of containers ----------------------------------------------------------------------------------------


def _explain_all(wanted: Asked) -> None:
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
    heading = f"All in the same conditions: {conditions}"
    wanted.answer.give(lambda: in_blocks([heading, text(), caution_lines(hottest)]), document, wanted.picture.plot)


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
    own_names = CalibrationOptions(calibration=wanted.calibrated.calibration)
    known = at_once(*(partial(own_names.of, design) for design in designs))
    refuse_repeated([container.name for container in containers], "two designs bear this name; rename one")
    return [Entry(c.name, c, calibrated.belief) for c, calibrated in zip(containers, known, strict=True)]


def _entries_of_bench(folder: Path, wanted: Asked) -> list[Entry]:
    """Return the containers of a bench as its readings correct them."""
    from thermal_model.bench.calibration.fit import fit
    from thermal_model.bench.calibration.posterior import belief

    if wanted.calibrated.calibration is not None:
        raise InputError("a bench brings its own; leave it out", source="--calibration")
    with progress_bar(READING):
        bench = read_bench(folder)
    with progress_bar("fitting all runs") as show:
        found = fit(bench, progress=show)
    return [Entry(name, container, belief(found, name)) for name, container in sorted(bench.containers.items())]


def _best_guesses(entries: list[Entry], scenario: Scenario, limit: float) -> list[Prediction]:
    def best_guess(number: int, entry: Entry) -> Prediction:
        try:
            prediction = predict(entry.container, scenario, [limit], draws=0, belief=entry.belief)
        except InputError as error:
            raise error.within(entry.name) from None
        tell(number / len(entries))
        if prediction.hold_times[0].nominal is None:
            raise InputError("does not get to the limit; take one nearer to the start", source=entry.name)
        return prediction

    with progress_bar(f"computing {len(entries)} containers") as tell:
        return at_once(*(partial(best_guess, number, entry) for number, entry in enumerate(entries, start=1)))


def _refuse_for_all(wanted: Asked) -> None:
    given = {
        "--if": wanted.if_,
        "--set-b": wanted.set_b,
        "--calibrated-as": wanted.calibrated.calibrated_as,
        "--calibrated-as-b": wanted.calibrated_as_b,
        "--against-fill": wanted.against_fill,
        "--against-preheat": wanted.against_preheat,
    }
    refuse_given(given, "has no meaning with --all; leave it out")
