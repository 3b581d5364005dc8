"""The best designs under constraints, what holds them back, and how sure it is that they are the best."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometries.container import Container
from geometries.display import Displayed, Listing
from geometries.errors import InputError
from geometries.overrides import with_overrides
from thermal_model.assemble.checks import run_problems
from thermal_model.batch import SCENARIO
from thermal_model.study.measures import Constraint, Measure
from thermal_model.study.optimum.best import Best, best
from thermal_model.study.optimum.designs import DesignSpace
from thermal_model.study.optimum.front import front, not_beaten
from thermal_model.study.optimum.global_search import first_points, unit_points
from thermal_model.study.optimum.nearness import Nearness, nearness
from thermal_model.study.optimum.problem import FEASIBLE, Candidates, Record, Values
from thermal_model.study.optimum.refine import Refined, Task
from thermal_model.study.optimum.robust import Promise, begun, corrected, promises, settled
from thermal_model.work_done import ShareDone

SAME = 1e-3
"""Relative difference within which two starts end at the same value. [-]"""

TRIED_AT_STOP = 8
"""Designs whose pieces are computed when a search is stopped that had estimated them, until one meets all."""

TO_EXPLAIN = 60
"""Designs that are computed to say which constraints contradict each other, for each of them and each pair."""


@dataclass(frozen=True)
class Chosen:
    """One design.

    Attributes
    ----------
    points : Candidates
        One.
    values : Values
    nearness : Nearness or None
        None where the search was stopped before.
    promises : tuple of Promise
    task : Task or None
    """

    points: Candidates
    values: Values
    nearness: Nearness | None = None
    promises: tuple[Promise, ...] = ()
    task: Task | None = None


@dataclass(frozen=True, repr=False)
class BestDesigns(Displayed):
    """What was found.

    Attributes
    ----------
    space : DesignSpace
        As it was at the end.
    designs : tuple of Chosen
        The best one; or a front, the best of the first objective first.
    alone : tuple of Best
        Of each objective by itself.
    evaluations : int
        Designs that were computed, neighbours included.
    was_stopped : bool
        Whether the search was given up: then this is the best so far.
    """

    space: DesignSpace
    designs: tuple[Chosen, ...]
    alone: tuple[Best, ...]
    evaluations: int
    was_stopped: bool = False

    def _line(self) -> str:
        name, wishes = self.space.questions[0].container.name, [measure.label for measure in self.space.objectives]
        what = "best design" if len(self.designs) == 1 else f"{len(self.designs)} best designs"
        return f"{name}: {what} for {' and '.join(wishes)}, {self.evaluations} computed"

    def _tables(self) -> Iterator[Listing]:
        axes = [axis.path for axis in self.space.axes]
        rows = [self._row(number, axes) for number in range(len(self.designs))]
        yield Listing("", rows, (*(measure.label for measure in self.space.objectives), *axes))

    def _row(self, number: int, axes: list[str]) -> tuple[str, ...]:
        texts = self.space.texts_of(self.designs[number].points, 0)
        values = zip(self.space.objectives, self.values(number), strict=True)
        return (*(measure.text(value) for measure, value in values), *(texts.get(path, "none") for path in axes))

    def values(self, number: int = 0) -> tuple[float, ...]:
        """Return what one of the designs is worth, by objective. [SI]"""
        found = self.designs[number].values.objectives[0].tolist()
        signs = (1.0 if measure.less_is_better else -1.0 for measure in self.space.objectives)
        return tuple(sign * value for sign, value in zip(signs, found, strict=True))

    def bounded(self, number: int = 0) -> tuple[tuple[Measure, float], ...]:
        """Return what is bounded and its value in one of the designs, by constraint [SI]; infinite if never reached."""
        misses = self.designs[number].values.misses[0].tolist()
        found = ((c.measure, c.value(miss)) for c, miss in zip(self.space.constraints, misses, strict=True))
        return tuple((measure, np.inf if self.space.is_endless(measure, value) else value) for measure, value in found)

    def container(self, number: int = 0) -> Container:
        """Return one of the designs."""
        chosen = self.designs[number]
        given = self.space.documents_of(chosen.points, 0)
        own = {path: value for path, value in given.items() if not path.startswith(SCENARIO)}
        # Kinds first, the last entries of a list first: as rows of a table are made.
        kinds = {axis.path for axis in self.space.counted}
        base = with_overrides(
            self.space.questions[0].container, {p: own[p] for p in sorted(own, reverse=True) if p in kinds}, ""
        )
        return with_overrides(base, {path: value for path, value in own.items() if path not in kinds}, "")

    @property
    def agreeing(self) -> tuple[tuple[int, int, float], ...]:
        """Of each objective: starts that end at the same value as the best, all starts, the worst end over the best."""
        told = []
        for found in self.alone:
            kinds = found.end.points.kinds
            ends = np.array([end.objective for end in found.ends if (end.points.kinds == kinds).all()])
            size = max(abs(float(ends[0])), 1e-300)
            told.append((int((ends - ends[0] <= SAME * size).sum()), len(ends), float(ends.max() - ends[0])))
        return tuple(told)

    @property
    def next_kinds(self) -> tuple[Refined, ...]:
        """The best designs of other kinds for the first objective, the best first, one of each."""
        return tuple(_of_each_kind(self.alone[0].ends)[1:]) if self.alone else ()


def optimise(
    space: DesignSpace,
    *,
    budget: int,
    seed: int,
    size: int,
    told: ShareDone | None = None,
) -> BestDesigns:
    """Find the best design, or the front of several objectives.

    Parameters
    ----------
    space : DesignSpace
    budget : int
        Designs that the search over all of the space computes for each objective, about.
    seed : int
    size : int
        Designs of a front, about.
    told : callable, optional
        Called with about the share of the work done.

    Raises
    ------
    InputError
        If no design meets every constraint: names two that contradict each other, if it is two; or if none reaches the
        limit.
    """
    record = Record(space)
    expected = 1.5 * budget * len(space.objectives) + 15.0 * (1 + space.dimensions) * (
        6 if len(space.objectives) == 1 else 4 * size
    )
    record.told = None if told is None else lambda: told(min(record.evaluations / expected, 0.99))
    try:
        return _searched(record, space, budget, seed, size)
    except KeyboardInterrupt:
        stopped = _best_so_far(record, space)
        if stopped is None:
            raise
        return stopped


def _searched(record: Record, space: DesignSpace, budget: int, seed: int, size: int) -> BestDesigns:
    if not first_points(record, 1, seed)[1] and (reason := _contradiction(_without_runs(space), seed)):
        raise InputError(reason)
    space = begun(record, space, seed)
    alone, ends = _ends(record, space, budget, seed, size)
    if not ends:
        raise InputError(_why_none(record, space, seed))
    _refuse_endless(space, alone)
    space, alone, ends = _with_pieces(record, space, alone, ends, seed)
    _refuse_rejects(space, ends)
    designs = tuple(Chosen(end.points, end.values, nearness(end), promises(space, end, seed), end.task) for end in ends)
    return BestDesigns(space, designs, alone, record.evaluations)


def _ends(
    record: Record, space: DesignSpace, budget: int, seed: int, size: int
) -> tuple[tuple[Best, ...], tuple[Refined, ...]]:
    """Return the best in each objective, and the best design or those of a front; nothing where there is none."""
    if len(space.objectives) == 1:
        found = best(record, 0, budget=budget, seed=seed)
        return ((), ()) if found is None else ((found,), (found.end,))
    several = front(record, size=size, budget=budget, seed=seed)
    return ((), ()) if several is None else (several.alone, several.ends)


def _with_pieces(
    record: Record, space: DesignSpace, alone: tuple[Best, ...], ends: tuple[Refined, ...], seed: int
) -> tuple[DesignSpace, tuple[Best, ...], tuple[Refined, ...]]:
    """Return the same once pieces are computed where they were estimated, and counted by a larger sample."""
    if len(space.objectives) > 1:
        space, ends = corrected(record, *settled(record, space, ends, _along), seed)
        return space, alone, tuple(not_beaten(list(ends)))
    space, all_ends = settled(record, space, alone[0].ends, _of_each_kind)
    ordered = tuple(_best_first(all_ends))
    if not ordered[0].meets:
        raise InputError(_why_none(record, space, seed))
    space, ends = corrected(record, space, ordered[:1], seed)
    return space, (Best(ordered[0], ordered, record.evaluations),), ends


def _best_first(ends: Iterable[Refined]) -> list[Refined]:
    return sorted(ends, key=lambda end: (not end.meets, end.objective))


def _of_each_kind(ends: Iterable[Refined]) -> list[Refined]:
    """Return the best end of each kinds, the best first."""
    found: dict[bytes, Refined] = {}
    for end in _best_first(ends):
        found.setdefault(end.points.kinds.tobytes(), end)
    return list(found.values())


def _along(ends: list[Refined]) -> list[Refined]:
    """Return all ends of a front, evenly spread ones first."""
    order = np.argsort(np.arange(len(ends)) * 0.6180339887498949 % 1.0, kind="stable")
    return [ends[row] for row in order.tolist()]


def _best_so_far(record: Record, space: DesignSpace) -> BestDesigns | None:
    if not record.found:
        return None
    points, values = record.all()
    rows = np.flatnonzero(values.meets)
    if not len(rows):
        return None
    exact = replace(space, anchors=())
    for row in rows[np.argsort(values.objectives[rows, 0], kind="stable")][:TRIED_AT_STOP].tolist():
        own = exact.values(points.some([row])) if space.pieces.count else values.some([row])
        if own.meets[0]:
            return BestDesigns(space, (Chosen(points.some([row]), own),), (), record.evaluations, was_stopped=True)
    return None


def _refuse_endless(space: DesignSpace, alone: tuple[Best, ...]) -> None:
    for number, found in enumerate(alone):
        measure, question = space.objectives[number], space.questions[0]
        if space.is_endless(measure, -found.end.objective):
            days = f"{question.horizon / 86400.0:g} days"
            message = (
                f"the limit is not reached within {days}, so that no design is better than another; take one that "
                "is farther from the room's temperature, or ask for --best mass"
            )
            raise InputError(message)


def _refuse_rejects(space: DesignSpace, ends: Sequence[Refined]) -> None:
    """Refuse to promise nothing: a piece that can't be made holds 0 s, and enough of them are the whole promise."""
    for number, measure in enumerate(space.objectives):
        held = [-end.values.objectives[0, number] for end in ends]
        if space.pieces.count and measure.name in space.names and max(held) <= 0.0:
            message = (
                f"more than {100.0 * (1.0 - space.pieces.share):.3g} % of the pieces can't be made, even of the best "
                "design found, so that no hold time can be promised; give smaller tolerances, or a smaller share"
            )
            raise InputError(message)


