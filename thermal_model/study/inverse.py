"""The question turned round: which mouth, which pocket depth, holds eight hours?"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.errors import InputError
from geometries.numeric import Array
from geometries.ranges import Range
from thermal_model.batch import Table
from thermal_model.solver.engine import Outcome
from thermal_model.study.question import Question
from thermal_model.uncertainty import INTERVAL, Sample
from thermal_model.work_done import ShareDone

GRID = 7
"""Values tried along the range in every draw."""

RESOLUTION = 1e-3
"""Of the answer, relative to the range."""

MOST_ROUNDS = 30


@dataclass(frozen=True)
class Inverse:
    """Values of a dimension at which a hold time is just met.

    Attributes
    ----------
    wanted : Range
    hold : float
        [s]
    rises : bool
        Whether a larger value holds longer: then the answer is the least that holds, else the most.
    nominal : float
        With every unknown at its best guess; infinite to the side where it lies beyond the range. [SI]
    low, median, high : float
        Quantiles 5, 50 and 95 % of the draws, likewise; NaN without draws. [SI]
    everywhere, nowhere : float
        Shares of the draws in which every value of the range holds that long, or none.
    tried, held : (k,) arrays
        Values tried with the best guess and their hold times; infinite where the limit is not reached. [SI, s]
    turns : bool
        Whether the hold time both rises and falls within the range; the answer is then the first from below.
    draws, seed : int
    failed : int
        Draws left out.
    """

    wanted: Range
    hold: float
    rises: bool
    nominal: float
    low: float
    median: float
    high: float
    everywhere: float
    nowhere: float
    tried: Array
    held: Array
    turns: bool
    draws: int
    seed: int
    failed: int

    @property
    def safe(self) -> float:
        """The value that holds in 19 of 20 draws; infinite to the side where it lies beyond the range. [SI]"""
        return self.high if self.rises else self.low


def find_value(
    question: Question, wanted: Range, hold: float, *, draws: int, seed: int, progress: ShareDone | None = None
) -> Inverse:
    """Find the value of a dimension that just gives a hold time, for the best guess and for every draw.

    Parameters
    ----------
    question : Question
    wanted : Range
        Of the dimension.
    hold : float
        [s]
    draws : int
        0 for the best guess alone.
    seed : int
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If no value of the range makes a container.

    Notes
    -----
    A grid of values for every draw brackets the answers; Chandrupatla's method (SciPy) narrows all brackets together.
    """
    search = _Search(question, wanted, hold, question.sample(draws, seed))
    grid = wanted.steps(GRID)
    excess = search.grid(grid, progress)
    is_there = np.isfinite(excess)
    if not is_there[0].any():
        raise InputError(f"no value of {wanted.path} in this range makes a container; the first: {search.reason}")
    lanes, left = _first_crossings(excess)
    answers = _without_crossing(excess)
    answers[lanes] = search.narrowed(grid, lanes, left)
    nominal = excess[0][is_there[0]]
    rises = bool(nominal[-1] >= nominal[0])
    # Where no crossing is, the answer lies beyond the range, to the side that the draw is off.
    beyond = np.where(rises, -answers, answers)
    values = np.where(np.isinf(answers), beyond, answers)
    drawn = values[1:][~np.isnan(values[1:])]
    low, median, high = _ordered(drawn)
    steps = np.diff(nominal)
    return Inverse(
        wanted,
        hold,
        rises,
        float(values[0]),
        low,
        median,
        high,
        float((answers[1:] == np.inf).mean()) if draws else 0.0,
        float((answers[1:] == -np.inf).mean()) if draws else 0.0,
        grid[is_there[0]],
        search.times(nominal),
        bool(np.any(steps > hold * 1e-4) and np.any(steps < -hold * 1e-4)),
        draws,
        seed,
        int(np.isnan(values[1:]).sum()),
    )


def _ordered(drawn: Array) -> tuple[float, float, float]:
    if not len(drawn):
        return np.nan, np.nan, np.nan
    # Order statistics, since some may lie beyond the range; each errs to the outer side.
    low = np.quantile(drawn, INTERVAL[0], method="lower")
    high = np.quantile(drawn, INTERVAL[1], method="higher")
    return float(low), float(np.quantile(drawn, 0.5, method="nearest")), float(high)


def _first_crossings(excess: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the lanes that cross zero between two neighbours of the grid, and the place of the left one."""
    change = np.sign(excess[:, :-1]) * np.sign(excess[:, 1:]) <= 0.0
    lanes = np.flatnonzero(change.any(axis=1))
    return lanes, np.argmax(change[lanes], axis=1)


