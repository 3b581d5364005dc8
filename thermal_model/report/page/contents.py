"""Everything a page tells, computed: rankings, curves beside the readings, why, what if."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from geometries.errors import InputError, InputProblem, refuse
from geometries.numeric import Array
from thermal_model.bench.records import Bench, Run
from thermal_model.bench.reduce.reduction import reduce_bench
from thermal_model.follow import follow
from thermal_model.judge.beside_model import BesideModel, runs_beside_model
from thermal_model.judge.compare import Entry, Ranking, rank_each
from thermal_model.judge.what_if.model import WhatIf, what_if
from thermal_model.prediction import Prediction, predict
from thermal_model.reasons.pair import Contender, PairExplanation, explain_pair
from thermal_model.report.page.knowledge import Known
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import INTERVAL, Belief, draw_sample
from thermal_model.words.numbers import Scale
from thermal_model.work_done import ShareDone, counted, part_of

EVERY_PAIR = 8
"""Containers up to which every pair is explained; of more, each beside the next and beside the best."""

CURVE_DRAWS, CURVE_POINTS = 40, 61
"""For the bands beside readings."""


@dataclass(frozen=True)
class Asked:
    """The question of a page.

    Attributes
    ----------
    scenario : Scenario
        Common conditions; without a fill each container is full.
    limit : float
        [K]
    cold_start, cold_limit : float
        Of the cold list. [K]
    draws, seed : int
    """

    scenario: Scenario
    limit: float
    cold_start: float
    cold_limit: float
    draws: int = 100
    seed: int = 1


@dataclass(frozen=True)
class RunCurve:
    """A run's readings, and the model in the run's own conditions with its band.

    Attributes
    ----------
    run : Run
    time, best, low, high : (k,) arrays
        [s, K, K, K]
    is_wrong : str
        What went wrong with the run, "" if nothing did.
    """

    run: Run
    time: Array
    best: Array
    low: Array
    high: Array
    is_wrong: str


@dataclass(frozen=True)
class PageContents:
    """All that a page tells.

    Attributes
    ----------
    known : Known
    asked : Asked
    rankings : dict of str to Ranking
        "hot", "full" and "cold", those that there are.
    predictions : dict of str to Prediction
        Of each container in the common conditions.
    runs : tuple of RunCurve
    measured : tuple of BesideModel
    pairs : dict of (str, str) to PairExplanation
        By the names of both.
    what_if : WhatIf
    """

    known: Known
    asked: Asked
    rankings: dict[str, Ranking]
    predictions: dict[str, Prediction]
    runs: tuple[RunCurve, ...]
    measured: tuple[BesideModel, ...]
    pairs: dict[tuple[str, str], PairExplanation]
    what_if: WhatIf


def gather(known: Known, asked: Asked, *, progress: ShareDone | None = None) -> PageContents:
    """Compute all that a page tells.

    Parameters
    ----------
    known : Known
        A bench and what is known of its containers.
    asked : Asked
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If no container can take part.
    """
    _refuse_wrong_sides(asked)
    bench, entries = known.bench, known.entries
    rankings = _rankings(entries, asked, part_of(progress, 0.0, 0.03))
    first = next(iter(rankings.values()))
    named = {standing.entry.name: standing.entry for standing in first.standings}
    # ShareDone goes by what the parts take, by measurement.
    beside = runs_beside_model(bench, asked.limit, known.next_runs, draws=CURVE_DRAWS, seed=asked.seed)
    return PageContents(
        known,
        asked,
        rankings,
        _predictions(named, asked, part_of(progress, 0.03, 0.05)),
        tuple(_run_curves(bench, known.next_runs, asked.seed, part_of(progress, 0.05, 0.07))),
        tuple(beside),
        dict(_pairs(first, asked, part_of(progress, 0.07, 0.18))),
        what_if(entries, asked.scenario, draws=asked.draws, seed=asked.seed, progress=part_of(progress, 0.18, 1.0)),
    )


def _refuse_wrong_sides(asked: Asked) -> None:
    """Refuse a page that would call cold what is hot."""
    problems = []
    if asked.limit >= float(asked.scenario.start):
        message = "lies above the start; the page's first list is of hot contents, its cold one has a start of its own"
        problems.append(InputProblem(f"{Scale.CELSIUS.text(asked.limit)} {message}", "until"))
    if asked.cold_limit <= asked.cold_start:
        limit, start = (Scale.CELSIUS.text(value) for value in (asked.cold_limit, asked.cold_start))
        problems.append(
            InputProblem(f"{limit} is not above the cold start, {start}; take a warmer limit", "cold_until")
        )
    refuse(problems)


def _rankings(entries: Sequence[Entry], asked: Asked, progress: ShareDone | None) -> dict[str, Ranking]:
    conditions = {"hot": (asked.scenario, asked.limit)}
    if asked.scenario.fill is not None:
        conditions["full"] = asked.scenario.model_copy(update={"fill": None}), asked.limit
    cold = asked.scenario.model_copy(update={"start": asked.cold_start, "preheat": None})
    if asked.cold_limit < float(asked.scenario.room):
        conditions["cold"] = cold, asked.cold_limit
    return rank_each(entries, conditions, draws=asked.draws, seed=asked.seed, progress=progress)


def _predictions(named: Mapping[str, Entry], asked: Asked, progress: ShareDone | None) -> dict[str, Prediction]:
    return {
        name: predict(
            entry.container, asked.scenario, [asked.limit], draws=CURVE_DRAWS, seed=asked.seed, belief=entry.belief
        )
        for name, entry in counted(list(named.items()), progress)
    }


def _run_curves(
    bench: Bench, beliefs: Mapping[str, Belief | None], seed: int, progress: ShareDone | None
) -> Iterator[RunCurve]:
    wrong = {flag.run: flag.cause for flag in reduce_bench(bench, []).flags}
    for run in counted(bench.runs, progress):
        times = [reading.time for reading in run.readings]
        times += [time for passing in run.passings for time in (passing.earliest, passing.latest) if np.isfinite(time)]
        if not times or max(times) <= 0.0:
            continue
        sample = draw_sample(
            run.container_at_run, run.scenario, CURVE_DRAWS, seed, belief=beliefs.get(run.container), own=run.container
        )
        until = np.full(sample.count, 1.02 * max(times))
        found = follow(sample, [np.nan], horizon=until / sample.stretch, record=True)
        good = np.flatnonzero(found.is_good)
        if not len(good) or good[0] != 0:
            continue
        time = until[0] * np.linspace(0.0, 1.0, CURVE_POINTS) ** 1.5
        curves = found.stretched_temperatures(good, time, sample.stretch)
        low, high = np.quantile(curves[1:] if len(curves) > 1 else curves, INTERVAL, axis=0)
        yield RunCurve(run, time, curves[0], low, high, wrong.get(run.name, ""))


def _pairs(
    ranking: Ranking, asked: Asked, progress: ShareDone | None
) -> Iterator[tuple[tuple[str, str], PairExplanation]]:
    entries = [standing.entry for standing in ranking.standings if np.isfinite(standing.nominal)]
    wanted = list(combinations(entries, 2))
    if len(entries) > EVERY_PAIR:
        wanted = [*pairwise(entries), *((entries[0], other) for other in entries[2:])]
    for pair in counted(wanted, progress):
        one, other = (Contender(entry.container, asked.scenario, entry.belief) for entry in pair)
        try:
            found = explain_pair(one, other, asked.limit, seed=asked.seed)
        except InputError:
            # A pair whose parts do not go together is left out; the page says that it is not explained.
            continue
        yield (pair[0].name, pair[1].name), found
