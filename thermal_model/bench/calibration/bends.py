"""Curved valleys of a posterior, made straight for a sampler.

A bench knows a sum of losses well, each of them hardly: where one loss is taken for larger, another is smaller, and
since each goes as the exponential of its unknown, the valley of equal sums is curved. What the readings know well
follows the products of what they hardly know, by one step of Newton's method in the second order of the emulator.
"""

from collections.abc import Sequence
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import EFFECTS, Owner
from thermal_model.bench.calibration.density_kernel import Bends, Sparse
from thermal_model.bench.calibration.effects import ToldOfEffects
from thermal_model.bench.calibration.emulator import CONSTANT, EXPONENTIAL, Emulator
from thermal_model.solver.scatter import Indices

HARDLY_KNOWN = 0.4
"""Share of its width before any reading from which on an unknown counts as hardly known. [-]"""

LEAST_BEND = 0.1
"""A bend by less than this, in standard deviations of what follows, is left out. [-]"""


def bends_of(emulator: Emulator, told: Sequence[ToldOfEffects], precision: Array) -> Bends:
    """Return how what is known well follows what is not, container by container.

    Parameters
    ----------
    emulator : Emulator
    told : sequence of ToldOfEffects
        Of each run.
    precision : (p, p) array
        Of the normal distribution about the most probable point, the effects of runs integrated over.
    """
    coordinates = emulator.fit.coordinates
    owners = sorted({c.owner for c in coordinates.listed if c.kind is Owner.CONTAINER})
    found = [_bends_of_container(emulator, told, precision, owner) for owner in owners]
    pairs = [pair for of_container, _ in found for pair in of_container]
    first, second = np.array(pairs, dtype=np.intp).reshape(-1, 2).T.copy()
    x, rates = emulator.fit.x, coordinates.growth
    follow = sparse(csr_array(np.concatenate([moved for _, moved in found])))
    return Bends(first, second, x[first], x[second], rates[first], rates[second], follow)


def sparse(matrix: csr_array) -> Sparse:
    """Return a matrix for compiled loops."""
    return Sparse(matrix.indptr.astype(np.intp), matrix.indices.astype(np.intp), matrix.data.astype(float))


def _bends_of_container(
    emulator: Emulator, told: Sequence[ToldOfEffects], precision: Array, owner: str
) -> tuple[list[tuple[int, int]], Array]:
    """Return pairs of coordinates, and how everything moves with their product, (f, p)."""
    fit = emulator.fit
    numbers = [n for n, run in enumerate(fit.problem.bench.runs) if run.container == owner]
    mine, common = fit.coordinates.places_of(Owner.CONTAINER, owner), fit.coordinates.places_of(Owner.COMMON)
    deviation = np.sqrt(np.diag(fit.covariance))
    is_told = np.diag(precision) > 1.0 + LEAST_BEND
    own = [k for k in mine if is_told[k] and (deviation[k] > HARDLY_KNOWN or fit.coordinates.growth[k] > 0.0)]
    of_runs = [k for n in numbers for k in fit.coordinates.places_of(Owner.RUN, fit.problem.bench.runs[n].name)]
    of_its_runs = [k for k in of_runs if fit.coordinates.listed[k].name not in EFFECTS]
    loose = np.array([*own, *(k for k in (*common, *of_its_runs) if is_told[k])], dtype=np.intp)
    following = np.array([k for k in mine if k not in loose], dtype=np.intp)
    if not len(loose) or not len(following):
        return [], np.empty((0, fit.coordinates.count))
    known = precision[np.ix_(following, following)]
    ways = np.zeros((fit.coordinates.count, len(loose)))
    ways[loose] = np.eye(len(loose))
    ways[following] = -np.linalg.solve(known, precision[np.ix_(following, loose)])
    pull = np.zeros((len(loose), len(loose), len(following)))
    by_logarithm = fit.coordinates.growth[loose] == 0.0
    for number in numbers:
        pull += _pull_of_run(emulator, told[number], number, ways, following, by_logarithm)
    newton = np.linalg.solve(known, pull.reshape(-1, len(following)).T)
    moved = -np.asarray(newton.T.reshape(pull.shape), dtype=float)
    return _kept(fit.coordinates.count, loose, following, moved, known, deviation)


def _kept(
    count: int, loose: Indices, following: Indices, moved: Array, known: Array, deviation: Array
) -> tuple[list[tuple[int, int]], Array]:
    pairs, rows = [], []
    for one, other in combinations_with_replacement(range(len(loose)), 2):
        move = moved[one, other] * (1.0 if one == other else 2.0)
        size = np.sqrt(move @ known @ move) * deviation[loose[one]] * deviation[loose[other]]
        if size > LEAST_BEND:
            row = np.zeros(count)
            row[following] = move
            pairs.append((int(loose[one]), int(loose[other])))
            rows.append(row)
    return pairs, np.reshape(rows, (len(rows), count))


def _pull_of_run(
    emulator: Emulator,
    told: ToldOfEffects,
    number: int,
    ways: Array,
    following: Indices,
    by_logarithm: NDArray[np.bool_],
) -> Array:
    """Return how the second order of a run along some ways pulls at what follows, (k, k, f)."""
    fit, terms = emulator.fit, emulator.terms
    rows, run = fit.evidence.of_run(number), fit.problem.bench.runs[number]
    local, places, slopes = fit.coordinates.network_slopes(run, fit.x)
    turn = np.zeros((CONSTANT, len(ways)))
    turn[local, places] = slopes
    along = turn @ ways
    count = terms.counts[number]
    first, second = terms.first[number, :count], terms.second[number, :count]
    is_square = (first != CONSTANT) & (second != CONSTANT)
    one, other = along[first[is_square]], along[second[is_square]]
    products = 0.5 * (one[:, :, None] * other[:, None, :] + other[:, :, None] * one[:, None, :])
    bent = np.tensordot(products, terms.coefficients[number, :count][is_square][:, : len(rows)], axes=(0, 0))
    # What counts by its factor bends where its logarithm moves straight; with a pressure its factor moves straight.
    linear = first[second == CONSTANT]
    straight = along[linear] * by_logarithm
    bending = 0.5 * EXPONENTIAL[linear][:, None, None] * straight[:, :, None] * straight[:, None, :]
    slopes_of_rows = terms.coefficients[number, :count][second == CONSTANT][:, : len(rows)]
    bent += np.tensordot(bending, slopes_of_rows, axes=(0, 0))
    matrix = fit.linearised.matrix[rows][:, following].toarray()
    flat = bent.reshape(-1, len(rows)).T
    return told.information(fit.explained.probabilities[number], flat, matrix).reshape(*bent.shape[:2], -1)
