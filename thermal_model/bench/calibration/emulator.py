"""A quadratic stand-in for the runs of a bench about the most probable point, for a sampler that asks a million times.

Every run's temperatures become a second-order polynomial of the unknowns its network is built from, with cross terms
among those that matter most; its steps are the widths of the posterior, so that it holds where the posterior is.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import EMISSIVITY, NETWORK_NAMES, PRESSURE
from thermal_model.bench.calibration.fit import Fit
from thermal_model.solver.scatter import Indices
from thermal_model.uncertainty import PRIORS

MOST_CROSSED = 7
"""Unknowns of a run that get cross terms: those with the largest effect."""

LEAST_EFFECT = 0.02
"""An unknown that moves no reading by more than this, in units of the noise, stays linear. [-]"""

SMALLEST_STEP, LARGEST_STEP = 0.1, 1.0


EXPONENTIAL = np.array([PRIORS[name].width if name in (PRESSURE, EMISSIVITY) else 0.0 for name in NETWORK_NAMES])
"""Rates of the unknowns that count by their factor, not by its logarithm: heat through a thin gas goes as its pressure,
over decades that no parabola in the logarithm follows, and radiation as the emissivity. [-]"""

START = NETWORK_NAMES.index("start")
"""Temperatures are straight in the start, over all the kelvins that a container that was not soaked takes from it."""

CONSTANT = len(NETWORK_NAMES)
"""Column of ones beside those of the unknowns: a linear feature is a product with it."""


@dataclass(frozen=True)
class Terms:
    """The polynomials of all r runs, padded to f features and k readings: T = T0 + features(u) @ coefficients.

    Attributes
    ----------
    counts : (r,) int array
        Features that are not padding.
    first, second : (r, f) int array
        Columns of u, counted from the centre, that each feature is the product of.
    coefficients : (r, f, k) array
        [K]
    run, place : (m,) int array
        Where the rows of the evidence that belong to a run stand among the padded readings.
    """

    counts: Indices
    first: Indices
    second: Indices
    coefficients: Array
    run: Indices
    place: Indices


class Emulator:
    """What displays would show at any point of the posterior.

    Parameters
    ----------
    fit : Fit
        The most probable point, about which the polynomials are made.

    Attributes
    ----------
    centre : (r, 20) array
        Standard normals of every run's unknowns there.
    base : (m,) array
        What displays would show there without offsets and rates. [K]
    direct : (m, p) sparse array
        Derivatives by offsets and rates there; the networks' part is left out. [K]
    terms : Terms
    """

    def __init__(self, fit: Fit) -> None:
        self.fit = fit
        self.centre = fit.problem.network.normals(fit.x)
        exact = fit.problem.predicted(fit.x)
        self.direct = exact.matrix
        self.base = exact.predicted - exact.matrix @ fit.x
        self.terms = self._made_terms()

    def _made_terms(self) -> Terms:
        plans = [self._plan(number) for number in range(len(self.centre))]
        runs = np.concatenate([np.full(len(plan.points), number, dtype=np.intp) for number, plan in enumerate(plans)])
        points = np.concatenate([self.centre[number] + plan.points for number, plan in enumerate(plans)])
        responses = iter(self.fit.problem.model.lanes(runs, points))
        evidence = self.fit.evidence
        of_runs = [evidence.of_run(number) for number in range(len(plans))]
        features, readings = max(len(plan.first) for plan in plans), max(map(len, of_runs))
        first = np.full((len(plans), features), CONSTANT, dtype=np.intp)
        second = first.copy()
        coefficients = np.zeros((len(plans), features, readings))
        for number, (plan, rows) in enumerate(zip(plans, of_runs, strict=True)):
            table = np.stack([next(responses).temperature[evidence.moment[rows]] for _ in plan.points])
            count = len(plan.first)
            first[number, :count], second[number, :count] = plan.first, plan.second
            coefficients[number, :count, : len(rows)] = plan.coefficients(table)
        run = np.concatenate([np.full(len(rows), number, dtype=np.intp) for number, rows in enumerate(of_runs)])
        counts = np.array([len(plan.first) for plan in plans], dtype=np.intp)
        return Terms(
            counts, first, second, coefficients, run, np.concatenate([np.arange(len(rows)) for rows in of_runs])
        )

    def _plan(self, number: int) -> "_Plan":
        """Return which unknowns of a run get which terms, and how far to step."""
        fit, rows = self.fit, self.fit.evidence.of_run(number)
        run = fit.problem.bench.runs[number]
        local, places, slopes = fit.coordinates.network_slopes(run, fit.x)
        turn = np.zeros((len(NETWORK_NAMES), fit.coordinates.count))
        turn[local, places] = slopes
        width = np.sqrt(np.sum((turn @ fit.covariance) * turn, axis=1))
        moved = fit.linearised.matrix[rows].toarray() @ np.linalg.pinv(turn)
        effect = np.abs(moved * width / fit.linearised.scale[rows, None]).max(axis=0, initial=0.0)
        active = np.flatnonzero(effect > 0.0)
        felt = active[effect[active] > LEAST_EFFECT]
        crossed = felt[np.argsort(-effect[felt])][:MOST_CROSSED]
        curved = felt[felt != START]
        return _Plan(active, curved, np.sort(crossed), np.clip(width, SMALLEST_STEP, LARGEST_STEP))

    def predicted(self, x: Array) -> Array:
        """Return what the displays would show at a point, (m,). [K]"""
        terms = self.terms
        away = np.ones((len(self.centre), CONSTANT + 1))
        away[:, :CONSTANT] = _straightened(self.fit.problem.network.normals(x) - self.centre)
        features = np.take_along_axis(away, terms.first, 1) * np.take_along_axis(away, terms.second, 1)
        table = np.matmul(features[:, None, :], terms.coefficients)[:, 0, :]
        shown = self.base + self.direct @ x
        shown[: len(terms.run)] += table[terms.run, terms.place]
        return shown

    def errors(self, draws: Array) -> Array:
        """Return by how much the emulator misses the engine at some draws, (d, m), in units of the noise."""
        exact, scale = self.fit.problem.predicted, self.fit.linearised.scale
        return np.stack([(self.predicted(x) - exact(x).predicted) / scale for x in draws])


@dataclass(frozen=True)
class _Plan:
    """Points at which a run is asked, and the terms that follow from its answers."""

    active: Indices
    curved: Indices
    crossed: Indices
    width: Array

    def _pairs(self) -> Iterator[tuple[int, int]]:
        return combinations(self.crossed.tolist(), 2)

    @property
    def points(self) -> Array:
        """Displacements from the centre, (l, 20): none, up, down, both of a pair."""
        moves = np.diag(self.width)
        up = moves[self.active]
        both = [moves[one] + moves[other] for one, other in self._pairs()]
        return np.stack([np.zeros(len(self.width)), *up, *-up, *both])

    @property
    def first(self) -> Indices:
        """First column of every feature: linear, squares, pairs."""
        return np.array([*self.active, *self.curved, *(one for one, _ in self._pairs())], dtype=np.intp)

    @property
    def second(self) -> Indices:
        """Second column of every feature, that of ones for linear ones."""
        linear = [CONSTANT] * len(self.active)
        return np.array([*linear, *self.curved, *(other for _, other in self._pairs())], dtype=np.intp)

    def coefficients(self, table: Array) -> Array:
        """Return the coefficients of the features, (f, m), from the answers at `points`, (l, m); NaN counts as none."""
        count = len(self.active)
        centre, up, down, pairs = np.split(table, [1, 1 + count, 1 + 2 * count])
        above, below = (_straightened(sign * self.width) for sign in (1.0, -1.0))
        up_slope = (up - centre) / above[self.active][:, None]
        down_slope = (down - centre) / below[self.active][:, None]
        square = (up_slope - down_slope) / (above - below)[self.active][:, None]
        is_curved = np.isin(self.active, self.curved)[:, None]
        straight = (up - down) / (above - below)[self.active][:, None]
        linear = np.where(is_curved, up_slope - square * above[self.active][:, None], straight)
        place = {column: k for k, column in enumerate(self.active.tolist())}
        crossed = [
            (both - up[place[one]] - up[place[other]] + centre[0]) / (above[one] * above[other])
            for (one, other), both in zip(self._pairs(), pairs, strict=True)
        ]
        kept = square[[place[column] for column in self.curved.tolist()]]
        return np.nan_to_num(np.concatenate([linear, kept, np.reshape(crossed, (len(crossed), table.shape[1]))]))


def _straightened(normals: Array) -> Array:
    """Return displacements of standard normals as what temperatures are nearly polynomials of, (..., 20)."""
    rate = np.where(EXPONENTIAL > 0.0, EXPONENTIAL, 1.0)
    return np.where(EXPONENTIAL > 0.0, np.expm1(np.clip(rate * normals, -50.0, 8.0)) / rate, normals)
