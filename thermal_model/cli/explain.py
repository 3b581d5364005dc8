"""`holdtime explain`: why one container holds longer than another, part by part."""

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from thermal_model.cli import options
from thermal_model.cli.outputs import check_files
from thermal_model.cli.question_options import Plot, Until
from thermal_model.cli.scenario_signature import with_scenario

if TYPE_CHECKING:
    from geometries.container import Container
    from thermal_model.cli.scenario_options import ScenarioOptions
    from thermal_model.decide.explain_pair import Contender, PairExplanation
    from thermal_model.decide.parts import Group
    from thermal_model.predict import Prediction
    from thermal_model.scenario import Scenario
    from thermal_model.wording import Scale

EXAMPLE = "holdtime explain slim_neck_double_seal single_seal_plug --fill 500mL --until 60C"

DEFAULT_DRAWS, DEFAULT_SEED = 32, 1


@dataclass(frozen=True)
class _Wanted:
    """What is to be computed, shown and written."""

    designs: tuple[str, ...]
    until: str | None
    settings_b: tuple[str, ...]
    parts: tuple[str, ...]
    against_fill: str | None
    against_preheat: str | None
    after: str
    draws: int
    seed: int
    plot: Path | None
    json: bool
    output: Path | None

    @property
    def is_story(self) -> bool:
        """Whether one container is compared with itself in other conditions."""
        return len(self.designs) == 1 and bool(
            self.against_fill or self.against_preheat or any(text.startswith("scenario.") for text in self.settings_b)
        )


@with_scenario
def explain(
    given: "ScenarioOptions",
    designs: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="A [B]", help="Design files (TOML), or names from: holdtime designs list; one with --against-..."
        ),
    ] = None,
    until: Until = None,
    set_b: Annotated[
        list[str] | None,
        typer.Option("--set-b", metavar="PATH=VALUE", help="As --set, but in B only: scenario.fill='250mL'."),
    ] = None,
    if_: Annotated[
        list[str] | None,
        typer.Option("--if", metavar="PART", help="Give A this part of B: 'lid layers', 'mouth', ...; repeatable."),
    ] = None,
    against_fill: Annotated[
        str | None,
        typer.Option("--against-fill", metavar="FILL", help="A against itself filled 'half', 'quarter' or '250mL'."),
    ] = None,
    against_preheat: Annotated[
        str | None,
        typer.Option("--against-preheat", metavar="TEXT", help="A against itself preheated, '5 min at 95 C'."),
    ] = None,
    after: Annotated[
        str, typer.Option("--after", metavar="TIME", help="When A is compared with itself in other conditions.")
    ] = "6h",
    all_: Annotated[
        bool, typer.Option("--all", help="Which features go with hold time in all designs given; none: the catalogue.")
    ] = False,
    draws: options.Draws = DEFAULT_DRAWS,
    seed: options.Seed = DEFAULT_SEED,
    no_interval: options.NoInterval = False,
    plot: Plot = None,
    json: options.Json = False,
    output: options.Output = None,
) -> None:
    """Tell why one container holds longer than another, part by part."""
    wanted = _Wanted(
        tuple(designs or ()),
        until,
        tuple(set_b or ()),
        tuple(if_ or ()),
        against_fill,
        against_preheat,
        after,
        0 if no_interval else draws,
        seed,
        plot,
        json,
        output,
    )
    if all_:
        _run_all(given, wanted)
    elif wanted.is_story:
        _run_story(given, wanted)
    else:
        _run_pair(given, wanted)


@dataclass(frozen=True)
class _Asked:
    """The pair as read."""

    first: "Contender"
    second: "Contender"
    limit: float
    parts: "tuple[Group, ...]"
    assumed: tuple[str, ...]
    scale: "Scale"


