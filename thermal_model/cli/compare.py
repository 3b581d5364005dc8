"""`holdtime compare`: containers ranked under common conditions, hot and cold, with honest tiers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
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
from thermal_model.cli.calibration_options import Calibration, warning_lines
from thermal_model.cli.limits import default_limit, options_named, read_limits
from thermal_model.cli.lists import COLD, FULL, HOT, ListOptions
from thermal_model.cli.picture_options import PictureOptions
from thermal_model.cli.progress import READING, progress_bar
from thermal_model.cli.record import TEXTS, command
from thermal_model.cli.scenario_options import ScenarioOptions, assumed_inputs, read_scenario
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

CALIBRATED_AS = "--calibrated-as"


@dataclass(frozen=True, kw_only=True)
class _Wanted:
    """What `holdtime compare` is asked."""

    what: Annotated[
        TEXTS,
        typer.Argument(metavar="DESIGN|BENCH...", help="Design files, catalogue names, bench folders."),
    ]
    given: ScenarioOptions
    until: options.OneUntil = None
    calibration: Calibration = None
    calibrated_as: Annotated[
        TEXTS,
        typer.Option(
            CALIBRATED_AS,
            metavar="DESIGN=NAME",
            help="Which container of the bench a design is, if named apart; repeatable.",
        ),
    ] = ()
    lists: ListOptions
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
    conditions = wanted.lists.of(asked.scenario, asked.limit)
    with options_named(), progress_bar("comparing") as show:
        rankings = rank_each(asked.compared.entries, conditions, draws=wanted.sample, seed=wanted.seed, progress=show)
    _write(rankings, _beside_model(asked, wanted), asked, wanted)


@dataclass(frozen=True)
class _Compared:
    """What is compared, the warnings of the calibration that is used, and the benches with what they say of next runs.

    There are none where designs are compared.
    """

    entries: Sequence[Entry]
    warnings: tuple[str, ...] = ()
    benches: tuple[Bench, ...] = ()
    next_runs: Mapping[str, Belief | None] = field(default_factory=dict)


@dataclass(frozen=True)
class _Asked:
    """The question as read."""

    compared: _Compared
    scenario: Scenario
    limit: float
    assumed: frozenset[str]
    scale: Scale


def _beside_model(asked: _Asked, wanted: _Wanted) -> list[BesideModel]:
    """Return what runs measured, and the model in the conditions of each."""
    found: list[BesideModel] = []
    for bench in asked.compared.benches:  # each with its own thermometers and days
        with progress_bar("computing the runs as they were made") as show:
            found += runs_beside_model(
                bench, asked.limit, asked.compared.next_runs, draws=wanted.sample, seed=wanted.seed, progress=show
            )
    return found


def _read(wanted: _Wanted) -> _Asked:
    given = wanted.given
    compared, scenario, typed, *_ = at_once(
        lambda: _compared(wanted),
        lambda: read_scenario(given),
        lambda: read_limits(wanted.until),
        lambda: wanted.picture.check(wanted.csv, wanted.answer.output),
    )
    limit = typed[0] if typed else default_limit(scenario)
    assumed = assumed_inputs(scenario, has_limit=bool(typed))
    return _Asked(compared, scenario, limit, assumed, scale_of(wanted.until, given.start, given.room))


def _compared(wanted: _Wanted) -> _Compared:
    what = wanted.what
    repeated = sorted({name for name in what if list(what).count(name) > 1})
    if repeated:
        message = f"is given twice: {', '.join(repeated)}; give each once, or a copy under another name"
        raise InputError(message, "designs")
    folders = [name for name in what if Path(name).is_dir()]
    if folders and wanted.calibrated_as:
        message = "goes with designs; the containers of a bench folder are those of the bench"
        raise InputError(message, source=CALIBRATED_AS)
    designs = [name for name in what if name not in folders]
    settings, calibration = wanted.given.settings, wanted.calibration
    containers = at_once(*(partial(read_design, design, settings, calibration) for design in designs))
    if folders:
        return _of_benches([Path(folder) for folder in folders], containers, calibration)
    return _of_designs(designs, containers, wanted)


def _of_designs(designs: Sequence[str], containers: Sequence[Container], wanted: _Wanted) -> _Compared:
    """Return designs with what a calibration file knows of each.

    Of one that was not on the bench only what is common to all containers is known.
    """
    names = [container.name for container in containers]
    listed = [n if names.count(n) == 1 else f"{n} ({design})" for n, design in zip(names, designs, strict=True)]
    if wanted.calibration is None:
        if wanted.calibrated_as:
            raise InputError("goes with --calibration FILE", source=CALIBRATED_AS)
        return _Compared([Entry(*each) for each in zip(listed, containers, strict=True)])
    from thermal_model.bench.calibration.calibration_file import read_calibration

    known = read_calibration(wanted.calibration)
    said = dict(assignment(text, CALIBRATED_AS, "mine.toml=slim") for text in wanted.calibrated_as)
    for design, name in said.items():
        if not any(design in spellings for spellings in (designs, names, listed)):
            raise InputError(f"'{design}' is none of the designs: {', '.join(designs)}", source=CALIBRATED_AS)
        known.check_name(name, CALIBRATED_AS)
    entries = []
    for container, *spellings in zip(containers, designs, names, listed, strict=True):
        candidates = (*(said[name] for name in spellings if name in said), *spellings, Path(spellings[0]).stem)
        benched_as = next((name for name in candidates if name in known.containers), None)
        entries.append(Entry(spellings[-1], container, known.belief(benched_as, seats_anew=False), benched_as))
    return _Compared(entries, known.warnings)


def _of_benches(folders: Sequence[Path], designs: Sequence[Container], calibration: Path | None) -> _Compared:
    """Return the containers of benches, each with what the runs of all of them say, and designs beside them.

    Of a design that is on no bench only what is common to all containers is known.
    """
    from thermal_model.bench.calibration.calibration_file import read_calibration
    from thermal_model.report.page.knowledge import known_of

    if calibration is not None and len(folders) > 1:
        message = "goes with one bench folder, or with designs; the readings of several are weighed together anew"
        raise InputError(message, source="--calibration")
    with progress_bar(READING):
        benches = tuple(read_bench(folder) for folder in folders)
    if len(benches) > 1:
        benches = told_apart(benches)
    bench = joined(benches) if len(benches) > 1 else benches[0]
    beside = _beside(bench, designs)
    file = None if calibration is None else read_calibration(calibration)
    with progress_bar("fitting all runs") as show:
        known = known_of(bench, file, beside=beside, progress=show)
    return _Compared(known.entries, known.warnings, benches, known.next_runs)


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


def _write(rankings: dict[str, Ranking], beside: Sequence[BesideModel], asked: _Asked, wanted: _Wanted) -> None:
    document: dict[str, Any] = {
        title.replace(", ", "_"): ranking_document(ranking) for title, ranking in rankings.items()
    }
    if asked.compared.benches:
        document["measured"] = [measured_document(one) for one in beside]
    document["calibration_warnings"] = list(asked.compared.warnings)
    hot = rankings[HOT]
    given = conditions_text(hot.scenario, fill_words(hot.scenario), asked.assumed, asked.scale)
    document = wanted.picture.drawn_into(document, ranking_picture(hot, rankings.get(COLD), given, asked.scale))
    if wanted.csv is not None:
        write_text(wanted.csv, rankings_csv(rankings))
    wanted.answer.give(lambda: _text(rankings, beside, asked), document, wanted.csv, wanted.picture.plot)


def _text(rankings: dict[str, Ranking], beside: Sequence[BesideModel], asked: _Asked) -> str:
    hot = rankings[HOT]
    common = ranking_text(hot, "Common conditions", asked.assumed, asked.scale)
    blocks = [common, tiers_text(hot), capacity_text(hot)]
    if FULL in rankings:
        blocks.append(ranking_text(rankings[FULL], "Each at its own full fill", asked.assumed, asked.scale))
    if COLD in rankings:
        cold = rankings[COLD]
        blocks += [ranking_text(cold, "Cold", asked.assumed - {"start"}, asked.scale), moves_text(hot, cold)]
    is_bench = bool(asked.compared.benches)
    if is_bench:
        blocks.append(measured_text(beside, asked.limit, asked.scale))
    blocks.append(basis_text(asked.compared.entries, is_bench=is_bench))
    blocks += [wrapped(line, hanging="") for line in warning_lines(asked.compared.warnings)]
    if hot.standings:
        first = hot.standings[0].entry.container
        blocks.append(caution_lines(predict(first, asked.scenario, [asked.limit], draws=0)))
    return in_blocks(blocks)
