"""The most probable values of everything unknown, and how well they are known.

Gauss-Newton with the engine's own derivatives: SciPy's trust region solves the robust problem about a linearised
model, the engine says what is true where it went, and derivatives are taken anew only where they have changed.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array

from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import Coordinates
from thermal_model.bench.calibration.likelihood import (
    Displays,
    Evidence,
    Linearised,
    gather_evidence,
    network_normals,
)
from thermal_model.bench.calibration.optimiser import least_squares
from thermal_model.bench.calibration.response import ResponseModel
from thermal_model.bench.records import Bench

MOST_ROUNDS = 25

SMALL_GAIN = 0.05
"""Gain in the logarithm of the posterior that is no longer worth a step: a third of one standard deviation. [-]"""

STRAIGHT = 0.3
"""Root mean square by which the linearised model may miss, in units of the noise, before derivatives are renewed."""

INNER_TOLERANCE = 1e-8

ShareDone = Callable[[float], None]


class Problem:
    """A bench as a least-squares problem: evidence, and the model of what displays show.

    Parameters
    ----------
    bench : Bench
    refinement : int
        Multiplies the cells along walls and in the lid.

    Raises
    ------
    InputError
        If there is nothing to fit.
    """

    def __init__(self, bench: Bench, refinement: int = 1) -> None:
        self.bench = bench
        self.coordinates = Coordinates.of_bench(bench)
        self.evidence, watched = gather_evidence(bench)
        if not np.any(self.evidence.run >= 0):
            raise InputError(f"{bench.name}: no run has a reading or a passed mark; nothing can be calibrated")
        self.model = ResponseModel(watched, refinement)
        self.displays = Displays(bench, self.coordinates, self.evidence)

    def linearised(self, x: Array, progress: ShareDone | None = None) -> Linearised:
        """Return what displays would show about a point, with derivatives."""
        responses = self.model.with_derivatives(network_normals(self.bench, self.coordinates, x), progress=progress)
        return self.displays.linearised(responses, x)

    def predicted(self, x: Array) -> Linearised:
        """Return what displays would show at a point; the derivatives are those by offsets and rates only."""
        responses = self.model.values(network_normals(self.bench, self.coordinates, x))
        return self.displays.linearised(responses, x, with_matrix=False)


@dataclass(frozen=True)
class Fit:
    """The most probable point of the posterior, and the normal distribution about it.

    Attributes
    ----------
    problem : Problem
    x : (p,) array
        Standard normals of all coordinates.
    covariance : (p, p) array
        Of the normal distribution with the posterior's curvature at `x` (Laplace).
    linearised : Linearised
        The model about `x`.
    converged : bool
    rounds : int
        Times the engine was asked.
    """

    problem: Problem
    x: Array
    covariance: Array
    linearised: Linearised
    converged: bool
    rounds: int

    @property
    def coordinates(self) -> Coordinates:
        """What `x` lists."""
        return self.problem.coordinates

    @property
    def evidence(self) -> Evidence:
        """What was fitted."""
        return self.problem.evidence

    @property
    def weights(self) -> Array:
        """What each piece of evidence counts, (m,); see `Linearised.weights`."""
        return self.linearised.weights(self.x)

    def standard_deviation(self, place: int) -> float:
        """Return how well a coordinate is known, in standard deviations of its prior."""
        return float(np.sqrt(self.covariance[place, place]))

    def information_of(self, rows: Array) -> Array:
        """Return what some pieces of evidence tell, (p, p)."""
        return information(self.linearised, self.x, rows)


def fit(bench: Bench, *, refinement: int = 1, progress: ShareDone | None = None) -> Fit:
    """Fit everything unknown about a bench to all its evidence at once.

    Parameters
    ----------
    bench : Bench
    refinement : int
        Multiplies the cells along walls and in the lid.
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If there is nothing to fit, or the model can't follow the runs even at its best guess.
    """
    problem = Problem(bench, refinement)
    here = problem.linearised(np.zeros(problem.coordinates.count), _part(progress, 0.0, 0.4))
    if not np.all(np.isfinite(here.predicted)):
        first = int(problem.evidence.run[~np.isfinite(here.predicted)].min())
        raise InputError(f"run {bench.runs[first].name}: the model can't follow it; check its description")
    return _search(problem, here, progress)


def _search(problem: Problem, here: Linearised, progress: ShareDone | None) -> Fit:
    """Go to the optimum of the linearised model, see what is true there, and again until nothing is gained."""
    is_fresh, converged, rounds = True, False, 1
    loss = _loss(here, here.at)
    target = _optimum(here)
    while rounds < MOST_ROUNDS and not converged:
        rounds += 1
        hoped = loss - _loss(here, target)
        if hoped > SMALL_GAIN:
            exact, after = _descend(problem, here, target, loss)
            missed = _root_mean_square((exact.predicted - here.shown_at(exact.at)) / exact.scale)
            is_poor = loss - after < 0.5 * hoped or missed > STRAIGHT
            is_stuck = is_fresh and after >= loss
            here, loss = here.moved(exact), after
            if is_stuck:
                break
        if hoped <= SMALL_GAIN or is_poor:
            here = problem.linearised(here.at, _part(progress, 0.4, 0.9))
            loss = _loss(here, here.at)
        is_fresh = hoped <= SMALL_GAIN or is_poor
        target = _optimum(here)
        converged = is_fresh and loss - _loss(here, target) <= SMALL_GAIN
    if progress is not None:
        progress(1.0)
    here = replace(here, at=target, predicted=here.shown_at(target)) if converged else here
    return Fit(problem, here.at, laplace_covariance(here, here.at), here, converged, rounds)


def _descend(problem: Problem, here: Linearised, target: Array, loss: float) -> tuple[Linearised, float]:
    """Return where on the way to a target the loss is less, and the loss; where it came from if it is nowhere."""
    share = 1.0
    while share > 0.05:
        exact = problem.predicted(here.at + share * (target - here.at))
        trial = _loss(exact, exact.at)
        if trial < loss:
            return exact, trial
        share *= 0.4
    return problem.predicted(here.at), loss


def _part(progress: ShareDone | None, begin: float, end: float) -> ShareDone | None:
    if progress is None:
        return None
    return lambda share: progress(begin + (end - begin) * share)


def _root_mean_square(values: Array) -> float:
    return float(np.sqrt(np.mean(np.clip(np.nan_to_num(values, nan=1e3), -1e3, 1e3) ** 2)))


def _loss(here: Linearised, x: Array) -> float:
    """Return minus the logarithm of the posterior, but for a constant; infinite where the model could not follow."""
    residuals, prior = here.residuals(x), here.prior_residuals(x)
    value = 0.5 * float(residuals @ residuals + prior @ prior)
    return value if np.isfinite(value) else np.inf


def _optimum(here: Linearised) -> Array:
    """Return the most probable point of a linearised model.

    The unknowns are turned so that the problem is round, which is what an iterative solver likes.
    """
    root = np.linalg.cholesky(laplace_covariance(here, here.at))
    turned = here.matrix @ root

    def residuals(y: Array) -> Array:
        x = here.at + root @ y
        return np.concatenate([here.residuals(x), here.prior_residuals(x)])

    def jacobian(y: Array) -> Array:
        x = here.at + root @ y
        return np.concatenate([here.residual_factor(x)[:, None] * turned, here.prior_slopes(x)[:, None] * root])

    found = least_squares(residuals, jacobian, np.zeros(len(root)), tolerance=INNER_TOLERANCE)
    return here.at + root @ found.x


def information(here: Linearised, x: Array, rows: Array | None = None) -> Array:
    """Return what evidence tells about the coordinates at a point, (p, p), the prior left out."""
    matrix, weights, scale = here.matrix, here.weights(x), here.scale
    if rows is not None:
        matrix, weights, scale = csr_array(matrix[rows]), weights[rows], scale[rows]
    weighted = csr_array(matrix.multiply((np.sqrt(weights) / scale)[:, None]))
    return np.asarray((weighted.T @ weighted).todense())


def laplace_covariance(here: Linearised, x: Array) -> Array:
    """Return the covariance of the normal distribution with the posterior's curvature at a point, (p, p)."""
    curvature = information(here, x) + np.diag(here.prior_precision(x))
    return symmetric_inverse(curvature)


def symmetric_inverse(matrix: Array) -> Array:
    """Return the inverse of a symmetric positive definite matrix, exactly symmetric."""
    from scipy.linalg import cho_factor, cho_solve

    inverse = cho_solve(cho_factor(matrix), np.eye(len(matrix)))
    return 0.5 * (inverse + inverse.T)