def _run_pair(given: "ScenarioOptions", wanted: _Wanted) -> None:
    from geometries.errors import InputError
    from thermal_model.cli.limits import with_option_names
    from thermal_model.cli.progress import progress_bar
    from thermal_model.decide.explain_pair import explain_pair
    from thermal_model.predict import predict

    asked = _read_pair(given, wanted)
    try:
        predictions = [predict(c.container, c.scenario, [asked.limit], draws=0) for c in (asked.first, asked.second)]
        with progress_bar("swapping parts") as tell:
            found = explain_pair(
                asked.first, asked.second, asked.limit, draws=wanted.draws, seed=wanted.seed, progress=tell
            )
    except InputError as error:
        raise with_option_names(error) from None
    _write_pair(found, (predictions[0], predictions[1]), asked, wanted)


def _read_pair(given: "ScenarioOptions", wanted: _Wanted) -> _Asked:
    from thermal_model.cli.limits import default_limit, read_limits
    from thermal_model.cli.scenario_options import read_scenario
    from thermal_model.cli.settings import at_once, read_design
    from thermal_model.decide.explain_pair import Contender
    from thermal_model.wording import scale_of

    both, of_b = given.settings, (*given.settings, *wanted.settings_b)
    pair, *_ = at_once(
        lambda: _two(wanted.designs),
        lambda: _refuse_for_pair(wanted),
        lambda: check_files(wanted.plot, wanted.output),
        lambda: _parts(wanted.parts),
    )
    first, second, scenario, scenario_b, typed = at_once(
        partial(read_design, pair[0], both),
        partial(read_design, pair[1], of_b),
        partial(read_scenario, given),
        partial(read_scenario, replace(given, settings=of_b)),
        lambda: read_limits((wanted.until,) if wanted.until is not None else ()),
    )
    assumed = {"fill", "start", "room", "contents"} - scenario.model_fields_set
    assumed -= {"room"} if scenario.room_profile is not None else set()
    assumed |= set() if typed else {"until"}
    return _Asked(
        Contender(first, scenario),
        Contender(second, scenario_b),
        typed[0] if typed else default_limit(scenario),
        tuple(_parts(wanted.parts)),
        tuple(sorted(assumed)),
        scale_of(wanted.until, given.start, given.room),
    )


def _refuse_for_pair(wanted: _Wanted) -> None:
    from geometries.errors import InputError, InputProblem

    given = {"--against-fill": wanted.against_fill, "--against-preheat": wanted.against_preheat}
    problems = [
        InputProblem("goes with one design; for two write --set-b scenario.fill='250 mL'", source=option)
        for option, value in given.items()
        if value is not None
    ]
    if problems:
        raise InputError(problems)


def _two(designs: tuple[str, ...]) -> tuple[str, str]:
    from geometries.errors import InputError, InputProblem

    if len(designs) != 2:
        message = (
            f"give two designs to tell apart, or one with --against-fill, --against-preheat or --set-b scenario.; "
            f"given: {len(designs)}"
        )
        raise InputError(InputProblem(message, "designs"))
    return designs[0], designs[1]


def _parts(names: tuple[str, ...]) -> "list[Group]":
    from geometries.errors import InputError, InputProblem, nearest_hint
    from thermal_model.decide.parts import Group

    known = {group.value: group for group in Group}
    problems = [
        InputProblem(f"'{name}' is no part; {nearest_hint(name, known)}parts: {', '.join(known)}", source="--if")
        for name in names
        if name.strip().lower() not in known
    ]
    if problems:
        raise InputError(problems)
    return [known[name.strip().lower()] for name in names]


def _write_pair(
    found: "PairExplanation", predictions: "tuple[Prediction, Prediction]", asked: _Asked, wanted: _Wanted
) -> None:
    from thermal_model.report.explain_pair_text import pair_document, pair_text
    from thermal_model.report.summary import given_line

    document = pair_document(found, predictions, asked.parts, asked.assumed)
    if wanted.plot is not None:
        from thermal_model.report.explain_pair_plots import draw_pair

        draw_pair(found, wanted.plot, given_line(predictions[0], frozenset(), asked.scale).partition(": ")[2])
    show_answer(
        lambda: pair_text(found, predictions, asked.parts, frozenset(asked.assumed), asked.scale), document, wanted
    )


