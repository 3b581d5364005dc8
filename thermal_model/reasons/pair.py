"""Why one container holds longer than another: the difference of their log hold times, shared among their parts."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometries.checks import dimension_problems
from geometries.container import Container
from geometries.display import Displayed, Listing
from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.assemble.contents import filled_volume
from thermal_model.assemble.lanes import Lanes
from thermal_model.follow import DEFAULT_HORIZON, follow
from thermal_model.judge.compare import chance_of_longer
from thermal_model.prediction import check_fill, check_run
from thermal_model.reasons.parts import (
    OF_CONTAINER,
    Adaptation,
    Group,
    Parts,
    differing,
    put_together,
    swapped,
    taken_apart,
    without_own_mouths,
)
from thermal_model.reasons.shapley import shapley_shares
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import (
    INTERVAL,
    PRIORS,
    Belief,
    Scope,
    draw_sample,
    perturbed_container,
    perturbed_scenario,
)
from thermal_model.unknowns import UNKNOWN_NAMES, Unknowns
from thermal_model.words.numbers import MINUTE, Scale, duration_text
from thermal_model.work_done import ShareDone

OWNERS: dict[str, Group] = {
    "mouth_diameter": Group.MOUTH,
    "lid_thickness": Group.LID_LAYERS,
    "layer_conductivity": Group.LID_LAYERS,
    "lid_contact": Group.LID_LAYERS,
    "lid_leak": Group.LID_LAYERS,
    "lid_gap": Group.PLUG_AND_SEALS,
    "annulus_exchange": Group.PLUG_AND_SEALS,
    "clearance": Group.PLUG_AND_SEALS,
    "gap_emissivity": Group.WALL_AND_GAP,
    "gap_pressure": Group.WALL_AND_GAP,
    "gap_conduction": Group.WALL_AND_GAP,
    "exterior_emissivity": Group.WALL_AND_GAP,
    "wall_conductivity": Group.WALL_AND_GAP,
    "wall_thickness": Group.WALL_AND_GAP,
}
"""The part that each of a container's own unknowns belongs to, and goes along with."""


@dataclass(frozen=True)
class Contender:
    """A container, the scenario it stands in, and what a calibration knows about it."""

    container: Container
    scenario: Scenario
    belief: Belief | None = None


@dataclass(frozen=True)
class Estimate:
    """A best guess, and 5, 50 and 95 % of its draws; the three are NaN without draws."""

    nominal: float
    low: float
    median: float
    high: float

    @classmethod
    def of(cls, lanes: Array) -> "Estimate":
        """Return the estimate from (n,) lanes, the first of which is the best guess."""
        if len(lanes) == 1:
            return cls(float(lanes[0]), np.nan, np.nan, np.nan)
        low, median, high = np.quantile(lanes[1:], [INTERVAL[0], 0.5, INTERVAL[1]])
        return cls(float(lanes[0]), float(low), float(median), float(high))


@dataclass(frozen=True)
class Share:
    """What a part adds to the difference.

    Attributes
    ----------
    group : Group
    log_ratio : Estimate
        Its Shapley share of log(hold time of A / hold time of B). [-]
    seconds : Estimate
        The same of the difference of hold times, in proportion. [s]
    alone_in_first, alone_in_second : Estimate
        Hold time of A with this part of B, and of B with this part of A. [s]
    """

    group: Group
    log_ratio: Estimate
    seconds: Estimate
    alone_in_first: Estimate
    alone_in_second: Estimate


