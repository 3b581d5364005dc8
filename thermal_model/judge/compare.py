"""Containers ranked under common conditions, how surely each beats the next, and tiers that can't be told apart."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, islice, pairwise

import numpy as np
from numpy.typing import NDArray

from geometries.container import Container, closed_capacity
from geometries.display import Displayed, Listing
from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.assemble.contents import filled_volume
from thermal_model.prediction import check_fill, check_run, sample_times, split_of_runs
from thermal_model.scenario import Scenario
from thermal_model.solver.network import PATHS
from thermal_model.uncertainty import Belief, Sample, draw_sample, low_high, low_median_high
from thermal_model.words.numbers import Scale, duration_text
from thermal_model.work_done import ShareDone

CLEAR = 0.975
"""Probability from which two containers are told apart: alike ones are, wrongly, in one case of twenty."""


@dataclass(frozen=True)
class Entry:
    """A container by the name it goes under, and what a calibration knows about it.

    Attributes
    ----------
    name : str
    container : Container
    belief : Belief or None
        None without a calibration; of a container that was not on the bench, what is common to all.
    benched_as : str or None
        Its name on the bench; None if it was not on it.
    """

    name: str
    container: Container
    belief: Belief | None = None
    benched_as: str | None = None


@dataclass(frozen=True)
class Standing:
    """Where a container stands.

    Attributes
    ----------
    entry : Entry
    fill : float
        [m3]
    times : (n,) array
        Hold time of each draw, infinite where the limit is not reached, NaN where it could not be computed; the
        first is the best guess. [s]
    tier : int
        1 is the best.
    beats_next : float
        Probability that it holds longer than the one below; NaN for the last, and without draws.
    paths : dict of str to float
        Share of each heat path, over PATHS.
    """

    entry: Entry
    fill: float
    times: Array
    tier: int
    beats_next: float
    paths: dict[str, float]

    @property
    def nominal(self) -> float:
        """Best guess. [s]"""
        return float(self.times[0])

    @property
    def failed(self) -> int:
        """Draws that could not be computed, and are left out."""
        return int(np.isnan(self.times).sum())

    @property
    def interval(self) -> tuple[float, float]:
        """5 and 95 % of the draws; NaN without draws. [s]"""
        return low_high(self.times[1:])

    @property
    def centre(self) -> float:
        """Median of the draws, or the best guess without draws. [s]"""
        drawn = self.times[1:][~np.isnan(self.times[1:])]
        return low_median_high(drawn)[1] if len(drawn) else self.nominal


@dataclass(frozen=True, repr=False)
class Ranking(Displayed):
    """Containers from the one that holds longest to the one that holds shortest.

    Attributes
    ----------
    scenario : Scenario
        Its fill is None where every container is filled to its own lid.
    limit : float
        [K]
    standings : tuple of Standing
    left_out : dict of str to str
        Name of each container that could not take part, and why.
    draws, seed : int
    """

    scenario: Scenario
    limit: float
    standings: tuple[Standing, ...]
    left_out: dict[str, str]
    draws: int
    seed: int

    def _line(self) -> str:
        return f"of {len(self.standings)} containers at {Scale.CELSIUS.text(self.limit)}"

    def _tables(self) -> Iterator[Listing]:
        rows = [(str(s.tier), s.entry.name, _held(s.centre), *map(_held, s.interval)) for s in self.standings]
        yield Listing("", rows, ("tier", "container", "holds for", "90 % from", "to"))
        if self.left_out:
            yield Listing("Left out", [*self.left_out.items()])


def _held(seconds: float) -> str:
    return duration_text(seconds) if np.isfinite(seconds) else "-" if np.isnan(seconds) else "longer than followed"


def rank(
    entries: Sequence[Entry],
    scenario: Scenario,
    limit: float,
    *,
    draws: int,
    seed: int = 1,
    progress: ShareDone | None = None,
) -> Ranking:
    """Rank containers under one scenario, as `rank_each` does under several."""
    conditions = {"": (scenario, limit)}
    return rank_each(entries, conditions, draws=draws, seed=seed, progress=progress)[""]


def rank_each(
    entries: Sequence[Entry],
    conditions: Mapping[str, tuple[Scenario, float]],
    *,
    draws: int,
    seed: int = 1,
    progress: ShareDone | None = None,
) -> dict[str, Ranking]:
    """Rank containers under each of several conditions; the order in which they are given does not matter.

    Parameters
    ----------
    entries : sequence of Entry
        Names differ. What is common to all is drawn alike for all, what is a container's own for each apart.
    conditions : mapping of str to (Scenario, float)
        Scenario and limit [K] of each ranking, by its name. A container that does not hold its fill is left out;
        without a fill each is filled to its own lid.
    draws, seed : int
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If a limit can't be reached by any container, or none is given or takes part.
    """
    if not entries:
        raise InputError("no container is given; give one at least", "designs")
    in_order = sorted(entries, key=lambda entry: entry.name)
    taking_part = [_Participants(*_fitting(in_order, *asked), *asked) for asked in conditions.values()]
    samples = [
        [draw_sample(e.container, each.scenario, draws, seed, belief=e.belief, own=e.name) for e in each.fitting]
        for each in taking_part
    ]
    limits = [each.limit for each in taking_part for _ in each.fitting]
    times, failures = sample_times([*chain(*samples)], limits, progress=progress)
    shares = iter(_path_shares([*chain(*samples)], limits, ~np.isnan(times[:, 0])))
    rankings, first = {}, 0
    for name, each in zip(conditions, taking_part, strict=True):
        last = first + len(each.fitting)
        failed = {k - first: error for k, error in failures.items() if first <= k < last}
        standings = each.standings(times[first:last], failed, [*islice(shares, last - first)])
        left_out = each.left_out | {each.fitting[k].name: str(error) for k, error in failed.items()}
        rankings[name] = Ranking(each.scenario, each.limit, _in_tiers(standings), left_out, draws, seed)
        first = last
    return rankings


@dataclass(frozen=True)
class _Participants:
    """Who takes part under one scenario, who does not and why, and the limit [K]."""

    fitting: list[Entry]
    left_out: dict[str, str]
    scenario: Scenario
    limit: float

    def standings(
        self, times: Array, failures: Mapping[int, InputError], shares: Sequence[dict[str, float]]
    ) -> list[Standing]:
        """Return those whose best guess could be computed, the best first, without tiers."""
        if len(failures) == len(self.fitting):
            raise next(iter(failures.values()))
        found = [
            Standing(entry, float(filled_volume(entry.container, self.scenario)), lanes, 0, np.nan, paths)
            for entry, lanes, paths in zip(self.fitting, times, shares, strict=True)
            if not np.isnan(lanes[0])
        ]
        return sorted(found, key=lambda standing: (-standing.centre, -standing.nominal, standing.entry.name))


def _fitting(entries: Sequence[Entry], scenario: Scenario, limit: float) -> tuple[list[Entry], dict[str, str]]:
    fitting, left_out = [], {}
    problems: list[InputError] = []
    for entry in entries:
        holds = f"holds {closed_capacity(entry.container) * 1e6:.0f} mL: "
        try:
            check_fill(entry.container, scenario)
            holds = ""
            check_run(entry.container, scenario, [limit])
        except InputError as error:
            problems.append(error)
            left_out[entry.name] = holds + error.problems[0].message
            continue
        fitting.append(entry)
    if not fitting and problems:
        raise problems[0]
    return fitting, left_out


def _path_shares(
    samples: Sequence[Sample], limits: Sequence[float], is_good: NDArray[np.bool_]
) -> list[dict[str, float]]:
    """Return the share of the heat that takes each path halfway to the limit, at each best guess that is good."""
    good = np.flatnonzero(is_good)
    best = [samples[k].take(np.zeros(1, dtype=np.intp)) for k in good.tolist()]
    found: list[dict[str, float]] = [{} for _ in samples]
    split = split_of_runs(best, np.asarray(limits)[None, good])
    for k, own in zip(good.tolist(), (split / split.sum(axis=0)).T.tolist(), strict=True):
        found[k] = dict(zip(PATHS, own, strict=True))
    return found


def chance_of_longer(first: Array, second: Array) -> float:
    """Return the probability that the first holds longer, from draws whose lane 0 is the best guess; ties count half.

    Examples
    --------
    >>> chance_of_longer(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 1.0]))
    0.75
    """
    if len(first) == 1:
        return float("nan")
    ahead, level = first > second, first == second
    known = ~(np.isnan(first) | np.isnan(second))[1:]
    return float((ahead + 0.5 * level)[1:][known].mean()) if known.any() else float("nan")


def _in_tiers(standings: Sequence[Standing]) -> tuple[Standing, ...]:
    """Return standings, the best first, with their tiers: one begins where its head is clearly beaten."""
    placed: list[Standing] = []
    tier, head = 1, standings[0] if standings else None
    for place, standing in enumerate(standings):
        assert head is not None
        if chance_of_longer(head.times, standing.times) >= CLEAR:
            tier, head = tier + 1, standing
        following = standings[place + 1] if place + 1 < len(standings) else None
        beats = chance_of_longer(standing.times, following.times) if following is not None else np.nan
        placed.append(replace(standing, tier=tier, beats_next=beats))
    return tuple(placed)


CAPACITY_BANDS = (0.0, 350e-6, 600e-6, 1000e-6, np.inf)
"""Bounds of the groups by what fits under the lid: cups, one drink, a bottle, a jug [m3]."""


def by_capacity(ranking: Ranking) -> dict[tuple[float, float], list[Standing]]:
    """Return the standings by band of capacity, in their order; bands without a container are left out. [m3]"""
    groups: dict[tuple[float, float], list[Standing]] = {}
    for low, high in pairwise(CAPACITY_BANDS):
        members = [s for s in ranking.standings if low <= float(closed_capacity(s.entry.container)) < high]
        if members:
            groups[low, high] = members
    return groups


@dataclass(frozen=True)
class Move:
    """How a container's place changes from one list to another, and the heat path whose share changes most."""

    name: str
    before: int
    after: int
    path: str
    share_before: float
    share_after: float


def moves(first: Ranking, second: Ranking) -> list[Move]:
    """Return the containers that stand elsewhere in a second list, greatest move first; those in both lists only."""
    shared = {s.entry.name for s in first.standings} & {s.entry.name for s in second.standings}
    before = [s for s in first.standings if s.entry.name in shared]
    others = [s for s in second.standings if s.entry.name in shared]
    after = {s.entry.name: (place, s) for place, s in enumerate(others, start=1)}
    found = []
    for place, standing in enumerate(before, start=1):
        other_place, other = after[standing.entry.name]
        if other_place != place:
            path = max(PATHS, key=lambda p: abs(other.paths[p] - standing.paths[p]))
            found.append(Move(standing.entry.name, place, other_place, path, standing.paths[path], other.paths[path]))
    return sorted(found, key=lambda move: (-abs(move.after - move.before), move.name))