# --- one container, two runs -----------------------------------------------------------------------------------


def _run_story(given: "ScenarioOptions", wanted: _Wanted) -> None:
    from geometries.errors import InputError
    from thermal_model.cli.limits import with_option_names
    from thermal_model.cli.scenario_options import read_scenario
    from thermal_model.cli.settings import at_once, read_design
    from thermal_model.decide.loss_story import loss_story
    from thermal_model.predict import predict
    from thermal_model.report.loss_story_text import story_document, story_text
    from thermal_model.wording import scale_of

    container, scenario, duration, *_ = at_once(
        lambda: read_design(wanted.designs[0], given.settings),
        lambda: read_scenario(given),
        lambda: _duration(wanted.after),
        lambda: check_files(None, wanted.output),
        lambda: _refuse_for_story(wanted),
    )
    other = _other_scenario(given, wanted, container)
    try:
        story = loss_story(container, scenario, other, duration, draws=wanted.draws, seed=wanted.seed)
        ends = story.first.end, story.second.end
        both = [predict(container, s, [end], draws=0) for s, end in zip((scenario, other), ends, strict=True)]
    except InputError as error:
        raise with_option_names(error) from None
    assumed = sorted({"fill", "start", "room", "contents"} - scenario.model_fields_set)
    scale = scale_of(given.start, given.room)
    document = story_document(story, (both[0], both[1]), assumed, wanted.draws, wanted.seed)
    show_answer(lambda: story_text(story, (both[0], both[1]), frozenset(), scale), document, wanted)


def _refuse_for_story(wanted: _Wanted) -> None:
    from geometries.errors import InputError, InputProblem

    given = {"--plot": wanted.plot, "--if": wanted.parts, "--until": wanted.until}
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


def _other_scenario(given: "ScenarioOptions", wanted: _Wanted, container: "Container") -> "Scenario":
    from geometries.container import closed_capacity
    from thermal_model.cli.scenario_options import read_scenario

    other = replace(given, settings=(*given.settings, *wanted.settings_b))
    if wanted.against_preheat is not None:
        other = replace(other, preheat=wanted.against_preheat)
    if wanted.against_fill is not None:
        share = FILL_SHARES.get(wanted.against_fill.strip().lower())
        text = wanted.against_fill if share is None else f"{share * float(closed_capacity(container)) * 1e6!r} mL"
        other = replace(other, fill=text)
    return read_scenario(other)


FILL_SHARES = {"full": 1.0, "half": 0.5, "quarter": 0.25}
"""Words for a fill, of what fits under the lid."""


def _duration(text: str) -> float:
    from geometries.errors import InputError, InputProblem
    from geometries.quantities import Dimension, parse_quantity

    try:
        duration = parse_quantity(text, Dimension.DURATION)
    except ValueError as error:
        raise InputError(InputProblem(str(error), source="--after")) from None
    if not 0.0 < duration <= 7.0 * 86400.0:
        raise InputError(
            InputProblem(f"'{text}' is not allowed; it must be above zero, at most 7 days", source="--after")
        )
    return duration


# --- many containers --------------------------------------------------------------------------------------------


