"""The reduced model of a whole ranking: tables of every container, hot and cold, and how far they are off."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.follow import follow
from thermal_model.judge.compare import Entry
from thermal_model.judge.what_if.grids import Grids
from thermal_model.judge.what_if.lid_off import SECONDS_OFF, LidOff
from thermal_model.judge.what_if.reduced import MOST_OPENINGS, AskedState, hold_times
from thermal_model.judge.what_if.runs import LONGEST, DrawnContainer, Misread
from thermal_model.judge.what_if.side import COLD, HOT, Side
from thermal_model.judge.what_if.tables import CoolingTables, make_tables
from thermal_model.scenario import Opening, Scenario
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.uncertainty import low_high
from thermal_model.work_done import ShareDone, counted, parts_of

PERIODS = (1800.0, 3600.0, 7200.0, 14400.0)
"""Between openings of the lid, of which a reader can choose. [s]"""

CLOSED_STATES, OPENED_STATES = (8, 64), (3, 16)
"""Random conditions in which tables are held to the engine, lid on, and lid off now and then: at most so many for each
container, and in all."""

SHORT = 300.0
"""Ends of ranges that come sooner are told to within a minute, not within a few per cent; the page marks them. [s]"""


@dataclass(frozen=True)
class Misses:
    """How far hold times from tables are off the engine's, in random conditions.

    Attributes
    ----------
    best, best_engine : (k,) arrays
        Best guesses. [s]
    ends, ends_engine : (2, k) arrays
        Of the intervals; NaN without draws. [s]
    """

    best: Array
    best_engine: Array
    ends: Array
    ends_engine: Array

    @property
    def best_relative(self) -> Array:
        """Of best guesses, (k,). [-]"""
        return np.abs(self.best / self.best_engine - 1.0)

    @property
    def best_seconds(self) -> Array:
        """Of best guesses, (k,). [s]"""
        return np.abs(self.best - self.best_engine)

    @property
    def ends_relative(self) -> Array:
        """Of intervals' ends, (2, k). [-]"""
        return np.abs(self.ends / self.ends_engine - 1.0)

    def joined(self, other: "Misses") -> "Misses":
        """Return both together."""
        pairs = ((getattr(self, name), getattr(other, name)) for name in self.__dataclass_fields__)
        return Misses(*(np.concatenate(pair, axis=-1) for pair in pairs))


@dataclass(frozen=True)
class SideModel:
    """Tables of every container on one side.

    Attributes
    ----------
    side : Side
    grids : Grids
    tables : dict of str to CoolingTables
        By name of the container.
    left_out : dict of str to str
        Containers that can't be asked, and why.
    closed, opened : Misses
        Lid on, and lid off now and then.
    """

    side: Side
    grids: Grids
    tables: dict[str, CoolingTables]
    left_out: dict[str, str]
    closed: Misses
    opened: Misses


@dataclass(frozen=True)
class WhatIf:
    """The reduced model of a ranking; `scenario` is what all its conditions have in common."""

    scenario: Scenario
    draws: int
    seed: int
    hot: SideModel
    cold: SideModel


def what_if(
    entries: Sequence[Entry], scenario: Scenario, *, draws: int, seed: int = 1, progress: ShareDone | None = None
) -> WhatIf:
    """Make the reduced model of containers, and hold it to the engine.

    Parameters
    ----------
    entries : sequence of Entry
    scenario : Scenario
        Start, room, fill and openings are what is asked later; the rest is kept.
    draws, seed : int
        As in a ranking, whose draws these are.
    progress : callable, optional
        Called with the share of the work done.
    """
    in_order = sorted(entries, key=lambda e: e.name)
    sides = [
        _side_model(side, in_order, scenario, draws, seed, tell)
        for side, tell in zip((HOT, COLD), parts_of(progress, 2), strict=True)
    ]
    return WhatIf(scenario, draws, seed, *sides)


