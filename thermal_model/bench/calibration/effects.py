"""What the effects of one run probably are under each explanation of how it went, everything else known."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from geometries.numeric import Array
from thermal_model.bench.calibration.emulator import Emulator
from thermal_model.bench.calibration.likelihood import (
    DEGREES_OF_FREEDOM,
    robust_residuals,
    robust_slopes,
    robust_weights,
)
from thermal_model.bench.calibration.run_faults import effect_widths
from thermal_model.solver.scatter import Indices

MOST_STEPS = 100

SMALL_STEP = 1e-6
"""Of the effects, in usual sizes, below which the peak is found. [-]"""


@dataclass(frozen=True)
class ToldOfEffects:
    """The normal posterior of the effects of a run under each of s explanations, everything else known.

    Attributes
    ----------
    peak : (s, 4) array
    root : (s, 4, 4) array
        Upper triangular; times its transpose it is the covariance.
    follow : (k, s, 4) array
        How the peak moves with what rows show too little. [K-1]
    weights : (s, k) array
        What the rows count at the peak. [K-2]
    slopes : (k, 4) array
        Derivatives of the rows by the effects. [K]
    """

    peak: Array
    root: Array
    follow: Array
    weights: Array
    slopes: Array

    def information(self, chances: Array, left: Array, right: Array) -> Array:
        """Return what the rows tell about anything else, the effects integrated over, (a, b).

        Parameters
        ----------
        chances : (s,) array
            Of the explanations.
        left, right : (k, a), (k, b) arrays
            How the rows move with it. [K]
        """
        found = np.zeros((left.shape[1], right.shape[1]))
        for number, chance in enumerate(chances):
            left_over = right - self.slopes @ (self.follow[:, number].T @ right)
            found += chance * (left.T * self.weights[number]) @ left_over
        return found


@dataclass(frozen=True)
class EffectsOfRun:
    """The k rows of a run, linear in its four effects.

    Attributes
    ----------
    slopes : (k, 4) array
        Derivatives of the rows by the effects. [K]
    distance : (k,) array
        How far predictions are above what was shown where the effects are `at`, in units of the noise. [-]
    scale : (k,) array
        Of the noise. [K]
    side : (k,) int array
        As in `likelihood.Evidence`.
    at : (4,) array
        Effects in usual sizes. [-]
    widths : (s, 4) array
        Of the effects under each explanation, before any reading. [-]
    """

    slopes: Array
    distance: Array
    scale: Array
    side: Indices
    at: Array
    widths: Array

    def posterior(self) -> ToldOfEffects:
        """Return what the rows tell about the effects."""
        peak = self._peak()
        weights = robust_weights(self._distance(peak), self.side) / self.scale**2
        weighted = self.slopes.T * weights[:, None, :]
        precision = weighted @ self.slopes + self._prior()
        root = np.swapaxes(np.linalg.inv(np.linalg.cholesky(precision)), -1, -2)
        follow = np.asarray(np.moveaxis(np.linalg.solve(precision, weighted), -1, 0), dtype=float)
        return ToldOfEffects(peak, root, follow, weights, self.slopes)

    def _prior(self) -> Array:
        return np.asarray(self.widths[:, :, None] ** -2.0 * np.eye(len(self.at)))

    def _distance(self, effects: Array) -> Array:
        return np.asarray(self.distance + (effects - self.at) @ self.slopes.T / self.scale)

    def _peak(self) -> Array:
        """Return the most probable effects under each explanation, (s, 4), from two starts.

        One is `at`, the other what they would be if no reading were an outlier.
        """
        usual = np.tile(self.at, (len(self.widths), 1))
        found = [self._rested(usual), self._rested(self._stepped(usual, robust=False))]
        is_second = self._loss(found[1]) < self._loss(found[0])
        return np.where(is_second[:, None], found[1], found[0])

    def _loss(self, effects: Array) -> Array:
        residuals = robust_residuals(self._distance(effects), self.side)
        return np.asarray(0.5 * (np.sum(residuals**2, axis=1) + np.sum((effects / self.widths) ** 2, axis=1)))

    def _rested(self, effects: Array) -> Array:
        """Return effects reweighted until they rest, (s, 4)."""
        for _ in range(MOST_STEPS):
            before, effects = effects, self._stepped(effects)
            if np.abs(effects - before).max() < SMALL_STEP:
                break
        return effects

    def _stepped(self, effects: Array, *, robust: bool = True) -> Array:
        """Return the lowest point of a parabola that touches the loss from above, (s, 4)."""
        distance, by_noise = self._distance(effects), self.slopes / self.scale[:, None]
        values = (DEGREES_OF_FREEDOM + 1.0) / (DEGREES_OF_FREEDOM + distance**2) if robust else np.ones_like(distance)
        weights = np.where(self.side == 0, values, 1.0)
        beyond = robust_residuals(distance, self.side) * robust_slopes(distance, self.side)
        pull = np.where(self.side == 0, weights * distance, beyond)
        curvature = (by_noise.T * weights[:, None, :]) @ by_noise + self._prior()
        slope = pull @ by_noise + effects * self.widths**-2.0
        return np.asarray(effects - np.linalg.solve(curvature, slope[..., None])[..., 0])


def effects_told(emulator: Emulator) -> list[ToldOfEffects]:
    """Return what the rows of each run tell about its effects, everything else as at the most probable point."""
    fit = emulator.fit
    runs, here = fit.problem.bench.runs, fit.linearised
    places, widths = fit.coordinates.effect_places(runs), effect_widths(runs)
    distance = (emulator.predicted(fit.x) - fit.evidence.shown) / here.scale
    told = []
    for number in range(len(runs)):
        rows = fit.evidence.of_run(number)
        slopes = here.matrix[rows][:, places[number]].toarray()
        effects = EffectsOfRun(
            slopes, distance[rows], here.scale[rows], fit.evidence.side[rows], fit.x[places[number]], widths[number]
        )
        told.append(effects.posterior())
    return told


def precision_without_effects(emulator: Emulator, told: list[ToldOfEffects]) -> Array:
    """Return the precision of all coordinates, (p, p), the effects of runs integrated over; those stand apart in it."""
    fit, here = emulator.fit, emulator.fit.linearised
    runs = fit.problem.bench.runs
    effects = fit.coordinates.effect_places(runs)
    precision = np.eye(fit.coordinates.count)
    for number, of_run in enumerate(told):
        matrix = csr_array(here.matrix[fit.evidence.of_run(number)])
        moved = np.setdiff1d(matrix.indices, effects)
        by_moved = matrix[:, moved].toarray()
        precision[np.ix_(moved, moved)] += of_run.information(fit.explained.probabilities[number], by_moved, by_moved)
    checks = np.flatnonzero(fit.evidence.run < 0)
    weighted = csr_array(here.matrix[checks].multiply((np.sqrt(fit.weights) / here.scale)[checks, None]))
    precision += (weighted.T @ weighted).toarray()
    return 0.5 * (precision + precision.T)
