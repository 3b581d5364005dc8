"""Designs as what is optimised: what varies, hold times in one scenario or several, and what a design measures."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometries.container import Container
from geometries.errors import InputError
from geometries.numeric import Array
from geometries.ranges import Range
from thermal_model.assemble.checks import is_possible
from thermal_model.assemble.lanes import Lanes, alike
from thermal_model.batch import with_kinds, with_numbers
from thermal_model.follow import follow
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome
from thermal_model.solver.scatter import Indices
from thermal_model.solver.steppers import WORTH_COMPILING, stepper_for
from thermal_model.study.axes import Axis
from thermal_model.study.measures import HOLD, Constraint, Measure
from thermal_model.study.optimum.anchors import Anchor, estimated_ratios
from thermal_model.study.optimum.answers import Answers, key_of
from thermal_model.study.optimum.pieces import SHARE, Pieces
from thermal_model.study.optimum.problem import Candidates, Kinds, Slopes, Values
from thermal_model.study.question import Question

STEP = 1e-5
"""Of a number, or of a tenth of its range if that is more, to its neighbour for a slope; see `gradients`."""

AS_DRAWN, WITH_PIECES = 1e-6, 1e-5
"""Relative changes of an objective at which a refinement ends. [-]"""

LANES_AT_ONCE = 4096
"""Runs that are put together at a time, so that many pieces of many designs take no more memory."""


def hold_name(scenario: str) -> str:
    """Return what the hold time in a further scenario is called."""
    return f"{HOLD}@{scenario}"


@dataclass(frozen=True)
class SharedDesign:
    """Designs of the same kinds: what their numbers go into, once for each scenario.

    Attributes
    ----------
    container : Container
    scenarios : tuple of Scenario
    paths : tuple of str
        Numbers that these kinds have; those of a part that is gone have no effect.
    """

    container: Container
    scenarios: tuple[Scenario, ...]
    paths: tuple[str, ...]

    def runs(self, scenario: Scenario, columns: dict[str, Array], count: int) -> Lanes:
        """Return n designs with their numbers in one of the scenarios."""
        return Lanes(*with_numbers(self.container, scenario, columns), count)


@dataclass(frozen=True)
class DesignSpace:
    """Designs to choose from, as an `Optimisable`.

    Attributes
    ----------
    questions : tuple of Question
        One a scenario, all of the same container; the first is the one that options describe.
    names : tuple of str
        Of their hold times: HOLD, and `hold_name` of each further scenario.
    axes : tuple of Axis
        What varies: ranges continuously, everything else by its choices.
    objectives : tuple of Measure
    constraints : tuple of Constraint
    pieces : Pieces
        What one design becomes, and which of them its hold time is.
    factors : mapping of str to float
        Of hold times, before they count: what a larger sample says over what the pieces do. [-]
    anchors : tuple of Anchor
        Designs whose pieces were computed, from which those of all others are estimated; none: all are computed.
    answers : Answers, optional
        What an unfinished search has computed, and where what this one computes is kept.
    """

    questions: tuple[Question, ...]
    names: tuple[str, ...]
    axes: tuple[Axis, ...]
    objectives: tuple[Measure, ...]
    constraints: tuple[Constraint, ...]
    pieces: Pieces = field(default_factory=Pieces)
    factors: dict[str, float] = field(default_factory=dict)
    anchors: tuple[Anchor, ...] = ()
    answers: Answers | None = field(default=None, repr=False, compare=False)

    # --- what an Optimisable has

    @cached_property
    def numbers(self) -> tuple[Axis, ...]:
        """What varies continuously."""
        return tuple(axis for axis in self.axes if _is_open(axis))

    @cached_property
    def counted(self) -> tuple[Axis, ...]:
        """What is counted or chosen."""
        return tuple(axis for axis in self.axes if not _is_open(axis))

    @property
    def dimensions(self) -> int:
        """How many vary continuously."""
        return len(self.numbers)

    @property
    def choices(self) -> tuple[int, ...]:
        """How many choices each counted thing has."""
        return tuple(len(axis.points) for axis in self.counted)

    @property
    def size(self) -> tuple[int, int]:
        """Numbers of objectives and constraints."""
        return len(self.objectives), len(self.constraints)

    @property
    def accuracy(self) -> float:
        """Change of an objective that says nothing any more: the solver's own error, or the luck of the pieces."""
        return WITH_PIECES if self.pieces.count else AS_DRAWN

    @cached_property
    def is_cheap(self) -> NDArray[np.bool_]:
        """Which constraints need no hold time."""
        return np.array([not self._is_hold(constraint.measure) for constraint in self.constraints], dtype=bool)

    def cheap_misses(self, points: Candidates) -> Array:
        """Return misses as far as they need no hold time; NaN where there is no such design."""
        found = np.zeros((points.count, len(self.constraints)))
        for base, rows in self._groups(points):
            if base is None:
                found[rows] = np.nan
                continue
            columns = self._columns(base, points, rows)
            found[rows] = self._measured_misses(base, columns, len(rows))
            found[np.ix_(rows, ~self.is_cheap)] = 0.0
            found[rows[~self._valid(base, columns, len(rows))]] = np.nan
        return found

    def values(self, points: Candidates) -> Values:
        """Return what designs are worth."""
        values = _nothing(points.count, *self.size)
        for base, rows in self._groups(points):
            if base is None:
                continue
            columns = self._columns(base, points, rows)
            valid = np.flatnonzero(self._valid(base, columns, len(rows)))
            some = {path: column[valid] for path, column in columns.items()}
            if len(valid):
                worth = self._worth(base, points.some(rows[valid]), some, None)
                values.objectives[rows[valid]], values.misses[rows[valid]] = worth
        return values

    def slopes(self, points: Candidates) -> Slopes:
        """Return the same with slopes per share of a range; a design's neighbours take the same steps as it does."""
        values = _nothing(points.count, *self.size)
        of_objectives = np.zeros((points.count, len(self.objectives), self.dimensions))
        of_misses = np.zeros((points.count, len(self.constraints), self.dimensions))
        for base, rows in self._groups(points):
            if base is None:
                continue
            block = _Neighbourhood.of(self, base, points, rows)
            if not len(block.rows):
                continue
            objectives, misses = self._worth(base, block.points, block.columns, block.family)
            values.objectives[block.rows], values.misses[block.rows] = objectives[block.first], misses[block.first]
            of_objectives[block.rows], of_misses[block.rows] = block.slopes(objectives), block.slopes(misses)
        return Slopes(values, of_objectives, of_misses)

    # --- designs of points

    def _groups(self, points: Candidates) -> Iterator[tuple[SharedDesign | None, Indices]]:
        kinds, group = np.unique(points.kinds, axis=0, return_inverse=True)
        group = group.reshape(-1)
        for number, kind in enumerate(kinds):
            yield self.base(kind), np.flatnonzero(group == number)

    @cached_property
    def _bases(self) -> dict[bytes, SharedDesign | None]:
        return {}

    def base(self, kinds: Kinds) -> SharedDesign | None:
        """Return what designs of some kinds have in common; None where these make no container."""
        key = np.asarray(kinds, dtype=np.int64).tobytes()
        if key not in self._bases:
            self._bases[key] = self._made(kinds)
        return self._bases[key]

    def _made(self, kinds: Kinds) -> SharedDesign | None:
        documents = {
            axis.path: axis.document(axis.points[kind]) for axis, kind in zip(self.counted, kinds, strict=True)
        }
        try:
            made = [with_kinds(q.container, q.scenario, documents) for q in self.questions]
        except InputError:
            return None
        container, scenario = made[0]
        paths = tuple(axis.path for axis in self.numbers if _leads(axis.path, container, scenario))
        return SharedDesign(container, tuple(scenario for _, scenario in made), paths)

    def _columns(self, base: SharedDesign, points: Candidates, rows: Indices) -> dict[str, Array]:
        return {
            axis.path: axis.variation.at(points.shares[rows, number])
            for number, axis in enumerate(self.numbers)
            if axis.path in base.paths and isinstance(axis.variation, Range)
        }

    def columns_of(self, base: SharedDesign, points: Candidates) -> dict[str, Array]:
        """Return the numbers of points of the same kinds, by path."""
        return self._columns(base, points, np.arange(points.count))

    def documents_of(self, points: Candidates, row: int) -> dict[str, object]:
        """Return what a point's design has at every path that is varied, as a design file would hold it."""
        texts = self.texts_of(points, row)
        kinds = dict(zip((axis.path for axis in self.counted), points.kinds[row].tolist(), strict=True))
        return {
            axis.path: axis.document(axis.points[kinds[axis.path]]) if axis.path in kinds else texts[axis.path]
            for axis in self.axes
            if axis.path in texts
        }

    def texts_of(self, points: Candidates, row: int) -> dict[str, str]:
        """Return the same as it is shown; what belongs to a part that is gone is left out."""
        base = self.base(points.kinds[row])
        assert base is not None
        columns = self._columns(base, points, np.array([row]))
        found = {axis.path: axis.text(columns[axis.path][0]) for axis in self.numbers if axis.path in base.paths}
        kinds = zip(self.counted, points.kinds[row], strict=True)
        return found | {axis.path: axis.text(axis.points[kind]) for axis, kind in kinds}

    def _valid(self, base: SharedDesign, columns: dict[str, Array], count: int) -> NDArray[np.bool_]:
        valid = np.ones(count, dtype=bool)
        for scenario in base.scenarios if count else ():
            valid &= is_possible(base.runs(scenario, columns, count))
        return valid

    def _neighbours_are_alike(self, base: SharedDesign, block: "_Neighbourhood") -> NDArray[np.bool_]:
        """Return whether each neighbour, (n, d), is a design that shares the network of the one it belongs to."""
        good, group = self._valid(base, block.columns, block.count), np.zeros(block.count, dtype=np.int64)
        for scenario in base.scenarios:
            for number, lanes in enumerate(alike(base.runs(scenario, block.columns, block.count))):
                group[lanes] = group[lanes] * 1000 + number
        own = group[block.first][block.family]
        return (good & (group == own)).reshape(len(block.rows), -1)[:, 1:]

    # --- what designs are worth

    def _is_hold(self, measure: Measure) -> bool:
        return measure.name in self.names or measure.name == SHARE

    def _measured_misses(self, base: SharedDesign, columns: dict[str, Array], count: int) -> Array:
        found = np.zeros((count, len(self.constraints)))
        runs = base.runs(base.scenarios[0], columns, count)
        for number, constraint in enumerate(self.constraints):
            if self.is_cheap[number]:
                found[:, number] = constraint.miss(constraint.measure.of(runs.container, runs.scenario))
        return found

    def _worth(
        self, base: SharedDesign, points: Candidates, columns: dict[str, Array], family: Indices | None
    ) -> tuple[Array, Array]:
        """Return objectives, all to be made small, and misses of designs."""
        count = points.count
        misses = self._measured_misses(base, columns, count)
        holds = {
            measure.name: self._needing_runs(base, points, columns, measure.name, family)
            for measure in self._hold_measures
        }
        for number, constraint in enumerate(self.constraints):
            if constraint.measure.name in holds:
                misses[:, number] = constraint.miss(holds[constraint.measure.name])
        runs = base.runs(base.scenarios[0], columns, count)
        objectives = [
            holds[m.name] if m.name in holds else m.of(runs.container, runs.scenario) for m in self.objectives
        ]
        signs = [1.0 if m.less_is_better else -1.0 for m in self.objectives]
        return np.column_stack(
            [sign * np.broadcast_to(column, (count,)) for sign, column in zip(signs, objectives, strict=True)]
        ), misses

    @cached_property
    def _hold_measures(self) -> tuple[Measure, ...]:
        """What objectives and constraints need runs for, each once."""
        measures = [*self.objectives, *(constraint.measure for constraint in self.constraints)]
        return tuple({m.name: m for m in sorted(measures, key=lambda m: m.name) if self._is_hold(m)}.values())

    @property
    def hold_names(self) -> tuple[str, ...]:
        """Names of the hold times, and SHARE, that objectives and constraints need."""
        return tuple(measure.name for measure in self._hold_measures)

    def is_endless(self, measure: Measure, value: float) -> bool:
        """Return whether a value is the time of a run that had not ended when it was no longer followed."""
        if measure.name not in self.names:
            return False
        return value >= self.questions[self.names.index(measure.name)].horizon * (1.0 - 1e-9)

    def _needing_runs(
        self, base: SharedDesign, points: Candidates, columns: dict[str, Array], name: str, family: Indices | None
    ) -> Array:
        own = HOLD if name == SHARE else name
        if not self.pieces.count:
            return self.piece_times(base, columns, points.count, own, family)[:, 0]
        if not self.anchors:
            return self.as_counted(name, self.piece_times(base, columns, points.count, own, family), family)
        drawn = self.as_drawn.piece_times(base, columns, points.count, own, family)
        return self.as_counted(name, drawn * np.exp(estimated_ratios(self.anchors, own, points)), family)

    def worth_of(self, points: Candidates, name: str) -> Array:
        """Return what counts as the hold time, or the share, of points of the same kinds, (n,). [s, -]"""
        base = self.base(points.kinds[0])
        assert base is not None
        return self._needing_runs(base, points, self.columns_of(base, points), name, None)

    @cached_property
    def as_drawn(self) -> "DesignSpace":
        """The same designs without their pieces."""
        return replace(self, pieces=Pieces(), anchors=(), factors={})

    def as_counted(self, name: str, times: Array, family: Indices | None = None) -> Array:
        """Return what enough pieces hold, or the share that holds long enough, (n,), from (n, pieces). [s, -]"""
        corrected = times * self.factors.get(name, 1.0)
        if name == SHARE:
            return self.pieces.share_meeting(corrected, family)
        return self.pieces.counted(corrected, family)

    def anchored(self, points: Candidates, *, with_slopes: bool) -> "DesignSpace":
        """Return the same with the pieces of some points among what others are estimated from."""
        new = [self._anchor(points.some([row]), with_slopes) for row in range(points.count)]
        return replace(self, anchors=(*self.anchors, *new))

    def _anchor(self, point: Candidates, with_slopes: bool) -> Anchor:
        base = self.base(point.kinds[0])
        assert base is not None
        block = _Neighbourhood.of(self, base, point, np.array([0]), with_slopes=with_slopes)
        ratios, slopes = {}, {}
        for name in dict.fromkeys(HOLD if name == SHARE else name for name in self.hold_names):
            logs = self._log_times(base, block, name) - self.as_drawn._log_times(base, block, name)
            ratios[name] = logs[0]
            if with_slopes:
                slopes[name] = block.slopes(logs)[0]
        return Anchor(point.shares[0], point.kinds[0], ratios, slopes)

    def _log_times(self, base: SharedDesign, block: "_Neighbourhood", name: str) -> Array:
        times = self.piece_times(base, block.columns, block.count, name, block.family)
        return np.log(np.maximum(np.nan_to_num(times), 1.0))

    def piece_times(
        self, base: SharedDesign, columns: dict[str, Array], count: int, name: str, family: Indices | None = None
    ) -> Array:
        """Return hold times of the pieces of designs, (n, pieces): the horizon if they never end, 0 of a reject. [s]"""
        number = self.names.index(name)
        question = replace(self.questions[number], container=base.container, scenario=base.scenarios[number])
        pieces = max(self.pieces.count, 1)
        at_once = max(LANES_AT_ONCE // pieces, 1)
        found = np.empty((count, pieces))
        for rows in _parts(count, at_once, family):
            some = {path: column[rows] for path, column in columns.items()}
            own = None if family is None else family[rows]
            found[rows] = self._answered(question, some, len(rows), own)
        return found

    def _answered(self, question: Question, columns: dict[str, Array], count: int, family: Indices | None) -> Array:
        """Return what was answered before, or is now."""
        if self.answers is None:
            return self._followed(question, columns, count, family)
        key = key_of(question, columns, count, family, (self.pieces.count, self.pieces.seed))
        known = self.answers.get(key)
        if known is None or known.shape != (count, max(self.pieces.count, 1)):
            known = self._followed(question, columns, count, family)
            self.answers.put(key, known)
        return known

    def _followed(self, question: Question, columns: dict[str, Array], count: int, family: Indices | None) -> Array:
        pieces = max(self.pieces.count, 1)
        lanes = count * pieces
        order = np.arange(lanes)
        families = None
        if family is not None:
            # Neighbours of one design stand together piece by piece, since they share their steps.
            of_lane = np.repeat(family, pieces) * pieces + np.tile(np.arange(pieces), count)
            order = np.argsort(of_lane, kind="stable")
            families = np.unique(of_lane[order], return_inverse=True)[1].reshape(-1).astype(np.intp)
        followed = follow(
            self.pieces.runs(question, columns, count).take(order),
            [question.limit],
            horizon=question.horizon,
            family=families,
            stepper=stepper_for(max(lanes, WORTH_COMPILING)),
        )
        times = np.where(followed.outcome == Outcome.NOT_REACHED, question.horizon, followed.hold_times[0])
        if pieces > 1:
            times = np.where(followed.outcome == Outcome.INVALID, 0.0, times)
        found = np.empty(lanes)
        found[order] = times
        return found.reshape(count, pieces)


def _is_open(axis: Axis) -> bool:
    """Return whether it varies continuously: a range without steps."""
    return isinstance(axis.variation, Range) and axis.variation.count is None


def _nothing(count: int, objectives: int, constraints: int) -> Values:
    return Values(np.full((count, objectives), np.nan), np.full((count, constraints), np.nan))


def _leads(path: str, container: Container, scenario: Scenario) -> bool:
    """Return whether a design has a number at a path: it has none where the part is gone."""
    try:
        with_numbers(container, scenario, {path: np.zeros(1)})
    except InputError:
        return False
    return True


def _parts(count: int, at_once: int, family: Indices | None) -> Iterator[Indices]:
    """Yield rows, not many at a time; those of a family stay together."""
    if family is None:
        yield from np.array_split(np.arange(count), -(-count // at_once))
        return
    start = 0
    while start < count:
        stop = min(start + at_once, count)
        while stop < count and family[stop] == family[stop - 1]:
            stop += 1
        yield np.arange(start, stop)
        start = stop


@dataclass(frozen=True)
class _Neighbourhood:
    """Designs, each followed by its neighbours with one number off, up or down as there is such a design.

    Attributes
    ----------
    rows : (n,) int array
        Places of the designs among all points.
    columns : dict of str to (n (1 + d),) array
        Numbers by path.
    family : (n (1 + d),) int array
    steps : (n, p) array
        By how much each number is off, as a share of its range; 0 for one that has no effect or no neighbour.
    places : tuple of int
        Of the d numbers that have an effect, among all p.
    points : Candidates
        All n (1 + d).
    """

    rows: Indices
    columns: dict[str, Array]
    family: Indices
    steps: Array
    places: tuple[int, ...]
    points: Candidates

    @property
    def count(self) -> int:
        """Lanes in all."""
        return len(self.family)

    @property
    def first(self) -> Indices:
        """Lanes of the designs themselves."""
        return np.arange(0, self.count, 1 + len(self.places))

    @classmethod
    def of(
        cls, space: DesignSpace, base: SharedDesign, points: Candidates, rows: Indices, *, with_slopes: bool = True
    ) -> "_Neighbourhood":
        """Return the neighbourhood of those points of some kinds that are designs; without slopes just these."""
        rows = rows[space._valid(base, space._columns(base, points, rows), len(rows))]
        numbers = space.numbers if with_slopes else ()
        places = tuple(number for number, axis in enumerate(numbers) if axis.path in base.paths)
        steps = np.zeros((len(rows), space.dimensions))
        if not len(rows):
            return cls(rows, {}, np.empty(0, dtype=np.intp), steps, places, points.some(rows))
        for number in places:
            variation = space.numbers[number].variation
            assert isinstance(variation, Range)
            span = variation.high - variation.low
            values = variation.at(points.shares[rows, number])
            steps[:, number] = STEP * np.maximum(np.abs(values), 0.1 * span) / span
        for sign in (-1.0, 0.0):
            block = cls._with(space, base, points, rows, steps, places)
            bad = ~space._neighbours_are_alike(base, block)
            if not bad.any():
                break
            steps[:, places] = np.where(bad, sign * np.abs(steps[:, places]), steps[:, places])
        return cls._with(space, base, points, rows, steps, places)

    @classmethod
    def _with(
        cls,
        space: DesignSpace,
        base: SharedDesign,
        points: Candidates,
        rows: Indices,
        steps: Array,
        places: tuple[int, ...],
    ) -> "_Neighbourhood":
        size = 1 + len(places)
        shares = np.repeat(points.shares[rows], size, axis=0)
        for k, number in enumerate(places):
            shares[1 + k :: size, number] += steps[:, number]
        many = Candidates(shares, np.repeat(points.kinds[rows], size, axis=0))
        columns = space._columns(base, many, np.arange(len(shares)))
        return cls(rows, columns, np.repeat(np.arange(len(rows)), size).astype(np.intp), steps, places, many)

    def slopes(self, results: Array) -> Array:
        """Return slopes, (n, r, p), of results, (n (1 + d), r)."""
        n, size = len(self.rows), 1 + len(self.places)
        folded = results.reshape(n, size, -1)
        found = np.zeros((n, folded.shape[2], self.steps.shape[1]))
        rise = np.nan_to_num(folded[:, 1:] - folded[:, :1])
        steps = self.steps[:, self.places][:, :, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            slopes = np.where(steps != 0.0, rise / steps, 0.0)
        found[:, :, self.places] = np.moveaxis(slopes, 1, 2)
        return found
