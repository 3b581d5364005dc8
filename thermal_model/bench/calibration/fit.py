"""The most probable values of everything unknown, and how well they are known.

Gauss-Newton with the engine's own derivatives: SciPy's trust region solves the robust problem about a linearised
model, the engine says what is true where it went, and derivatives are taken anew only where they have changed.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.sparse import csr_array, diags_array, vstack

from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import Coordinates
from thermal_model.bench.calibration.likelihood import Displays, Evidence, Linearised, gather_evidence
from thermal_model.bench.calibration.optimiser import MANY, least_squares
from thermal_model.bench.calibration.response import ResponseModel
from thermal_model.bench.calibration.run_faults import SEVERAL, Explained, effect_widths, explained, widths_of
from thermal_model.bench.calibration.vacuum import with_vacuum
from thermal_model.bench.records import Bench
from thermal_model.solver.scatter import Indices
from thermal_model.work_done import ShareDone, part_of

NORMAL_90 = 1.6448536269514722
"""Standard deviations on either side that hold 90 % of a normal distribution."""

MOST_ROUNDS = 25

MOST_TRIALS = 5
"""How often the runs may be explained anew."""

SMALL_GAIN, SMALL_GAIN_EACH = 0.05, 1e-3
"""Gain in the logarithm of the posterior, and for each of its unknowns, that is no longer worth a step [-]: unknowns
are then off by 0.03 of their posterior's standard deviation, root mean square."""

STRAIGHT = 0.3
"""Root mean square by which the linearised model may miss, in units of the noise, before derivatives are renewed."""

NEARLY_STRAIGHT = 0.1
"""The same at the end of a fit."""

UNSEEN = 0.1
"""Runs are not asked whose readings are expected to miss by less, all of one run together [-]: a tenth of a reading's
noise in each of a hundred readings weighs as much as ten times the noise in one."""

INNER_TOLERANCE = 1e-6

BACK, MOST_HALVINGS = 0.4, 4
"""Share of a step that is kept where it led astray, and how often it is shortened."""


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
        self.network = self.coordinates.network_map(bench.runs)
        self.displays = Displays(bench, self.coordinates, self.evidence)

    def linearised(self, x: Array, runs: Indices, progress: ShareDone | None = None) -> Linearised:
        """Return what displays would show of some runs about a point, with derivatives."""
        responses = self.model.with_derivatives(self.network.normals(x), runs, progress=progress)
        return self.displays.linearised(dict(zip(runs.tolist(), responses, strict=True)), x)

    def predicted(self, x: Array, runs: Indices | None = None) -> Linearised:
        """Return what displays would show of all or some runs at a point; derivatives are by offsets and rates only."""
        runs = np.arange(len(self.bench.runs)) if runs is None else runs
        responses = self.model.lanes(runs, self.network.normals(x)[runs])
        return self.displays.linearised(dict(zip(runs.tolist(), responses, strict=True)), x)

    def renewed(self, here: Linearised, runs: Indices) -> Linearised:
        """Return a linearised model with the derivatives of some runs taken anew where it stands."""
        fresh = self.linearised(here.at, runs)
        is_new = np.isin(self.evidence.run, runs)
        kept = here.direct.multiply(~is_new[:, None])
        return replace(here, direct=csr_array(kept + fresh.direct.multiply(is_new[:, None])))

    def moved(self, here: Linearised, x: Array, runs: Indices) -> Linearised:
        """Return a linearised model about another point, where some runs are asked what is true, others believed."""
        fresh = self.predicted(x, runs)
        is_new = np.isin(self.evidence.run, runs)
        predicted = np.where(is_new, fresh.predicted, here.shown_at(x))
        return replace(here, at=x, predicted=predicted, scale=np.where(is_new, fresh.scale, here.scale))


@dataclass(frozen=True)
class Fit:
    """The most probable point of the posterior, and the normal distribution about it.

    Attributes
    ----------
    problem : Problem
    x : (p,) array
        Standard normals of all coordinates.
    covariance : (p, p) array
        Of the normal distribution with the posterior's curvature at `x` (Laplace), if runs went as is most probable.
    centre, spread : (p,), (p, p) arrays
        Mean and covariance of the posterior over all explanations of the runs, or of its sample.
    linearised : Linearised
        The model about `x`.
    explained : Explained
        How the runs went.
    ends : (2, p) array, optional
        Of the 90 % intervals, where the posterior was sampled; otherwise they follow from centre and spread.
    converged : bool
    """

    problem: Problem
    x: Array
    covariance: Array
    centre: Array
    spread: Array
    linearised: Linearised
    explained: Explained
    converged: bool
    ends: Array | None = None

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
        return float(np.sqrt(self.spread[place, place]))


