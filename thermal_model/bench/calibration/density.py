"""What a sampler draws from: the posterior on the emulator, turned round.

The coordinates are turned round: in them the posterior is nearly a ball, and without readings a standard normal
distribution. Heavy tails are what a sampler finds hardest; such a coordinate is drawn as the standard normal of the
same quantile. So is the pressure of a gap, by the quantiles of its posterior, and what trades with it moves along.
"""

from collections.abc import Sequence

import numpy as np
from scipy.sparse import csr_array

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import (
    NETWORK_NAMES,
    PRESSURE,
    SEATING,
    SEATING_WIDTH,
    TYPICAL_SEATING,
    Coordinates,
    Owner,
)
from thermal_model.bench.calibration.density_kernel import (
    FARTHEST,
    PIECES,
    REACH,
    Pressures,
    Sparse,
    Tables,
    coordinates_of,
    log_density,
    of_normals,
)
from thermal_model.bench.calibration.emulator import EXPONENTIAL, Emulator
from thermal_model.bench.calibration.fit import information
from thermal_model.bench.calibration.likelihood import DEGREES_OF_FREEDOM
from thermal_model.bench.calibration.vacuum import log_marginal
from thermal_model.bench.records import Run
from thermal_model.uncertainty import PRIORS

INSIDE_OUT = (Owner.RUN, Owner.CONTAINER, Owner.PROBE, Owner.COMMON)
"""Runs are tied only by their container, containers only by what is common."""

NOTHING = 1e-12
"""What rounding leaves where there is nothing. [-]"""
POINTS, FAR_DOWN = 6001, 60.0
"""Points of the distribution function of a pressure, and how far down its logarithm is followed. [-]"""


class Density:
    """The posterior in turned coordinates.

    Parameters
    ----------
    emulator : Emulator
    """

    def __init__(self, emulator: Emulator) -> None:
        fit, terms = emulator.fit, emulator.terms
        bench, coordinates, evidence = fit.problem.bench, fit.coordinates, fit.evidence
        is_heavy = coordinates.is_heavy
        centre = np.where(is_heavy, normal_of_heavy(fit.x), fit.x)
        stretch = of_normals(centre, is_heavy)[1]
        told = stretch[:, None] * information(fit.linearised, fit.x) * stretch
        root = _root(told + np.eye(len(stretch)), coordinates)
        network = coordinates.network_map(bench.runs)
        seated = [(effect, name) for effect, names in SEATING.items() for name in names]
        self._tables = Tables(
            centre=centre,
            root=_sparse(root),
            is_heavy=is_heavy,
            pressures=_pressures(root, centre, coordinates, bench.runs),
            pressure_width=PRIORS[PRESSURE].width,
            places=network.places,
            seated=np.array([NETWORK_NAMES.index(name) for _, name in seated], dtype=np.intp),
            seat_width=np.array([PRIORS[name].width for _, name in seated]),
            seats=np.stack([network.seats[effect] for effect, _ in seated], axis=1),
            spread_place=network.spread_place,
            typical_seating=TYPICAL_SEATING,
            seating_width=SEATING_WIDTH,
            about=emulator.centre,
            growth=EXPONENTIAL,
            first=terms.first,
            second=terms.second,
            terms=terms.counts,
            coefficients=terms.coefficients,
            row_begin=np.searchsorted(terms.run, np.arange(len(bench.runs) + 1)),
            base=emulator.base,
            direct=_sparse(emulator.direct),
            shown=evidence.shown,
            scale=fit.linearised.scale,
            side=evidence.side,
            freedom=DEGREES_OF_FREEDOM,
        )

    @property
    def count(self) -> int:
        """Number of coordinates p."""
        return len(self._tables.centre)

    def coordinates(self, y: Array) -> Array:
        """Return the coordinates of a calibration, (p,)."""
        x, _ = coordinates_of(self._tables, np.asarray(y))
        return x

    def log_density(self, y: Array) -> tuple[float, Array]:
        """Return the logarithm of the posterior, but for a constant, and its gradient, (p,)."""
        gradient = np.zeros(self.count)
        return log_density(self._tables, np.asarray(y), gradient), gradient


def normal_of_heavy(heavy: Array) -> Array:
    """Return the standard normal that has the quantile of Student's t with 4 degrees of freedom."""
    from scipy.stats import norm, t

    return np.clip(norm.ppf(t.cdf(heavy, 4.0)), -FARTHEST, FARTHEST)


def _sparse(matrix: csr_array) -> Sparse:
    return Sparse(matrix.indptr.astype(np.intp), matrix.indices.astype(np.intp), matrix.data.astype(float))


def _root(precision: Array, coordinates: Coordinates) -> csr_array:
    """Return a root of the covariance, (p, p); eliminated inside out it is nearly empty."""
    from scipy.linalg import solve_triangular

    order = np.argsort([INSIDE_OUT.index(c.kind) for c in coordinates.listed], kind="stable")
    lower = np.linalg.cholesky(precision[np.ix_(order, order)])
    inverse = solve_triangular(lower, np.eye(len(lower)), lower=True)
    root = np.zeros_like(precision)
    root[order] = np.where(np.abs(inverse) > NOTHING, inverse, 0.0).T
    return csr_array(root)


def _pressures(root: csr_array, centre: Array, coordinates: Coordinates, runs: Sequence[Run]) -> Pressures:
    owners = sorted({c.owner for c in coordinates.listed if c.kind is Owner.CONTAINER})
    place = np.array([coordinates.place(Owner.CONTAINER, owner, PRESSURE) for owner in owners], dtype=np.intp)
    covariance = np.asarray((root @ root[place].T).todense()).T
    variance = covariance[np.arange(len(place)), place]
    own = np.zeros_like(covariance)
    for number, owner in enumerate(owners):
        names = [owner, *(run.name for run in runs if run.container == owner)]
        mine = [k for k, c in enumerate(coordinates.listed) if c.owner in names and c.kind in INSIDE_OUT[:2]]
        own[number, mine] = covariance[number, mine] / variance[number]
        own[number, place[number]] = 0.0
    quantiles = [_quantiles(float(centre[k]), 1.0 / v - 1.0) for k, v in zip(place, variance, strict=True)]
    return Pressures(place, centre[place], np.sqrt(variance), np.stack(quantiles), _sparse(csr_array(own)))


def _quantiles(peak: float, told: float) -> Array:
    """Return cubic pieces of a pressure's standard normal over the standard normal of its quantile, (q, 4)."""
    from scipy.interpolate import CubicSpline, PchipInterpolator
    from scipy.special import ndtri_exp

    z = np.linspace(-REACH - 2.0, REACH + 2.0, POINTS)
    logarithm = log_marginal(z, peak, max(told, 0.0))
    is_near = logarithm > logarithm.max() - FAR_DOWN
    z, logarithm = z[is_near], logarithm[is_near]
    below, above = (np.logaddexp.accumulate(side) for side in (logarithm, logarithm[::-1]))
    # Half of the weight at a point lies on either side of it.
    half = logarithm - np.log(2.0)
    below, above = (side + np.log1p(-np.exp(half - side)) for side in (below, above[::-1]))
    whole = np.logaddexp(below[-1], half[-1])
    standard = np.where(below < above, ndtri_exp(below - whole), -ndtri_exp(above - whole))
    at = np.linspace(-REACH, REACH, 2 * REACH * PIECES + 1)
    found = PchipInterpolator(standard, z)(at)
    return np.ascontiguousarray(CubicSpline(at, found, bc_type="natural").c.T)
