"""A balanced crossover of containers and probes: who is measured with what, on which day, in which turn.

In a round every container has one run; over as many rounds as there are probes it meets every probe once. The order
in which it meets them is a row of a Williams square, so that each probe comes as often at each place and follows each
other as often. Within a round the probes' lists are shifted and swapped until turns of the day are balanced and
containers meet ever new companions: that ties all of them together, whatever a day does.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, permutations, product

import numpy as np

from geometries.errors import InputProblem, refuse
from thermal_model.solver.scatter import Indices

MOST_SWEEPS, SWAPS_A_SWEEP = 6, 3000
"""Passes of swaps, and swaps tried in each; a pass that betters nothing ends them."""

WORTH_A_DAY, WORTH_A_TURN, WORTH_A_MEETING = 1e3, 1e1, 1e1
"""What a fault costs: two runs of a container on a day, a turn too often, two containers side by side once more."""


@dataclass(frozen=True)
class PlannedRun:
    """One run of a schedule; all numbers count from zero.

    Attributes
    ----------
    container, probe : str
    day : int
    turn : int
        Place in the day: runs of one turn go side by side, one with each probe.
    round : int
        In which every container has one run.
    """

    container: str
    probe: str
    day: int
    turn: int
    round: int


@dataclass(frozen=True)
class Balance:
    """Counts of a schedule, each as the least and the largest.

    Attributes
    ----------
    with_each_probe : (int, int)
        Runs of a container with a probe.
    each_probe_first : (int, int)
        Containers that meet a probe first.
    in_each_turn : (int, int)
        Runs of a container in a turn of the day.
    after_each_probe : (int, int)
        Containers that meet a probe directly after another.
    probe_a_day : (int, int)
        Runs of a probe on a day, the last day left out if it is not full.
    rounds_a_container : (int, int)
        Runs of a container in a round.
    mean_day : (float, float)
        Mean day of a container's runs: no container comes early throughout.
    together : int
        How often two containers are side by side at most.
    days_between : int or None
        Between two runs of a container at least; None if each has one.
    """

    with_each_probe: tuple[int, int]
    each_probe_first: tuple[int, int]
    in_each_turn: tuple[int, int]
    after_each_probe: tuple[int, int]
    probe_a_day: tuple[int, int]
    rounds_a_container: tuple[int, int]
    mean_day: tuple[float, float]
    together: int
    days_between: int | None


@dataclass(frozen=True)
class Schedule:
    """Runs in order of time.

    Attributes
    ----------
    containers, probes : tuple of str
    turns : int
        Of a day.
    runs : tuple of PlannedRun
    """

    containers: tuple[str, ...]
    probes: tuple[str, ...]
    turns: int
    runs: tuple[PlannedRun, ...]

    @property
    def days(self) -> int:
        """Number of days."""
        return self.runs[-1].day + 1


def williams_square(count: int) -> list[list[int]]:
    """Return orders of `count` treatments in which each follows each other equally often.

    Parameters
    ----------
    count : int
        At least 1.

    Returns
    -------
    list of list of int
        `count` rows if it is even or one, else twice as many: a Latin square, and its mirror image.

    References
    ----------
    .. [1] Williams, Experimental designs balanced for the estimation of residual effects of treatments, Australian
       Journal of Scientific Research A 2 (1949) 149-168. doi:10.1071/CH9490149

    Examples
    --------
    >>> williams_square(4)
    [[0, 1, 3, 2], [1, 2, 0, 3], [2, 3, 1, 0], [3, 0, 2, 1]]
    """
    first = [(k + 1) // 2 if k % 2 else (count - k // 2) % count for k in range(count)]
    square = [[(entry + row) % count for entry in first] for row in range(count)]
    return square if count % 2 == 0 or count == 1 else [*square, *(row[::-1] for row in square)]


def crossover_schedule(
    containers: Sequence[str], probes: Sequence[str], *, per_day: int, repeats: int = 1, seed: int = 1
) -> Schedule:
    """Plan runs of every container with every probe.

    Parameters
    ----------
    containers, probes : sequence of str
        Names, each once.
    per_day : int
        Runs on a day: a multiple of the number of probes, since all probes are read side by side.
    repeats : int
        Runs of each container with each probe.
    seed : int
        Containers are dealt in random order; the same seed gives the same schedule.

    Raises
    ------
    InputError
        If a name comes twice, or a day has no room for a turn or more turns than there are containers for.
    """
    _check(containers, probes, per_day)
    generator = np.random.default_rng(seed)
    turns = per_day // len(probes)
    draft = _Draft(generator.permutation(len(containers)), len(probes), turns, repeats)
    draft.settle(generator)
    return Schedule(tuple(containers), tuple(probes), turns, tuple(_runs(draft, containers, probes)))


def _check(containers: Sequence[str], probes: Sequence[str], per_day: int) -> None:
    problems = []
    for what, names in (("container", containers), ("probe", probes)):
        twice = sorted(name for name, count in Counter(names).items() if count > 1)
        problems += [InputProblem(f"{name!r} is named twice; each needs a name of its own", what) for name in twice]
        if not names:
            problems.append(InputProblem("name at least one", what))
    if probes and (per_day < len(probes) or per_day % len(probes)):
        near = max(len(probes), per_day - per_day % len(probes))
        message = f"all {len(probes)} probes are read side by side: take a multiple of {len(probes)}, such as {near}"
        problems.append(InputProblem(message, "runs a day", per_day))
    elif probes and per_day > max(len(containers), len(probes)):
        message = f"there are {len(containers)} containers and each has one run a day at most; take fewer"
        problems.append(InputProblem(message, "runs a day", per_day))
    refuse(problems)


class _Draft:
    """Containers by round, probe and place in the probe's list of that round, (r, k, m); -1 is nobody.

    Attributes
    ----------
    order : (n,) int array
        Containers as they are dealt.
    slots : (r, k, m) int array
    day, turn : (r, m) int array
        Of each place in a round's lists.
    """

    def __init__(self, order: Indices, probes: int, turns: int, repeats: int) -> None:
        self.order, self.turns = order, turns
        length = -(-len(order) // probes)
        moments = np.arange(probes * repeats * length).reshape(-1, length)
        self.day, self.turn = np.divmod(moments, turns)
        self.slots = np.full((probes * repeats, probes, length), -1)
        square = williams_square(probes)
        for number, container in enumerate(order):
            self._deal(number, int(container), square)

    def _deal(self, number: int, container: int, square: list[list[int]]) -> None:
        """Put a container into the lists, in the order of its row of the Williams square."""
        rounds, probes, length = self.slots.shape
        half, row = divmod(number % len(square), probes)
        for k in range(rounds):
            probe = square[half * probes + (row + k // probes) % probes][k % probes]
            # To and fro, so that who came early comes late; lists of unlike probes are moved apart, companions part.
            place = number // probes if k % 2 == 0 else length - 1 - number // probes
            self.slots[k, probe, (place + k * probe * self.turns) % length] = container

    def settle(self, generator: np.random.Generator) -> None:
        """Swap containers within a probe's list of a round for as long as that betters the balance."""
        least = self.cost()
        for _ in range(MOST_SWEEPS):
            before = least
            for number, first, second in self._swaps(generator):
                entries = self.slots.reshape(-1, self.slots.shape[2])[number]
                entries[[first, second]] = entries[[second, first]]
                cost = self.cost()
                if cost < least:
                    least = cost
                else:
                    entries[[first, second]] = entries[[second, first]]
            if least >= before:
                break

    def _swaps(self, generator: np.random.Generator) -> Indices:
        """Return pairs of places in a list, by number of the list, in random order."""
        rounds, probes, length = self.slots.shape
        first, second = np.triu_indices(length, 1)
        lists = np.repeat(np.arange(rounds * probes), len(first))
        swaps = np.stack([lists, np.tile(first, rounds * probes), np.tile(second, rounds * probes)], axis=1)
        return generator.permutation(swaps)[:SWAPS_A_SWEEP]

    def cost(self) -> float:
        """Return how far from balanced: twice on a day, then turns, companions met again, and early against late."""
        count = len(self.order)
        rounds = len(self.slots)
        taken = self.slots >= 0
        who = self.slots[taken]
        day = np.broadcast_to(self.day[:, None, :], self.slots.shape)[taken]
        turn = np.broadcast_to(self.turn[:, None, :], self.slots.shape)[taken]
        on_a_day = np.bincount(who * (self.day[-1, -1] + 1) + day)
        in_a_turn = np.bincount(who * self.turns + turn, minlength=count * self.turns)
        late = np.bincount(who, weights=day, minlength=count) / rounds
        pairs = self._pairs()
        return float(
            WORTH_A_DAY * np.sum(np.maximum(on_a_day - 1, 0))
            + WORTH_A_TURN * (np.sum(in_a_turn**2) - count * _least_squares(rounds, self.turns))
            + WORTH_A_MEETING * np.sum(np.maximum(np.bincount(pairs) - 1, 0) if len(pairs) else 0)
            + np.var(late) / max(float(self.day[-1, -1]), 1.0)
        )

    def _pairs(self) -> Indices:
        """Return the pairs that stand side by side, each as one number."""
        count, probes = len(self.order), self.slots.shape[1]
        first, second = np.triu_indices(probes, 1)
        one, other = self.slots[:, first, :], self.slots[:, second, :]
        both = (one >= 0) & (other >= 0)
        return (np.minimum(one, other) * count + np.maximum(one, other))[both]


