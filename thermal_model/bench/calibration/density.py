"""What a sampler draws from: the posterior on the emulator, turned round.

The coordinates are turned round: in them the posterior is nearly a ball, and without readings a standard normal
distribution. How the runs went is summed over. A run's effects are counted from what they should be under each
explanation, given what its readings show without them: so the ball is nearly the same under all of them, no valley lies
between them, and it stays a ball where everything else bends what the readings show. The pressure of a gap is drawn by
the quantiles of its posterior, and what trades with it moves along.
"""

from collections.abc import Sequence

import numpy as np
from scipy.sparse import csr_array

from geometries.numeric import Array
from thermal_model.bench.calibration.bends import bends_of, sparse
from thermal_model.bench.calibration.coordinates import (
    EFFECTS,
    EMISSIVITY,
    NETWORK_NAMES,
    PRESSURE,
    SEATING,
    SEATING_WIDTH,
    TYPICAL_SEATING,
    Coordinates,
    Owner,
)
from thermal_model.bench.calibration.density_kernel import (
    LEAST_FACTOR,
    PIECES,
    REACH,
    Faults,
    Pressures,
    Seats,
    Tables,
    at_best,
    drawn,
    log_density,
)
from thermal_model.bench.calibration.effects import ToldOfEffects, effects_told, precision_without_effects
from thermal_model.bench.calibration.emulator import EXPONENTIAL, Emulator
from thermal_model.bench.calibration.fit import Fit
from thermal_model.bench.calibration.likelihood import DEGREES_OF_FREEDOM
from thermal_model.bench.calibration.run_faults import SHARES, effect_widths
from thermal_model.bench.calibration.vacuum import excess_pressure, log_marginal
from thermal_model.bench.records import Run
from thermal_model.solver.scatter import Indices
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
        centre = fit.x
        order = _inside_out(coordinates, np.sqrt(np.diag(fit.covariance)))
        told = effects_told(emulator)
        precision = precision_without_effects(emulator, told)
        root = _root(precision, order, fit)
        effects = coordinates.effect_places(bench.runs)
        network = coordinates.network_map(bench.runs)
        seated = [(effect, name) for effect, names in SEATING.items() for name in names]
        self._best = fit.explained.best
        self._tables = Tables(
            centre=centre,
            root=sparse(_without_rows(root, effects)),
            is_effect=np.isin(np.arange(len(centre)), effects),
            pressures=_pressures(root, precision, centre, coordinates, bench.runs),
            pressure_width=PRIORS[PRESSURE].width,
            bends=bends_of(emulator, told, precision),
            sat=_seats(coordinates, precision, root, order),
            faults=_faults(emulator, told, np.argsort(order)[effects]),
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
            offsets=sparse(_without(emulator.direct, effects)),
            shown=evidence.shown,
            scale=fit.linearised.scale,
            side=evidence.side,
            freedom=DEGREES_OF_FREEDOM,
        )

    @property
    def count(self) -> int:
        """Number of coordinates p."""
        return len(self._tables.centre)

    @property
    def runs(self) -> int:
        """Number of runs r."""
        return len(self._tables.places)

    def coordinates(self, y: Array) -> Array:
        """Return the coordinates of a calibration, (p,), if the runs went as is most probable."""
        return at_best(self._tables, np.asarray(y), self._best)

    def drawn(self, y: Array, chance: Array) -> tuple[Array, Indices]:
        """Return coordinates, (p,), and how the runs went, (r,), drawn by r numbers between 0 and 1."""
        return drawn(self._tables, np.asarray(y), chance)

    def log_density(self, y: Array) -> tuple[float, Array]:
        """Return the logarithm of the posterior, but for a constant, and its gradient, (p,)."""
        gradient = np.zeros(self.count)
        return log_density(self._tables, np.asarray(y), gradient), gradient


def _without(matrix: csr_array, places: Indices) -> csr_array:
    kept = ~np.isin(matrix.indices, places)
    rows = np.repeat(np.arange(matrix.shape[0]), np.diff(matrix.indptr))
    return csr_array((matrix.data[kept], (rows[kept], matrix.indices[kept])), shape=matrix.shape)


def _without_rows(matrix: csr_array, places: Indices) -> csr_array:
    return csr_array(_without(csr_array(matrix.T), places).T)


def _inside_out(coordinates: Coordinates, deviation: Array) -> Indices:
    """Return the places of all coordinates in the order in which they are eliminated: effects of runs first.

    Of a container what is known well goes first, so that it follows what is hardly known, and its pressure last.
    """

    def key(place: int) -> tuple[int, float]:
        c = coordinates.listed[place]
        if c.kind is Owner.RUN:
            within = float(c.name not in EFFECTS)
        elif c.kind is Owner.CONTAINER:
            within = np.inf if c.name == PRESSURE else float(deviation[place])
        else:
            within = 0.0
        return INSIDE_OUT.index(c.kind), within

    return np.array(sorted(range(coordinates.count), key=key), dtype=np.intp)


def _seats(coordinates: Coordinates, precision: Array, root: csr_array, order: Indices) -> Seats:
    """Return what is known of the seats of all runs."""
    place = np.array([k for k, c in enumerate(coordinates.listed) if c.name in SEATING], dtype=np.intp)
    rank = np.argsort(order)
    column = rank[place]
    deviation = np.asarray(root[place, column]).ravel()
    moves = np.zeros((len(place), coordinates.count))
    for number, seat in enumerate(place):
        run = coordinates.places_of(Owner.RUN, coordinates.listed[seat].owner)
        earlier = [k for k in run if rank[k] < column[number]]
        moves[number, earlier] = -np.linalg.solve(precision[np.ix_(earlier, earlier)], precision[earlier, seat])
    return Seats(place, column, deviation, deviation**-2.0 - 1.0, sparse(csr_array(moves)))


