"""`holdtime compare`: containers ranked under common conditions, hot and cold, with honest tiers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from geometries.container import Container
from geometries.errors import InputError, at_once
from geometries.files import write_text
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.records import Bench
from thermal_model.bench.together import joined, told_apart
from thermal_model.cli import options
from thermal_model.cli.answer import AnswerOptions
from thermal_model.cli.assumed import assumed_inputs
from thermal_model.cli.calibration_options import Calibration, warning_lines
from thermal_model.cli.limits import default_limit, options_named, read_limits
from thermal_model.cli.lists import (
    COLD,
    FULL,
    HOT,
    ColdStart,
    ColdUntil,
    NoCold,
    cold_conditions,
    lists_of,
)
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.question_options import Until
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario
from thermal_model.cli.settings import assignment, read_design
from thermal_model.judge.beside_model import BesideModel, runs_beside_model
from thermal_model.judge.compare import Entry, Ranking, rank_each
from thermal_model.prediction import predict
from thermal_model.report.compare_plots import ranking_picture
from thermal_model.report.compare_text import (
    basis_text,
    capacity_text,
    fill_words,
    measured_document,
    measured_text,
    moves_text,
    ranking_document,
    ranking_text,
    rankings_csv,
    tiers_text,
)
from thermal_model.report.summary import caution_lines, conditions_text
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import Belief
from thermal_model.words.numbers import Scale, scale_of
from thermal_model.words.paragraphs import in_blocks, wrapped

EXAMPLE = "holdtime compare slim_neck_double_seal single_seal_plug wide_mouth_disc --fill 350mL --until 60C"

DEFAULT_DRAWS, DEFAULT_SEED = 100, 1


@dataclass(frozen=True, kw_only=True)
class _Wanted:
    """What `holdtime compare` is asked."""

    what: Annotated[
        TEXTS,
        typer.Argument(metavar="DESIGN|BENCH...", help="Design files, catalogue names, bench folders."),
    ]
    given: ScenarioOptions
    until: Until = None
    calibration: Calibration = None
    calibrated_as: Annotated[
        TEXTS,
        typer.Option(
            "--calibrated-as",
            metavar="DESIGN=NAME",
            help="Which container of the bench a design is, if named apart; repeatable.",
        ),
    ] = ()
    cold_start: ColdStart = "4C"
    cold_until: ColdUntil = "10C"
    no_cold: NoCold = False
    draws: options.Draws = DEFAULT_DRAWS
    seed: options.Seed = DEFAULT_SEED
    no_interval: options.NoInterval = False
    picture: PictureOptions
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Write the lists as a CSV.")] = None
    answer: AnswerOptions

    @property
    def sample(self) -> int:
        """Draws that are made."""
        return 0 if self.no_interval else self.draws


@command(_Wanted, EXAMPLE)
def compare(wanted: _Wanted) -> None:
    """Rank containers under common conditions, hot and cold, and say which can't be told apart."""
    asked = _read(wanted)
    conditions = lists_of(asked.scenario, asked.limit, asked.cold)
    with options_named(), progress_bar("comparing") as show:
        rankings = rank_each(asked.entries, conditions, draws=wanted.sample, seed=wanted.seed, progress=show)
    _write(rankings, _beside_model(asked, wanted), asked, wanted)


@dataclass(frozen=True)
class _Benched:
    """Benches, and what is known of a next run of each of their containers."""

    benches: tuple[Bench, ...]
    beliefs: Mapping[str, Belief | None]


_Read = tuple[list[Entry], _Benched | None, tuple[str, ...]]
"""What is compared, the bench it is of, and the warnings of the calibration that is used."""


@dataclass(frozen=True)
class _Asked:
    """The question as read."""

    entries: Sequence[Entry]
    bench: _Benched | None
    scenario: Scenario
    limit: float
    cold: tuple[Scenario, float] | None
    assumed: frozenset[str]
    scale: Scale
    warnings: tuple[str, ...]