def _run_all(given: "ScenarioOptions", wanted: _Wanted) -> None:
    from geometries.design_file import catalogue_names
    from geometries.errors import InputError
    from thermal_model.cli.limits import default_limit, read_limits, with_option_names
    from thermal_model.cli.scenario_options import read_scenario
    from thermal_model.cli.settings import at_once, read_design
    from thermal_model.decide.features import study_features
    from thermal_model.report.features_text import features_document, features_text
    from thermal_model.report.results import warning_lines
    from thermal_model.wording import scale_of

    names = tuple(dict.fromkeys(wanted.designs)) or tuple(catalogue_names())
    containers, scenario, typed, *_ = at_once(
        lambda: at_once(*(partial(read_design, name, given.settings) for name in names)),
        partial(read_scenario, given),
        lambda: read_limits((wanted.until,) if wanted.until is not None else ()),
        lambda: check_files(None, wanted.output),
        lambda: _refuse_for_all(wanted),
    )
    limit = typed[0] if typed else default_limit(scenario)
    try:
        predictions = _best_guesses(names, containers, scenario, limit)
        study = study_features(
            {p.container.name: p.container for p in predictions},
            [p.hold_times[0].nominal or 0.0 for p in predictions],
        )
    except InputError as error:
        raise with_option_names(error) from None
    hottest = max(predictions, key=lambda p: p.hold_times[0].nominal or 0.0)
    inputs = {"scenario": scenario.model_dump(mode="json"), "until_K": limit, "designs": list(names)}
    document = features_document(study, inputs, warning_lines(hottest))
    show_answer(lambda: _all_text(features_text(study), hottest, limit, scale_of(wanted.until)), document, wanted)


def _all_text(text: str, prediction: "Prediction", limit: float, scale: "Scale") -> str:
    from thermal_model.report.summary import caution_lines, given_line

    given = given_line(prediction, frozenset(), scale).partition(": ")[2]
    side = "below" if limit > prediction.scenario.start else "above"
    if prediction.scenario.fill is None:
        given = f"each full to its lid, {given.partition(' mL, ')[2]}"
    return "\n\n".join(
        [f"All in the same conditions: {given}; stays {side} {scale.text(limit)}", text, caution_lines(prediction)]
    )


def _best_guesses(
    names: tuple[str, ...], containers: "list[Container]", scenario: "Scenario", limit: float
) -> "list[Prediction]":
    from geometries.errors import InputError, InputProblem
    from thermal_model.cli.progress import progress_bar
    from thermal_model.predict import predict

    found, problems = [], []
    with progress_bar(f"computing {len(names)} containers") as tell:
        for number, (name, container) in enumerate(zip(names, containers, strict=True)):
            try:
                prediction = predict(container, scenario, [limit], draws=0)
            except InputError as error:
                problems += [replace(p, source=p.source or name) for p in error.problems]
                continue
            if prediction.hold_times[0].nominal is None:
                problems.append(InputProblem("does not get to the limit; take one nearer to the start", source=name))
            found.append(prediction)
            tell((number + 1) / len(names))
    twice = sorted({p.container.name for p in found if sum(q.container.name == p.container.name for q in found) > 1})
    problems += [InputProblem("two designs bear this name; rename one", "name", name) for name in twice]
    if problems:
        raise InputError(problems)
    return found


def _refuse_for_all(wanted: _Wanted) -> None:
    from geometries.errors import InputError, InputProblem

    given = {
        "--if": wanted.parts,
        "--set-b": wanted.settings_b,
        "--against-fill": wanted.against_fill,
        "--against-preheat": wanted.against_preheat,
        "--plot": wanted.plot,
    }
    problems = [
        InputProblem("has no meaning with --all; leave it out", source=o) for o, value in given.items() if value
    ]
    if problems:
        raise InputError(problems)


# --- the answer -------------------------------------------------------------------------------------------------


def show_answer(text: Any, document: dict[str, Any], wanted: _Wanted) -> None:
    """Write the JSON object to a file if asked for, and print text or JSON."""
    from thermal_model.report.results import json_text, write_json

    if wanted.output is not None:
        write_json(wanted.output, document)
    typer.echo(json_text(document) if wanted.json else text(), nl=not wanted.json)
    if not wanted.json:
        for path in filter(None, (wanted.output, wanted.plot)):
            typer.echo(f"\nwritten: {path}", err=True)


explain.__doc__ = f"{explain.__doc__}\n\nExample: {EXAMPLE}"