def fit(bench: Bench, *, progress: ShareDone | None = None) -> Fit:
    """Fit everything unknown about a bench to all its evidence at once.

    Parameters
    ----------
    bench : Bench
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If there is nothing to fit, or the model can't follow the runs even at its best guess.
    """
    problem = Problem(bench)
    centre, all_runs = np.zeros(problem.coordinates.count), np.arange(len(bench.runs))
    here = problem.linearised(centre, all_runs, part_of(progress, 0.0, 0.4))
    if not np.all(np.isfinite(here.predicted)):
        first = int(problem.evidence.run[~np.isfinite(here.predicted)].min())
        raise InputError(f"run {bench.runs[first].name}: the model can't follow it; check its description")
    return _explained_fit(problem, here, progress)


def _explained_fit(problem: Problem, here: Linearised, progress: ShareDone | None) -> Fit:
    """Fit, at first as if anything might have gone wrong in every run, then as they most probably went."""
    assumed = np.full(len(problem.bench.runs), SEVERAL, dtype=np.intp)
    effects = problem.coordinates.effect_places(problem.bench.runs).ravel()
    widths = effect_widths(problem.bench.runs)
    for trial in range(MOST_TRIALS):
        here = replace(here, widths=widths_of(problem.coordinates, problem.bench.runs, assumed))
        done = part_of(progress, 0.4 + 0.5 * trial / MOST_TRIALS, 0.4 + 0.5 * (trial + 1) / MOST_TRIALS)
        here, converged = _search(problem, here, done)
        covariance = laplace_covariance(here)
        how = explained(here.at[effects], covariance[np.ix_(effects, effects)], widths, assumed)
        if np.array_equal(how.best, assumed):
            break
        if trial < MOST_TRIALS - 1:
            assumed = how.best
    else:
        converged = False
    if progress is not None:
        progress(1.0)
    # Over all explanations of the runs: everything else follows the effects.
    own = covariance[np.ix_(effects, effects)]
    follow = np.linalg.solve(own, covariance[effects]).T
    changed = covariance + follow @ (how.covariance - own) @ follow.T
    centre, spread = here.at + follow @ (how.mean - here.at[effects]), 0.5 * (changed + changed.T)
    centre, spread = with_vacuum(problem.coordinates, centre, spread)
    return Fit(problem, here.at, covariance, centre, spread, here, replace(how, best=assumed), converged)


def _search(problem: Problem, here: Linearised, progress: ShareDone | None) -> tuple[Linearised, bool]:
    """Go to the optimum of the linearised model, see what is true there, and again until nothing is gained.

    Derivatives are taken anew for the runs whose linearised model has missed by more than STRAIGHT since the last time.

    Returns
    -------
    The model about the optimum, and whether it came to rest there.
    """
    bend = _Bend(problem)
    loss, converged = _loss(here, here.at), False
    for _ in range(MOST_ROUNDS):
        target = _optimum(here)
        hoped, allowed = loss - _loss(here, target), STRAIGHT
        if hoped <= max(SMALL_GAIN, SMALL_GAIN_EACH * len(target)):
            converged, allowed = bool(np.all(bend.missed <= NEARLY_STRAIGHT)), NEARLY_STRAIGHT
            if converged:
                break
        else:
            here, after = _descend(problem, here, target, loss, bend)
            gained, loss = loss - after, after
            if gained < 0.3 * hoped:
                allowed = NEARLY_STRAIGHT if bend.missed.max() > NEARLY_STRAIGHT else -1.0
            if gained <= 0.0 and not bend.missed.any():
                break
        bent = np.flatnonzero(bend.missed > allowed)
        if len(bent):
            here, bend.missed[bent] = problem.renewed(here, bent), 0.0
    if progress is not None:
        progress(1.0)
    return replace(here, at=target, predicted=here.shown_at(target)) if converged else here, converged


