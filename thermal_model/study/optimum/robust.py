"""What pieces ask of a search: estimates put right where it ends, a larger sample, and a promise that is tried."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from geometries.numeric import Array
from thermal_model.study.measures import HOLD
from thermal_model.study.optimum.designs import DesignSpace
from thermal_model.study.optimum.global_search import first_points, unit_points
from thermal_model.study.optimum.pieces import SHARE, Pieces
from thermal_model.study.optimum.problem import Candidates, Record, joined
from thermal_model.study.optimum.refine import Refined, refined

TRIED_FIRST = 16
"""Designs among which one is looked for whose pieces can be computed."""

ANCHORED = 4
"""Ends whose pieces are computed in one round: the best of each kinds, or some all along a front."""

ROUNDS = 4
"""Times that pieces are computed where refinements end, and these go on from there."""

NEAR = 0.003
"""Way from an anchor, in ranges, within which an estimate needs no other: what it is off grows with its square."""

SMALLER = 8
"""How many times smaller the sample is by which a search is corrected at first."""


WITH_OPENINGS = 8
"""How many times smaller a sample is where the lid is taken off: such a run takes thirty times as long."""


@dataclass(frozen=True)
class Promise:
    """What pieces that the search has never seen hold.

    Attributes
    ----------
    name : str
        Of the hold time.
    promised : float
        Hold time. [s]
    wanted : float
        Share of the pieces that should hold it. [-]
    kept : float
        Share of fresh pieces that does. [-]
    pieces : int
    """

    name: str
    promised: float
    wanted: float
    kept: float
    pieces: int


def begun(record: Record, space: DesignSpace, seed: int) -> DesignSpace:
    """Return a space whose pieces are estimated from one design's, for a search to begin with; the record asks it."""
    if not space.pieces.count or not space.hold_names:
        return space
    points = unit_points(record, first_points(record, TRIED_FIRST, seed)[0])
    exists = np.isfinite(space.as_drawn.values(points).objectives).all(axis=1)
    if exists.any():
        space = space.anchored(points.some([int(np.argmax(exists))]), with_slopes=False)
    return record.turned_to(space)


def settled(
    record: Record, space: DesignSpace, ends: tuple[Refined, ...], chosen: Callable[[list[Refined]], list[Refined]]
) -> tuple[DesignSpace, tuple[Refined, ...]]:
    """Return where refinements end once pieces have been computed there.

    Parameters
    ----------
    record : Record
    space : DesignSpace
    ends : tuple of Refined
    chosen : callable
        Returns those of the ends whose pieces should be computed, the most important first.
    """
    for _ in range(ROUNDS if space.anchors else 0):
        new = [end.points for end in chosen(list(ends)) if not _is_near(space, end.points)][:ANCHORED]
        if not new:
            break
        space = record.turned_to(space.anchored(joined(new), with_slopes=True))
        ends = gone_on(record, ends)
    return space, ends


def gone_on(record: Record, ends: tuple[Refined, ...]) -> tuple[Refined, ...]:
    """Refine anew from where refinements ended; those that meet all if there are any."""
    tasks = [replace(end.task, shares=end.points.shares[0], kinds=end.points.kinds[0]) for end in ends]
    new = refined(record, tasks)
    return tuple(end for end in new if end.meets) or tuple(new)


def _is_near(space: DesignSpace, points: Candidates) -> bool:
    return any(
        bool(anchor.slopes)
        and bool((anchor.kinds == points.kinds[0]).all())
        and bool(np.abs(anchor.shares - points.shares[0]).max(initial=0.0) <= NEAR)
        for anchor in space.anchors
    )


def corrected(
    record: Record, space: DesignSpace, ends: tuple[Refined, ...], seed: int
) -> tuple[DesignSpace, tuple[Refined, ...]]:
    """Return the ends once hold times count as a larger sample of pieces says they are."""
    if not space.pieces.count or not space.hold_names:
        return space, ends
    for turn, divisor in enumerate((SMALLER, 1)):
        middle = ends[len(ends) // 2].points
        samples = {name: _sample(space, name, divisor, seed + 1000 + turn) for name in space.hold_names}
        factors = {name: _factor(space, larger, middle, name) for name, larger in samples.items()}
        space = record.turned_to(replace(space, factors=factors))
        better = gone_on(record, ends)
        ends = better if better[0].meets else ends
    return space, ends


def _sample(space: DesignSpace, name: str, divisor: int, seed: int) -> Pieces:
    """Return other pieces, of which one hold time is told better than by those of the search."""
    scenario = space.questions[space.names.index(HOLD if name == SHARE else name)].scenario
    count = space.pieces.larger // divisor // (WITH_OPENINGS if scenario.openings else 1)
    return space.pieces.anew(max(count, space.pieces.count), seed)


def _factor(space: DesignSpace, larger: Pieces, points: Candidates, name: str) -> float:
    """Return by what hold times have to be multiplied, so that what they count as is what a larger sample says."""
    sample, plain = replace(space, pieces=larger, factors={}), replace(space, factors={})
    if name != SHARE:
        return float(sample.as_counted(name, _piece_times(sample, points, name))[0] / _counted(plain, points, name))
    half = 0.5 / larger.count
    wanted = float(np.clip(_share_holding(sample, points, larger.wanted), half, 1.0 - half))
    low, high = 0.25, 4.0
    for _ in range(50):
        middle = (low * high) ** 0.5
        is_enough = _counted(replace(space, factors={SHARE: middle}), points, SHARE) >= wanted
        low, high = (low, middle) if is_enough else (middle, high)
    return high


def _counted(space: DesignSpace, points: Candidates, name: str) -> float:
    """Return what a search takes the hold time, or the share, of a design to be."""
    return float(space.worth_of(points, name)[0])


def _piece_times(space: DesignSpace, points: Candidates, name: str) -> Array:
    """Return hold times of the pieces of a design, none of them estimated, (1, pieces). [s]"""
    base = space.base(points.kinds[0])
    assert base is not None
    return space.piece_times(base, space.columns_of(base, points), 1, HOLD if name == SHARE else name)


def _share_holding(space: DesignSpace, points: Candidates, hold: float) -> float:
    times = _piece_times(space, points, SHARE)[0] * space.pieces.stretch
    return float((times >= hold).mean())


def promises(space: DesignSpace, end: Refined, seed: int) -> tuple[Promise, ...]:
    """Try what is promised on pieces that the search has not seen."""
    if not space.pieces.count:
        return ()
    kept = []
    for name in space.hold_names:
        fresh = replace(space, pieces=_sample(space, name, 1, seed + 5000))
        counted = _counted(space, end.points, name)
        promised, wanted = (space.pieces.wanted, counted) if name == SHARE else (counted, space.pieces.share)
        times = _piece_times(fresh, end.points, name)[0] * fresh.pieces.stretch
        kept.append(Promise(name, promised, wanted, float((times >= promised).mean()), fresh.pieces.count))
    return tuple(kept)