def _beside_model(asked: _Asked, wanted: _Wanted) -> list[BesideModel]:
    """Return what runs measured, and the model in the conditions of each."""
    if asked.bench is None:
        return []
    found: list[BesideModel] = []
    for bench in asked.bench.benches:  # each with its own thermometers and days
        with progress_bar("computing the runs as they were made") as show:
            found += runs_beside_model(
                bench, asked.limit, asked.bench.beliefs, draws=wanted.sample, seed=wanted.seed, progress=show
            )
    return found


def _read(wanted: _Wanted) -> _Asked:
    given = wanted.given
    (entries, bench, warnings), scenario, typed, *_ = at_once(
        lambda: _entries(wanted),
        lambda: read_scenario(given),
        lambda: read_limits(wanted.until),
        lambda: wanted.picture.check(wanted.csv, wanted.answer.output),
    )
    limit = typed[0] if typed else default_limit(scenario)
    cold = None if wanted.no_cold else cold_conditions(scenario, limit, wanted.cold_start, wanted.cold_until)
    assumed = assumed_inputs(scenario, has_limit=bool(typed))
    scale = scale_of(wanted.until, given.start, given.room)
    return _Asked(entries, bench, scenario, limit, cold, assumed, scale, warnings)


def _entries(wanted: _Wanted) -> _Read:
    what, given = wanted.what, wanted.given
    repeated = sorted({name for name in what if list(what).count(name) > 1})
    if repeated:
        message = f"is given twice: {', '.join(repeated)}; give each once, or a copy under another name"
        raise InputError(message, "designs")
    folders = [name for name in what if Path(name).is_dir()]
    if folders:
        if wanted.calibrated_as:
            message = "goes with designs; the containers of a bench folder are those of the bench"
            raise InputError(message, source="--calibrated-as")
        designs = [name for name in what if name not in folders]
        containers = at_once(*(partial(read_design, design, given.settings, wanted.calibration) for design in designs))
        return _of_benches([Path(folder) for folder in folders], containers, wanted.calibration)
    containers = at_once(*(partial(read_design, design, given.settings, wanted.calibration) for design in what))
    names = [container.name for container in containers]
    named = [c.name if names.count(c.name) == 1 else f"{c.name} ({d})" for c, d in zip(containers, what, strict=True)]
    known = _known(
        wanted.calibration, [(design, *pair) for design, *pair in zip(what, names, named, strict=True)], wanted
    )
    return (
        [Entry(*each) for each in zip(named, containers, *zip(*known, strict=True), strict=True)],
        None,
        _warnings(wanted.calibration),
    )


def _known(
    file: Path | None, spellings: Sequence[tuple[str, ...]], wanted: _Wanted
) -> list[tuple[Belief | None, str | None]]:
    """Return what a calibration file knows of each design, and its name on the bench.

    Of one that was not on the bench only what is common to all containers is known.

    Parameters
    ----------
    file : Path or None
    spellings : sequence of tuple of str
        All that a design may be called: as typed, as its file says, as it is listed.
    wanted : _Wanted
    """
    option = "--calibrated-as"
    if file is None:
        if wanted.calibrated_as:
            raise InputError("goes with --calibration FILE", source=option)
        return [(None, None)] * len(spellings)
    from thermal_model.bench.calibration.calibration_file import read_calibration

    known = read_calibration(file)
    said = dict(assignment(text, option, "mine.toml=slim") for text in wanted.calibrated_as)
    for design, name in said.items():
        if not any(design in names for names in spellings):
            listed = ", ".join(names[0] for names in spellings)
            raise InputError(f"'{design}' is none of the designs: {listed}", source=option)
        known.check_name(name, option)
    found: list[tuple[Belief | None, str | None]] = []
    for names in spellings:
        candidates = (*(said[name] for name in names if name in said), *names, Path(names[0]).stem)
        benched_as = next((name for name in candidates if name in known.containers), None)
        found.append((known.belief(benched_as, seats_anew=False), benched_as))
    return found