def _without_crossing(excess: Array) -> Array:
    """Return for each lane +inf if all values hold, -inf if none does, NaN if nothing is known."""
    known = np.isfinite(excess)
    lowest = np.where(known, excess, np.inf).min(axis=1)
    return np.where(~known.any(axis=1), np.nan, np.where(lowest > 0.0, np.inf, -np.inf))


class _Search:
    """Hold times of lanes (the best guess, then the draws) at values of one dimension; each is computed once."""

    def __init__(self, question: Question, wanted: Range, hold: float, sample: Sample) -> None:
        self.question, self.wanted, self.hold = question, wanted, hold
        self.sample, self.lanes = sample, sample.count
        self.known: dict[tuple[int, float], float] = {}
        self.reason = ""

    def grid(self, grid: Array, progress: ShareDone | None) -> Array:
        """Return hold time less the wanted one, (lanes, grid)."""
        lanes = np.repeat(np.arange(self.lanes), len(grid))
        return self.excess(np.tile(grid, self.lanes), lanes, progress).reshape(self.lanes, len(grid))

    def excess(self, values: Array, lanes: NDArray[np.intp], progress: ShareDone | None = None) -> Array:
        """Return hold time less the wanted one at a value for each lane given; NaN where there is no container."""
        keys = list(zip(lanes.tolist(), values.tolist(), strict=True))
        missing = [number for number, key in enumerate(keys) if key not in self.known]
        if missing:
            found = self._computed(values[missing], lanes[missing], progress)
            self.known |= {keys[number]: float(time) for number, time in zip(missing, found, strict=True)}
        return np.array([self.known[key] for key in keys])

    def _computed(self, values: Array, lanes: NDArray[np.intp], progress: ShareDone | None) -> Array:
        normals = {name: normal[lanes] for name, normal in self.sample.standard_normals.items()}
        result = self.question.answers(Table({self.wanted.path: values}, normals=normals), progress)
        is_invalid = result.problem >= 0
        if is_invalid.any() and not self.reason:
            self.reason = self.question.why_none(result, int(np.argmax(is_invalid)))
        # What never gets there holds at least as long as it is followed.
        is_held = result.outcome == Outcome.NOT_REACHED
        times = result.hold_times[0] * self.sample.stretch[lanes]
        return np.where(is_held, self.question.horizon, times) - self.hold

    def times(self, excess: Array) -> Array:
        """Return hold times, infinite where the limit is not reached."""
        times = excess + self.hold
        return np.where(times >= self.question.horizon, np.inf, times)

    def narrowed(self, grid: Array, lanes: NDArray[np.intp], left: NDArray[np.intp]) -> Array:
        """Return the values at which the lanes given cross, each within its bracket."""
        from scipy.optimize.elementwise import find_root

        if not len(lanes):
            return np.empty(0)
        tolerances = {
            "xatol": RESOLUTION * (self.wanted.high - self.wanted.low),
            "xrtol": 0.0,
            "fatol": 1e-5 * self.hold,
        }

        def function(values: Array, which: Array) -> Any:
            return self.excess(np.ravel(values), np.ravel(which).astype(np.intp)).reshape(np.shape(values))

        bracket = (grid[left], grid[left + 1])
        found = find_root(function, bracket, args=(lanes,), tolerances=tolerances, maxiter=MOST_ROUNDS)
        return np.where(found.success, found.x, np.nan)