@dataclass(frozen=True, repr=False)
class PairExplanation(Displayed):
    """Why A holds longer than B, or shorter.

    Attributes
    ----------
    first, second : Contender
    limit : float
        [K]
    groups : tuple of k Group
        That differ; all others have no share.
    identical : tuple of Group
    times : (2**k, n) array
        Hold time of each hybrid: bit i of its number is set if groups[i] is that of A. [s]
    adaptations : dict of Adaptation to int
        How many hybrids needed each.
    draws, seed : int
        Draws asked for.
    dropped, failed : int
        Draws left out since a hybrid did not get to the limit, or could not be computed.
    """

    first: Contender
    second: Contender
    limit: float
    groups: tuple[Group, ...]
    identical: tuple[Group, ...]
    times: Array
    adaptations: dict[Adaptation, int]
    draws: int
    seed: int
    dropped: int
    failed: int

    def _line(self) -> str:
        names = (contender.container.name for contender in (self.first, self.second))
        held = (duration_text(time.nominal) for time in (self.first_time, self.second_time))
        first, second = (f"{name} {time}" for name, time in zip(names, held, strict=True))
        return f"{first}, {second}, until {Scale.CELSIUS.text(self.limit)}"

    def _tables(self) -> Iterator[Listing]:
        shares = sorted(self.shares(), key=lambda share: -abs(share.log_ratio.nominal))
        rows = [
            (s.group.value.replace("_", " "), f"{s.seconds.nominal / MINUTE:+.0f} min", f"{s.log_ratio.nominal:+.3f}")
            for s in shares
        ]
        yield Listing("The first holds longer by", rows, ("part", "hold time", "log of the ratio"))

    @property
    def first_time(self) -> Estimate:
        """Hold time of A. [s]"""
        return Estimate.of(self.times[-1])

    @property
    def second_time(self) -> Estimate:
        """Hold time of B. [s]"""
        return Estimate.of(self.times[0])

    @property
    def log_ratio(self) -> Estimate:
        """Log of the hold time of A over that of B. [-]"""
        return Estimate.of(np.log(self.times[-1] / self.times[0]))

    @property
    def seconds(self) -> Estimate:
        """Hold time of A less that of B. [s]"""
        return Estimate.of(self.times[-1] - self.times[0])

    @property
    def kept(self) -> int:
        """How many draws the intervals rest on."""
        return self.times.shape[1] - 1

    @property
    def chance_first_holds_longer(self) -> float:
        """Share of the draws in which A holds longer; NaN without draws."""
        return chance_of_longer(self.times[-1], self.times[0])

    def shares(self) -> list[Share]:
        """Return the share of each group that differs, in the order of `groups`."""
        lanes = shapley_shares(np.log(self.times))
        weight = logarithmic_mean(self.times[-1], self.times[0])
        last = len(self.times) - 1
        return [
            Share(
                group,
                Estimate.of(lanes[i]),
                Estimate.of(lanes[i] * weight),
                Estimate.of(self.times[last ^ (1 << i)]),
                Estimate.of(self.times[1 << i]),
            )
            for i, group in enumerate(self.groups)
        ]

    def first_with(self, groups: Sequence[Group]) -> Estimate:
        """Return the hold time of A with some parts of B. [s]"""
        given = sum(1 << i for i, group in enumerate(self.groups) if group in groups)
        return Estimate.of(self.times[(len(self.times) - 1) & ~given])


def logarithmic_mean(one: Array, other: Array) -> Array:
    """Return what turns a difference of logarithms into one of numbers: (a - b) / log(a / b), a where they agree.

    Examples
    --------
    >>> float(logarithmic_mean(np.array(5.0), np.array(5.0)))
    5.0
    """
    ratio = np.log(one / other)
    close = np.abs(ratio) < 1e-6
    return np.where(close, np.sqrt(one * other), (one - other) / np.where(close, 1.0, ratio))


