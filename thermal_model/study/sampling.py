"""Which designs a sweep looks at: full grid, one at a time, Latin hypercube or Sobol' sequence; rows made by index.

No table of all designs is ever built: a million of them take no more memory than the rows in hand.
"""

import math
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.errors import InputError, InputProblem
from geometries.numeric import Array
from geometries.ranges import Range
from thermal_model.batch import AS_GIVEN, Table
from thermal_model.study.axes import Axis
from thermal_model.study.sampling_kind import Sampling

LARGEST_SOBOL = 2**30
"""Points of a Sobol' sequence of 30 bits, as SciPy draws it."""

LARGEST_LATIN = 10_000_000
"""A Latin hypercube is drawn as a whole [designs]; more take a Sobol' sequence."""


_DRAWING = threading.Lock()
"""What is drawn of a plan is kept for its next rows, whoever asks for them."""


@dataclass(frozen=True)
class Rows:
    """Consecutive designs of a plan.

    Attributes
    ----------
    values : mapping of str to (n,) array
        By path, as `Axis.points`.
    varied : (n,) int array or None
        One at a time: number of the axis that is varied, -1 for the design itself. None: all are.
    """

    values: Mapping[str, Array]
    varied: NDArray[np.int64] | None = None


@dataclass(frozen=True)
class Plan:
    """Which designs, in which order.

    Attributes
    ----------
    axes : tuple of Axis
        As given.
    sampling : Sampling
    count : int
        Number of designs.
    seed : int
    """

    axes: tuple[Axis, ...]
    sampling: Sampling
    count: int
    seed: int = 1
    _drawn: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def nested(self) -> tuple[Axis, ...]:
        """The axes from the slowest to the fastest of a grid: kinds first, so that neighbours share a network."""
        return tuple(sorted(self.axes, key=lambda axis: axis.is_number))

    @property
    def shape(self) -> tuple[int, ...]:
        """Points of each axis of a grid, in the order of `nested`."""
        return tuple(len(axis.points) for axis in self.nested)

    def rows(self, start: int, stop: int) -> Rows:
        """Return designs by number, `start` up to but without `stop`."""
        if self.sampling is Sampling.ONE_AT_A_TIME:
            return self._one_at_a_time(np.arange(start, stop))
        if self.sampling is Sampling.GRID:
            places = np.unravel_index(np.arange(start, stop), self.shape)
            return Rows({axis.path: axis.points[place] for axis, place in zip(self.nested, places, strict=True)})
        shares = self._sobol(start, stop) if self.sampling is Sampling.SOBOL else self._latin()[start:stop]
        return Rows({axis.path: axis.drawn(share) for axis, share in zip(self.axes, shares.T, strict=True)})

    def _one_at_a_time(self, numbers: NDArray[np.int64]) -> Rows:
        """Return the design itself for number 0, then each axis in turn, the others as the design has them."""
        ends = np.cumsum([1, *(len(axis.points) for axis in self.axes)])
        varied = np.searchsorted(ends, numbers, side="right") - 1
        values = {}
        for k, axis in enumerate(self.axes):
            own = varied == k
            place = np.where(own, numbers - ends[k], 0)
            values[axis.path] = np.where(own, axis.points[place], axis.base)
        return Rows(values, varied)

    def _sobol(self, start: int, stop: int) -> Array:
        from scipy.stats.qmc import Sobol

        with _DRAWING:
            sequence = self._drawn.get("sobol")
            if sequence is None or sequence.num_generated > start:
                sequence = self._drawn["sobol"] = Sobol(len(self.axes), scramble=True, seed=self.seed)
            if start > sequence.num_generated:
                sequence.fast_forward(start - sequence.num_generated)
            # One point by itself: it warns of a first count that is no power of two; the command says so on its own.
            return np.vstack([sequence.random(1), sequence.random(stop - start - 1)])

    def _latin(self) -> Array:
        with _DRAWING:
            if "latin" not in self._drawn:
                from scipy.stats.qmc import LatinHypercube

                self._drawn["latin"] = LatinHypercube(len(self.axes), seed=self.seed).random(self.count)
            return np.asarray(self._drawn["latin"])

    def __reduce__(self) -> tuple[type["Plan"], tuple[Any, ...]]:
        return Plan, (self.axes, self.sampling, self.count, self.seed)


def table_of(axes: Sequence[Axis], rows: Rows) -> Table:
    """Return designs as a table; one at a time, each row gives only what it varies."""
    numbers: dict[str, Array] = {}
    kinds: dict[str, list[object]] = {}
    count = len(next(iter(rows.values.values())))
    for number, axis in enumerate(axes):
        column = rows.values[axis.path]
        given = np.ones(count, dtype=bool) if rows.varied is None else rows.varied == number
        if axis.is_number:
            numbers[axis.path] = np.where(given, column, np.nan)
        else:
            kinds[axis.path] = [axis.document(v) if g else AS_GIVEN for v, g in zip(column, given, strict=True)]
    return Table(numbers, kinds, count)


def planned(axes: tuple[Axis, ...], sampling: Sampling, count: int | None, seed: int) -> Plan:
    """Return the plan of a sampling.

    Parameters
    ----------
    axes : tuple of Axis
    sampling : Sampling
    count : int or None
        Number of designs of a Latin hypercube or a Sobol' sequence; the others follow from the axes.
    seed : int

    Raises
    ------
    InputError
        If a grid lacks its steps, or the count is missing, too large, or not wanted.
    """
    if sampling in (Sampling.LATIN, Sampling.SOBOL):
        return Plan(axes, sampling, _sample_size(sampling, count), seed)
    if count is not None:
        raise InputError("goes with --sample latin or sobol; a grid counts its own", source="--count")
    open_ended = [a for a in axes if isinstance(a.variation, Range) and a.variation.count is None]
    if open_ended:
        message = "how many steps? write them behind the range, for example 30..60 mm:7, or take a --sample"
        raise InputError(InputProblem(message, axis.path, source="--vary") for axis in open_ended)
    sizes = [axis.variation.count if isinstance(axis.variation, Range) else len(axis.points) for axis in axes]
    total = math.prod(sizes) if sampling is Sampling.GRID else 1 + sum(sizes)  # type: ignore[arg-type]
    return Plan(axes, sampling, total, seed)


def _sample_size(sampling: Sampling, count: int | None) -> int:
    if count is None:
        raise InputError("how many designs? for example --count 1024", source=f"--sample {sampling.value}")
    if count < 1:
        raise InputError(f"{count} is not allowed; it must be at least 1", source="--count")
    largest = LARGEST_SOBOL if sampling is Sampling.SOBOL else LARGEST_LATIN
    if count > largest:
        raise InputError(f"a {sampling.value} sample has at most {largest} designs", source="--count")
    return count
