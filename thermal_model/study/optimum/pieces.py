"""What one design becomes: pieces whose dimensions spread, and of which not all is known; and what enough of them hold.

Every design is made into the same pieces (common random numbers), so that a difference between designs is no luck.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from geometries.numeric import Array
from thermal_model.assemble.lanes import Lanes
from thermal_model.batch import with_draws, with_numbers
from thermal_model.solver.scatter import Indices
from thermal_model.study.question import Question
from thermal_model.study.tolerance import ProductionSpread
from thermal_model.uncertainty import PRIORS, Belief

SHARE = "share"
"""Name of the share of the pieces that hold as long as is wanted, as a measure."""

SMOOTHING = 0.2
"""Of the spread of the pieces' hold times, over which one goes from missing the mark to meeting it. [-]"""

LEAST_WEIGHT = 1e-9
"""Below it a piece does not count for a quantile. [-]"""


@dataclass(frozen=True)
class Pieces:
    """Pieces that a design is judged by; none: the design as drawn, every unknown at its best guess.

    Attributes
    ----------
    count : int
    share : float
        Of the pieces, that hold at least as long as what counts as the design's hold time. [-]
    spreads : tuple of ProductionSpread
        Of dimensions, independent and normal about each design's own value.
    with_unknowns : bool
        Whether what is not known of the design differs from piece to piece too.
    seed : int
    wanted : float
        Hold time that SHARE is about. [s]
    larger : int
        Pieces by which what these say is corrected, and as many others on which a promise is tried.
    belief : Belief, optional
        What readings leave unknown; left out, the priors.
    unsure : tuple of str
        Paths of dimensions that were not measured; they differ with the unknowns.
    """

    count: int = 0
    share: float = 0.95
    spreads: tuple[ProductionSpread, ...] = ()
    with_unknowns: bool = False
    seed: int = 1
    wanted: float = 1.0
    larger: int = 4096
    belief: Belief | None = field(default=None, repr=False)
    unsure: tuple[str, ...] = ()

    def anew(self, count: int, seed: int) -> "Pieces":
        """Return other pieces of the same production."""
        return replace(self, count=count, seed=seed)

    @cached_property
    def _normals(self) -> Array:
        """Standard normal numbers, (spreads, unknowns and time, pieces), evenly spread over all that varies."""
        from scipy.special import ndtri
        from scipy.stats.qmc import LatinHypercube, Sobol

        width = max(len(self.spreads) + (len(PRIORS) + len(self.unsure) + 1 if self.with_unknowns else 0), 1)
        rng = np.random.default_rng(self.seed)
        # A Sobol' sequence misses a quantile by half as much, but is even at powers of two only.
        is_even = self.count & (self.count - 1) == 0
        drawn = (Sobol(width, rng=rng) if is_even else LatinHypercube(width, rng=rng)).random(max(self.count, 1))
        return np.asarray(ndtri(np.clip(drawn.T, 1e-12, 1.0 - 1e-12)))

    def runs(self, question: Question, columns: Mapping[str, Array], count: int) -> Lanes:
        """Return the pieces of n designs, those of a design together; the designs themselves where there are none."""
        lanes = count * max(self.count, 1)
        found = {path: np.repeat(column, max(self.count, 1)) for path, column in columns.items()}
        for spread, normals in zip(self.spreads if self.count else (), self._normals, strict=False):
            path = spread.field.path
            middle = found.get(path, np.full(lanes, spread.field.value))
            found[path] = middle + spread.deviation * np.tile(normals, count)
        runs = Lanes(*with_numbers(question.container, question.scenario, found, question.unknowns), lanes)
        if not self.count or not self.with_unknowns:
            return runs
        unknown = dict(zip((*PRIORS, *self.unsure), self._normals[len(self.spreads) :], strict=False))
        moved = unknown if self.belief is None else self.belief.standard_normals(unknown)
        return with_draws(runs, {name: np.tile(normals, count) for name, normals in moved.items()})

    @property
    def stretch(self) -> Array:
        """How much longer each piece takes than the network says, (pieces,). [-]"""
        if not self.with_unknowns or self.belief is None:
            return np.ones(max(self.count, 1))
        return np.exp(self.belief.time_spread * self._normals[-1])

    def counted(self, times: Array, family: Indices | None = None) -> Array:
        """Return what enough pieces hold, (n,), from hold times of pieces, (n, pieces).

        A weighted mean of all pieces in order, most of it near the quantile (Harrell and Davis 1982, Biometrika 69): so
        it moves smoothly as designs do. Members of a family take the order of its first, which is their common design.
        """
        stretched = times * self.stretch
        leader = np.arange(len(times)) if family is None else np.searchsorted(family, family)
        order = np.argsort(stretched, axis=1, kind="stable")[leader]
        # A sum by rows, not a product of matrices, whose last digit depends on how many rows there are.
        return np.asarray((np.take_along_axis(stretched, order, axis=1) * self._weights).sum(axis=1))

    def share_meeting(self, times: Array, family: Indices | None = None) -> Array:
        """Return the share of the pieces that hold as long as is wanted, (n,), from (n, pieces); smooth in the times.

        Each piece counts for a little more or less than whole near the mark, so that a design's slope is there.
        """
        from scipy.special import ndtr

        logs = np.log(np.maximum(times * self.stretch, 1.0))
        leader = np.arange(len(times)) if family is None else np.searchsorted(family, family)
        width = np.maximum(SMOOTHING * logs.std(axis=1)[leader], 1e-3)
        return np.asarray(ndtr((logs - np.log(self.wanted)) / width[:, None]).mean(axis=1))

    @cached_property
    def _weights(self) -> Array:
        from scipy.stats import beta

        low = 1.0 - self.share
        of_rank = beta(low * (self.count + 1), self.share * (self.count + 1)).cdf(np.linspace(0.0, 1.0, self.count + 1))
        weights = np.diff(of_rank)
        weights[weights < LEAST_WEIGHT] = 0.0
        return np.asarray(weights / weights.sum())