def _side_model(
    side: Side, entries: Sequence[Entry], scenario: Scenario, draws: int, seed: int, progress: ShareDone | None
) -> SideModel:
    grids, tables, left_out = Grids.of(side), {}, {}
    nothing = Misses(np.zeros(0), np.zeros(0), np.zeros((2, 0)), np.zeros((2, 0)))
    closed = opened = nothing
    count = len(entries)
    for number, entry in enumerate(counted(entries, progress)):
        try:
            drawn = DrawnContainer.of(entry, side, scenario, draws, seed)
            made = rounded(make_tables(drawn, grids))
        except InputError as error:
            left_out[entry.name] = error.problems[0].message
            continue
        if not np.isfinite(made.unit[0]) or np.isnan(made.coarse).any() or np.isnan(made.fine).any():
            left_out[entry.name] = "the computation gave up on it in some of the conditions"
            continue
        tables[entry.name] = made
        generator = np.random.default_rng([seed, *entry.name.encode()])
        shut, open_ = (
            random_states(side, min(most, enough * (number + 1) // count - enough * number // count), generator)
            for most, enough in (CLOSED_STATES, OPENED_STATES)
        )
        open_ = [replace(state, every=float(generator.choice(PERIODS))) for state in open_]
        closed = closed.joined(misses(drawn, grids, made, shut)) if shut else closed
        opened = opened.joined(misses(drawn, grids, made, open_)) if open_ else opened
    return SideModel(side, grids, tables, left_out, closed, opened)


def random_states(side: Side, count: int, generator: np.random.Generator) -> list[AskedState]:
    """Return conditions that a reader may ask, evenly spread: start, room, fill, and then the limit between both."""
    states: list[AskedState] = []
    while len(states) < count:
        start, room, share = (float(generator.uniform(*span)) for span in (side.start, side.room, side.share))
        way = 1.0 if side.is_hot else -1.0
        nearest, furthest = start - way * side.least_change, room + way * side.nearest
        low, high = max(min(nearest, furthest), side.limits[0]), min(max(nearest, furthest), side.limits[1])
        if low < high:
            states.append(AskedState(start, room, float(generator.uniform(low, high)), share=share))
    return states


def misses(drawn: DrawnContainer, grids: Grids, tables: CoolingTables, states: Sequence[AskedState]) -> Misses:
    """Return hold times of one container from tables beside the engine's, with the same draws."""
    found = np.stack([hold_times(drawn.side, grids, tables, state) for state in states])
    known = np.where(np.isfinite(found), found, 0.0)
    engine = engine_times(drawn, states, 1.1 * known.max(axis=1))
    ends, ends_engine = (np.array([low_high(times[1:]) for times in both]).T for both in (found, engine))
    return Misses(found[:, 0], engine[:, 0], ends, ends_engine)


def engine_times(drawn: DrawnContainer, states: Sequence[AskedState], expected: Array) -> Array:
    """Return what the engine says, (s, n), of the same draws in the same conditions. [s]

    Openings are listed for as long as is expected, (s,), and one more: long lists take the engine long. [s]
    """
    count = drawn.sample.count
    runs = []
    for state, longest in zip(states, expected.tolist(), strict=True):
        openings: tuple[Opening, ...] = ()
        if state.every is not None:
            last = min(int(longest / state.every) + 2, MOST_OPENINGS)
            openings = tuple(Opening(at=k * state.every, duration=SECONDS_OFF) for k in range(1, last))
        start, room = np.full(count, state.start), np.full(count, state.room)
        fill = state.share * drawn.full if state.fill is None else np.full(count, state.fill)
        runs.append(drawn.lanes(np.arange(count), start, room, fill, openings))
    limits = np.repeat([state.limit for state in states], count)[None, :]
    found = follow(runs, limits, horizon=LONGEST, stepper=compiled_stepper())
    return found.hold_times[0].reshape(len(states), count) * drawn.sample.stretch


# --- digits ---------------------------------------------------------------------------------------------------

MOST_DIGITS, BYTE_DIGITS = 32767, 127
"""Largest whole numbers of two bytes and of one."""

BEST_STEP, SHAPE_STEP = 2e-4, 1e-3
"""To what u over the weight of its time is rounded: in the best guess, and by a shape; about 1 on the whole. [-]"""


def digits_worth(largest: float, step: float) -> int:
    """Return how many steps go into the largest number: those of one byte, or at most those of two.

    Examples
    --------
    >>> digits_worth(0.02, 1e-3), digits_worth(5.0, 1e-3)
    (127, 5000)
    """
    return max(BYTE_DIGITS, min(MOST_DIGITS, int(np.ceil(largest / step - 1e-9))))


def digits_of_best(table: Array) -> int:
    """Return how many digits a table of the best guess is worth."""
    return digits_worth(float(np.abs(table).max()), BEST_STEP)


def digits_of_shape(shape: Array, amounts: Array) -> int:
    """Return how many digits a shape is worth."""
    return digits_worth(float(np.abs(shape).max() * np.nanmax(np.abs(amounts))), SHAPE_STEP)


def rounded_to(values: Array, digits: int) -> Array:
    """Return numbers as they come back from whole numbers of so many digits.

    Examples
    --------
    >>> rounded_to(np.array([1.0, 0.26]), 2).tolist()
    [1.0, 0.5]
    """
    largest = float(np.nanmax(np.abs(values), initial=0.0))
    return np.rint(values / largest * digits) / digits * largest if largest > 0.0 else values


def rounded(tables: CoolingTables) -> CoolingTables:
    """Return tables with the digits that a page keeps: so its numbers are those that are held to the engine."""
    digits = [digits_of_shape(shape, own) for shape, own in zip(tables.shapes, tables.amounts, strict=True)]
    shapes = [rounded_to(shape, d) for shape, d in zip(tables.shapes, digits, strict=True)]
    lid_off = tables.lid_off
    return replace(
        tables,
        coarse=rounded_to(tables.coarse, digits_of_best(tables.coarse)),
        fine=rounded_to(tables.fine, digits_of_best(tables.fine)),
        shapes=np.stack(shapes) if shapes else tables.shapes,
        amounts=np.array([rounded_to(row, MOST_DIGITS) for row in tables.amounts]).reshape(tables.amounts.shape),
        misread=Misread(
            rounded_to(tables.misread.start, MOST_DIGITS),
            rounded_to(tables.misread.room, MOST_DIGITS),
            tables.misread.liquid,
        ),
        lid_off=LidOff(lid_off.coefficients, rounded_to(lid_off.factors, MOST_DIGITS), lid_off.runs),
    )