def _of_benches(folders: Sequence[Path], designs: Sequence[Container], calibration: Path | None) -> _Read:
    """Return the containers of benches, each with what the runs of all of them say, and designs beside them.

    Of a design that is on no bench only what is common to all containers is known.
    """
    from thermal_model.bench.calibration.calibration import warnings_of
    from thermal_model.bench.calibration.calibration_file import read_calibration
    from thermal_model.bench.calibration.fit import fit
    from thermal_model.bench.calibration.posterior import belief

    if calibration is not None and len(folders) > 1:
        message = "goes with one bench folder, or with designs; the readings of several are weighed together anew"
        raise InputError(message, source="--calibration")
    with progress_bar(READING):
        benches = [read_bench(folder) for folder in folders]
    if len(benches) > 1:
        benches = [*told_apart(benches)]
    bench = joined(benches) if len(benches) > 1 else benches[0]
    containers: dict[str, Container] = {**bench.containers, **_beside(bench, designs)}
    know: Callable[..., Belief]
    if calibration is not None:
        file = read_calibration(calibration)
        on_bench = set(file.containers)
        know, warnings = file.belief, file.warnings
    else:
        with progress_bar("fitting all runs") as show:
            found = fit(bench, progress=show)
        on_bench = {run.container for run in bench.runs}
        know, warnings = partial(belief, found), tuple(warnings_of(found))
    benched_as = {name: name if name in on_bench else None for name in sorted(containers)}
    entries = [Entry(n, containers[n], know(benched_as[n], seats_anew=False), benched_as[n]) for n in benched_as]
    beliefs = {name: know(benched_as[name], seats_anew=True) for name in bench.containers}
    return entries, _Benched(tuple(benches), beliefs), warnings


def _beside(bench: Bench, designs: Sequence[Container]) -> dict[str, Container]:
    """Return designs by name; one that is on the bench is that container, not another."""
    found: dict[str, Container] = {}
    for container in designs:
        there = (bench.containers | found).get(container.name, container)
        if there != container:
            message = f"is another design than on {bench.name}; give one of them another name"
            raise InputError(message, "container", container.name)
        found[container.name] = container
    return found


def _warnings(file: Path | None) -> tuple[str, ...]:
    if file is None:
        return ()
    from thermal_model.bench.calibration.calibration_file import read_calibration

    return read_calibration(file).warnings


def _write(rankings: dict[str, Ranking], beside: Sequence[BesideModel], asked: _Asked, wanted: _Wanted) -> None:
    document: dict[str, Any] = {
        title.replace(", ", "_"): ranking_document(ranking) for title, ranking in rankings.items()
    }
    if asked.bench is not None:
        document["measured"] = [measured_document(one) for one in beside]
    document["calibration_warnings"] = list(asked.warnings)
    picture = ranking_picture(rankings[HOT], rankings.get(COLD), _given(rankings[HOT], asked), asked.scale)
    document = wanted.picture.drawn_into(document, picture)
    if wanted.csv is not None:
        write_text(wanted.csv, rankings_csv(rankings))
    wanted.answer.give(lambda: _text(rankings, beside, asked), document, wanted.csv, wanted.picture.plot)


def _given(ranking: Ranking, asked: _Asked) -> str:
    return conditions_text(ranking.scenario, fill_words(ranking), asked.assumed, asked.scale)


def _text(rankings: dict[str, Ranking], beside: Sequence[BesideModel], asked: _Asked) -> str:
    hot = rankings[HOT]
    blocks = [
        ranking_text(hot, "Common conditions", asked.assumed, asked.scale),
        tiers_text(hot),
        capacity_text(hot),
    ]
    if FULL in rankings:
        blocks.append(ranking_text(rankings[FULL], "Each at its own full fill", asked.assumed, asked.scale))
    if COLD in rankings:
        cold = rankings[COLD]
        blocks += [ranking_text(cold, "Cold", asked.assumed - {"start"}, asked.scale), moves_text(hot, cold)]
    if asked.bench is not None:
        blocks.append(measured_text(beside, asked.limit, asked.scale))
    blocks.append(basis_text(asked.entries, is_bench=asked.bench is not None))
    blocks += [wrapped(line, hanging="") for line in warning_lines(asked.warnings)]
    if hot.standings:
        first = hot.standings[0].entry.container
        blocks.append(caution_lines(predict(first, asked.scenario, [asked.limit], draws=0)))
    return in_blocks(blocks)