class _Bend:
    """How far each run bends away from its linearised model; misses grow with the square of the way.

    Attributes
    ----------
    missed : (r,) array
        Since the derivatives were taken, root mean square in units of the noise. [-]
    """

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._rows = [problem.evidence.of_run(number) for number in range(len(problem.bench.runs))]
        self._curvature = np.full(len(self._rows), np.inf)
        self.missed = np.zeros(len(self._rows))

    def expected(self, here: Linearised, x: Array) -> Array:
        """Return by how much the runs will miss after a step, (r,); infinite where nothing is known yet."""
        way = self._way(here, x)
        return np.where(way > 0.0, self._curvature, 0.0) * way**2

    def asked(self, here: Linearised, x: Array) -> Indices:
        """Return the runs whose linearised model can't be believed at a point."""
        counts = np.array([len(rows) for rows in self._rows])
        return np.flatnonzero(counts * self.expected(here, x) > UNSEEN)

    def saw(self, here: Linearised, exact: Linearised, runs: Indices) -> Array:
        """Learn from the runs that were asked; return by how much each missed, (r,)."""
        error = (exact.predicted - here.shown_at(exact.at)) / exact.scale
        missed = self.expected(here, exact.at)
        missed[runs] = [_root_mean_square(error[self._rows[k]]) if len(self._rows[k]) else 0.0 for k in runs]
        self._curvature[runs] = missed[runs] / np.maximum(self._way(here, exact.at)[runs], 1e-6) ** 2
        return missed

    def _way(self, here: Linearised, x: Array) -> Array:
        normals = self._problem.network.normals
        return np.linalg.norm(normals(x) - normals(here.at), axis=1)


def _descend(problem: Problem, here: Linearised, target: Array, loss: float, bend: _Bend) -> tuple[Linearised, float]:
    """Return where on the way to a target the loss is less, and the loss; where it came from if it is nowhere."""
    share = 1.0
    for _ in range(MOST_HALVINGS):
        x = here.at + share * (target - here.at)
        asked = bend.asked(here, x)
        there = problem.moved(here, x, asked)
        missed = bend.saw(here, there, asked)
        trial = _loss(there, x)
        if trial < loss:
            bend.missed += missed
            return there, trial
        share *= BACK
    return here, loss


def _root_mean_square(values: Array) -> float:
    return float(np.sqrt(np.mean(np.clip(np.nan_to_num(values, nan=1e3), -1e3, 1e3) ** 2)))


def _loss(here: Linearised, x: Array) -> float:
    """Return minus the logarithm of the posterior, but for a constant; infinite where the model could not follow."""
    residuals, prior = here.residuals(x), x / here.widths
    value = 0.5 * float(residuals @ residuals + prior @ prior)
    return value if np.isfinite(value) else np.inf


def _optimum(here: Linearised) -> Array:
    """Return the most probable point of a linearised model; what no reading depends on stays where it is."""
    moving = spoken_of(here)

    def at(moved: Array) -> Array:
        x = here.at.copy()
        x[moving] = moved
        return x

    def residuals(moved: Array) -> Array:
        x = at(moved)
        return np.concatenate([here.residuals(x), (x / here.widths)[moving]])

    def jacobian(moved: Array) -> Any:
        x = at(moved)
        told = here.slopes_at(x)[:, moving].multiply(here.residual_factor(x)[:, None])
        whole = csr_array(vstack([told, diags_array(1.0 / here.widths[moving])]))
        return whole if len(moving) > MANY else whole.toarray()

    return at(least_squares(residuals, jacobian, here.at[moving], tolerance=INNER_TOLERANCE).x)


def spoken_of(here: Linearised) -> Indices:
    """Return the places of the coordinates that any reading depends on."""
    return np.flatnonzero(np.abs(here.direct).sum(axis=0) > 0.0)


def laplace_covariance(here: Linearised) -> Array:
    """Return the covariance of the normal distribution with the posterior's curvature where a model stands, (p, p)."""
    from scipy.linalg import cho_factor, cho_solve

    moving = spoken_of(here)
    covariance = np.diag(here.widths**2)
    matrix = csr_array(here.matrix[:, moving])
    weighted = csr_array(matrix.multiply((np.sqrt(here.weights(here.at)) / here.scale)[:, None]))
    curvature = np.asarray((weighted.T @ weighted).todense()) + np.diag(here.widths[moving] ** -2.0)
    inverse = cho_solve(cho_factor(curvature), np.eye(len(curvature)))
    covariance[np.ix_(moving, moving)] = 0.5 * (inverse + inverse.T)
    return covariance