def explain_pair(
    first: Contender,
    second: Contender,
    limit: float,
    *,
    draws: int = 0,
    seed: int = 1,
    horizon: float = DEFAULT_HORIZON,
    progress: ShareDone | None = None,
) -> PairExplanation:
    """Share the difference between two containers among their parts.

    Parameters
    ----------
    first, second : Contender
        A and B. Parts that differ are swapped in all combinations; the fill and the other conditions count as parts
        where the scenarios differ.
    limit : float
        [K]
    draws : int
        Draws for the intervals, the same in every combination. What is common to all containers is drawn alike for
        both; so are the unknowns of parts that are the same.
    seed : int
    horizon : float
        [s]
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If a container or a hybrid does not reach the limit, or can't be made.
    """
    for contender in (first, second):
        check_fill(contender.container, contender.scenario)
        check_run(contender.container, contender.scenario, [limit])
    nominal = without_own_mouths(taken_apart(first.container), taken_apart(second.container))
    groups = _players(first, second, *nominal)
    hybrids = _Hybrids(first, second, groups, draws, seed)
    runs = [hybrids.run(number) for number in range(1 << len(groups))]
    found = follow(runs, [limit], horizon=horizon, progress=progress)
    nominals = (draws + 1) * np.arange(len(runs))
    if not found.is_good[nominals].all():
        problems = found.failure(int(nominals[~found.is_good[nominals]][0])).problems
        pair = f"{first.container.name} against {second.container.name}"
        raise InputError(replace(problem, source=pair) for problem in problems)
    times = found.hold_times[0].reshape(len(runs), -1)
    _refuse_unreached(first, second, groups, times[:, 0], horizon)
    is_good = np.isfinite(times).all(axis=0)
    is_lost = ~found.is_good.reshape(times.shape).all(axis=0)
    return PairExplanation(
        first,
        second,
        limit,
        groups,
        tuple(group for group in OF_CONTAINER if group not in groups),
        times[:, is_good],
        hybrids.adaptations,
        draws,
        seed,
        int((~is_good & ~is_lost).sum()),
        int(is_lost.sum()),
    )


def _players(first: Contender, second: Contender, one: Parts, other: Parts) -> tuple[Group, ...]:
    told_apart = {
        OWNERS[name]
        for belief in (first.belief, second.belief)
        if belief is not None and not _same_belief(first.belief, second.belief)
        for name in belief.names
        if name in OWNERS
    }
    different = {*differing(one, other), *told_apart}
    groups = [group for group in OF_CONTAINER if group in different]
    if first.scenario.fill != second.scenario.fill:
        groups.append(Group.FILL)
    if _conditions(first.scenario) != _conditions(second.scenario):
        groups.append(Group.CONDITIONS)
    return tuple(groups)


def _same_belief(one: Belief | None, other: Belief | None) -> bool:
    if one is None or other is None:
        return one is other
    return one.names == other.names and np.array_equal(one.mean, other.mean) and np.array_equal(one.root, other.root)


def _conditions(scenario: Scenario) -> Scenario:
    return scenario.model_copy(update={"fill": None})


def _refuse_unreached(
    first: Contender, second: Contender, groups: Sequence[Group], times: Array, horizon: float
) -> None:
    missing = np.flatnonzero(~np.isfinite(times))
    if not len(missing):
        return
    number = int(missing[-1])
    kept = [group.value for i, group in enumerate(groups) if number >> i & 1]
    what = first.container.name if number == len(times) - 1 else f"{second.container.name}"
    if kept and number < len(times) - 1:
        what += f" with {', '.join(kept)} of {first.container.name}"
    message = (
        f"{what} does not get there within {horizon / 86400.0:g} days, so there is no difference to share; "
        "take a limit nearer to the start"
    )
    raise InputError(message, "until")