def _least_squares(total: int, parts: int) -> int:
    """Return the least sum of squares of whole numbers with a given total."""
    each, over = divmod(total, parts)
    return over * (each + 1) ** 2 + (parts - over) * each**2


def _runs(draft: _Draft, containers: Sequence[str], probes: Sequence[str]) -> Iterator[PlannedRun]:
    """Yield runs in order of time."""
    rounds, _, length = draft.slots.shape
    for k in range(rounds):
        for place in range(length):
            for probe, container in enumerate(draft.slots[k, :, place].tolist()):
                if container >= 0:
                    day, turn = int(draft.day[k, place]), int(draft.turn[k, place])
                    yield PlannedRun(containers[container], probes[probe], day, turn, k)


# --- what was reached -------------------------------------------------------------------------------------------


def balance_of(schedule: Schedule) -> Balance:
    """Count how balanced a schedule is, from its runs alone."""
    containers, probes = schedule.containers, schedule.probes
    by_container = {name: [run for run in schedule.runs if run.container == name] for name in containers}
    follows = Counter(
        (before.probe, after.probe)
        for runs in by_container.values()
        for before, after in pairwise(runs)
        if before.probe != after.probe
    )
    gaps = [after.day - before.day for runs in by_container.values() for before, after in pairwise(runs)]
    middles = [sum(run.day for run in runs) / len(runs) for runs in by_container.values()]
    full_days = range(schedule.days - 1) if schedule.days > 1 else range(1)
    rounds = range(schedule.runs[-1].round + 1)
    return Balance(
        with_each_probe=_ends(((r.container, r.probe) for r in schedule.runs), product(containers, probes)),
        each_probe_first=_ends((runs[0].probe for runs in by_container.values()), probes),
        in_each_turn=_ends(((r.container, r.turn) for r in schedule.runs), product(containers, range(schedule.turns))),
        after_each_probe=_ends(follows.elements(), permutations(probes, 2)),
        probe_a_day=_ends(((r.probe, r.day) for r in schedule.runs), product(probes, full_days)),
        rounds_a_container=_ends(((r.container, r.round) for r in schedule.runs), product(containers, rounds)),
        mean_day=(min(middles), max(middles)),
        together=max(_meetings(schedule).values(), default=0),
        days_between=min(gaps) if gaps else None,
    )


def _ends(seen: Iterable[object], wanted: Iterable[object]) -> tuple[int, int]:
    """Return how often the wanted are seen, least and most; (0, 0) if nothing is wanted."""
    counts = Counter(seen)
    numbers = [counts[entry] for entry in wanted]
    return (min(numbers), max(numbers)) if numbers else (0, 0)


def _meetings(schedule: Schedule) -> Counter[tuple[str, str]]:
    """Return how often two containers stand side by side."""
    side_by_side: dict[tuple[int, int], list[str]] = {}
    for run in schedule.runs:
        side_by_side.setdefault((run.day, run.turn), []).append(run.container)
    return Counter(pair for names in side_by_side.values() for pair in combinations(sorted(names), 2))