# --- why there is none ----------------------------------------------------------------------------------------------


def _why_none(record: Record, space: DesignSpace, seed: int) -> str:
    if reason := _why_no_container(space, unit_points(record, first_points(record, 1, seed)[0])):
        return f"no design of these ranges makes a container; for example {reason}"
    if not space.constraints:
        return "no design of these ranges could be computed; narrow them"
    every = " and ".join(constraint.text() for constraint in space.constraints)
    return _contradiction(space, seed) or (
        f"no design was found that meets all at once: {every}; each two of them can be met, so loosen one"
    )


def _without_runs(space: DesignSpace) -> DesignSpace:
    """Return the same with those constraints alone that need no hold time."""
    cheap = tuple(c for c, is_cheap in zip(space.constraints, space.is_cheap, strict=True) if is_cheap)
    return replace(space, constraints=cheap)


def _contradiction(space: DesignSpace, seed: int) -> str:
    """Return which constraint can't be met, or which two contradict each other; "" if neither."""
    for constraint in space.constraints:
        least = _nearest_to(space, constraint, (), seed)
        if least is None or constraint.miss(least) > FEASIBLE:
            return f"{constraint.text()} can't be met: {_at_best(constraint, least)} in these ranges"
    for number, one in enumerate(space.constraints):
        for other in space.constraints[number + 1 :]:
            least = _nearest_to(space, one, (other,), seed)
            if least is None or one.miss(least) > FEASIBLE:
                found = _at_best(one, least)
                return f"{one.text()} and {other.text()} contradict each other: with the second, {found}"
    return ""


def _nearest_to(space: DesignSpace, wanted: Constraint, kept: tuple[Constraint, ...], seed: int) -> float | None:
    """Return the value of a constraint's measure nearest to its bound, others kept; None where no design keeps them."""
    measure = replace(wanted.measure, less_is_better=wanted.is_upper)
    alone = replace(space, objectives=(measure,), constraints=kept)
    found = best(Record(alone), 0, budget=TO_EXPLAIN, seed=seed)
    if found is None:
        return None
    return found.end.objective if wanted.is_upper else -found.end.objective


def _at_best(constraint: Constraint, value: float | None) -> str:
    measure: Measure = constraint.measure
    if value is None:
        return f"no design is left to have any {measure.label}"
    return f"the {'least' if constraint.is_upper else 'most'} {measure.label} is {measure.text(value)}"


def _why_no_container(space: DesignSpace, points: Candidates) -> str:
    """Return why a point is no design; "" if it is one."""
    base = space.base(points.kinds[0])
    if base is None:
        return "what is counted or chosen does not go together"
    for scenario in base.scenarios:
        for problem in run_problems(base.runs(scenario, space.columns_of(base, points), 1)):
            return f"{problem.field}: {problem.message}"
    return ""