def _root(precision: Array, order: Indices, fit: Fit) -> csr_array:
    """Return a root of the covariance, (p, p); eliminated inside out it is nearly empty.

    What all containers share is as wide as over all explanations of the runs.
    """
    from scipy.linalg import solve_triangular

    lower = np.linalg.cholesky(precision[np.ix_(order, order)])
    inverse = solve_triangular(lower, np.eye(len(lower)), lower=True)
    shared = np.array([fit.coordinates.listed[k].kind in INSIDE_OUT[2:] for k in order], dtype=np.bool_)
    places = order[shared]
    wide = np.linalg.cholesky(fit.spread[np.ix_(places, places)][::-1, ::-1])[::-1, ::-1]
    inverse[shared] = wide.T @ np.linalg.solve(inverse[np.ix_(shared, shared)], inverse[shared])
    root = np.zeros_like(precision)
    root[order] = np.where(np.abs(inverse) > NOTHING, inverse, 0.0).T
    return csr_array(root)


def _faults(emulator: Emulator, told: list[ToldOfEffects], columns: Indices) -> Faults:
    """Return what the effects of runs are under each explanation."""
    fit, evidence = emulator.fit, emulator.fit.evidence
    runs = fit.problem.bench.runs
    places, widths = fit.coordinates.effect_places(runs), effect_widths(runs)
    follow = np.zeros((evidence.count, *widths.shape[1:]))
    by_effect, plain = np.zeros((evidence.count, len(EFFECTS) - 1)), emulator.predicted(fit.x)
    for number, of_run in enumerate(told):
        rows = evidence.of_run(number)
        follow[rows] = of_run.follow
        by_effect[rows] = emulator.direct[rows][:, places[number, 1:]].toarray()
        plain[rows] -= by_effect[rows] @ fit.x[places[number, 1:]]
    root = np.stack([of_run.root for of_run in told])
    volume = np.log(np.diagonal(root, axis1=-2, axis2=-1)).sum(axis=-1)
    return Faults(
        place=places,
        column=columns,
        peak=np.stack([of_run.peak for of_run in told]),
        root=root,
        follow=follow,
        plain=plain,
        logarithm=np.log(SHARES) - np.log(widths).sum(axis=-1) + volume,
        precision=widths**-2.0,
        by_effect=by_effect,
        start=NETWORK_NAMES.index("start"),
    )


def _pressures(
    root: csr_array, precision: Array, centre: Array, coordinates: Coordinates, runs: Sequence[Run]
) -> Pressures:
    owners = sorted({c.owner for c in coordinates.listed if c.kind is Owner.CONTAINER})
    place = np.array([coordinates.place(Owner.CONTAINER, owner, PRESSURE) for owner in owners], dtype=np.intp)
    variance = np.asarray(root.power(2).sum(axis=1))[place]
    own = np.zeros((len(owners), len(centre)))
    for number, owner in enumerate(owners):
        names = [owner, *(run.name for run in runs if run.container == owner)]
        mine = [k for k, c in enumerate(coordinates.listed) if c.owner in names and c.kind in INSIDE_OUT[:2]]
        mine.remove(int(place[number]))
        own[number, mine] = -np.linalg.solve(precision[np.ix_(mine, mine)], precision[mine, place[number]])
    partner = np.array([coordinates.place(Owner.CONTAINER, owner, EMISSIVITY) for owner in owners], dtype=np.intp)
    numbers = np.arange(len(owners))
    trade = own[numbers, partner]
    own[numbers, partner] = 0.0
    quantiles = [
        _quantiles(float(centre[k]), 1.0 / v - 1.0, float(centre[other]), float(moved))
        for k, v, other, moved in zip(place, variance, partner, trade, strict=True)
    ]
    return Pressures(
        place,
        centre[place],
        np.sqrt(variance),
        np.stack(quantiles),
        sparse(csr_array(own)),
        partner,
        centre[partner],
        trade,
        PRIORS[EMISSIVITY].width,
    )


def _by_partner(excess: Array, partner: float, trade: float) -> Array:
    """Return what it changes that the emissivity's factor, and not its logarithm, gives way to the pressure."""
    width = PRIORS[EMISSIVITY].width
    left = 1.0 + width * trade * excess
    logarithm = np.where(
        left > LEAST_FACTOR, np.log(np.maximum(left, LEAST_FACTOR)), np.log(LEAST_FACTOR) + left / LEAST_FACTOR - 1.0
    )
    straight, bent = partner + trade * excess, partner + logarithm / width
    return 0.5 * straight**2 - 0.5 * bent**2 - logarithm


def _quantiles(peak: float, told: float, partner: float, trade: float) -> Array:
    """Return cubic pieces of a pressure's standard normal over the standard normal of its quantile, (q, 4)."""
    from scipy.interpolate import CubicSpline, PchipInterpolator
    from scipy.special import ndtri_exp

    z = np.linspace(-REACH - 2.0, REACH + 2.0, POINTS)
    logarithm = log_marginal(z, peak, max(told, 0.0)) + _by_partner(excess_pressure(z, peak), partner, trade)
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