class _Hybrids:
    """All combinations of the parts of two containers, with the same draws in each."""

    def __init__(self, first: Contender, second: Contender, groups: tuple[Group, ...], draws: int, seed: int) -> None:
        self.groups, self.contenders, self.draws = groups, (first, second), draws
        self.values = self._drawn_values(draws, seed)
        parts = [
            taken_apart(perturbed_container(contender.container, values))
            for contender, values in zip(self.contenders, self.values, strict=True)
        ]
        self.parts = without_own_mouths(*parts)
        self.adaptations: dict[Adaptation, int] = {}

    def _drawn_values(self, draws: int, seed: int) -> list[dict[str, Array]]:
        """Return the unknowns of A and of B, drawn alike where they are common or belong to equal parts."""
        first, second = self.contenders
        commons = _common_belief(first.belief), _common_belief(second.belief)
        normals = []
        for contender, own, common in zip(self.contenders, _own_names(first, second), reversed(commons), strict=True):
            belief = contender.belief or common
            apart = draw_sample(contender.container, contender.scenario, draws, seed, belief=belief, own=own)
            alike = draw_sample(contender.container, contender.scenario, draws, seed, belief=belief)
            normals.append(
                {
                    name: apart.standard_normals[name]
                    if prior.scope is Scope.CONTAINER and OWNERS[name] in self.groups
                    else alike.standard_normals[name]
                    for name, prior in PRIORS.items()
                }
            )
        return [{name: PRIORS[name].values(drawn[name]) for name in PRIORS} for drawn in normals]

    def run(self, number: int) -> Lanes:
        """Return the hybrid of a number."""
        of_first = frozenset(group for i, group in enumerate(self.groups) if number >> i & 1)
        assembled = put_together(swapped(*self.parts, of_first), "hybrid")
        for adaptation in assembled.adaptations:
            self.adaptations[adaptation] = self.adaptations.get(adaptation, 0) + 1
        self._refuse_impossible(assembled.container, of_first)
        scenario = self._scenario(assembled.container, of_first)
        return Lanes(assembled.container, scenario, self._unknowns(of_first), self.draws + 1)

    def _owner(self, group: Group, of_first: frozenset[Group]) -> int:
        return 0 if group in of_first else 1

    def _unknowns(self, of_first: frozenset[Group]) -> Unknowns:
        return Unknowns(
            **{
                name: self.values[self._owner(OWNERS[name], of_first) if name in OWNERS else 0][name]
                for name in UNKNOWN_NAMES
            }
        )

    def _scenario(self, container: Container, of_first: frozenset[Group]) -> Scenario:
        """Return the conditions with the fill, which is the lid's where it does not fit below it."""
        scenario = self.contenders[self._owner(Group.CONDITIONS, of_first)].scenario
        fill = self.contenders[self._owner(Group.FILL, of_first)].scenario.fill
        scenario = scenario.model_copy(update={"fill": fill})
        perturbed = perturbed_scenario(container, scenario, self.values[0])
        if fill is None:
            return perturbed
        if np.ravel(filled_volume(container, perturbed))[0] < fill * (1.0 - 1e-9):  # the best guess
            less = Adaptation.LESS_FILLED
            self.adaptations[less] = self.adaptations.get(less, 0) + 1
        return perturbed

    def _refuse_impossible(self, container: Container, of_first: frozenset[Group]) -> None:
        # A draw that makes no container is left out and counted; the best guess has to.
        problems = [p for p in dimension_problems(container) if np.ravel(p.mask)[0]]
        if not problems:
            return
        first, second = (contender.container.name for contender in self.contenders)
        taken = ", ".join(group.value for group in self.groups if group in of_first) or "no part"
        message = f"can't be compared part by part: with {taken} of {first}, {second} can't be made"
        raise InputError(f"{message} ({problems[0].field}: {problems[0].message})", first)


def _common_belief(belief: Belief | None) -> Belief | None:
    """Return what a belief says of what is common to all containers; these unknowns come first in it."""
    if belief is None:
        return None
    count = sum(PRIORS[name].scope is Scope.COMMON for name in belief.names)
    return Belief(belief.names[:count], belief.mean[:count], belief.root[:count, :count]) if count else None


def _own_names(first: Contender, second: Contender) -> tuple[str, str]:
    """Return what seeds the draws of A and of B; it must not depend on which comes first."""
    names = first.container.name, second.container.name
    if names[0] != names[1]:
        return names
    return tuple(
        f"{c.container.model_dump_json()}{'' if c.belief is None else c.belief.mean.tolist()}"  # type: ignore[return-value]
        for c in (first, second)
    )
