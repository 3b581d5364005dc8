"""What may have gone wrong in a run, and how probable each explanation is.

A run went well, or one of a few named things happened that makes some of its effects much larger than usual. Which of
them it was is not known; it is summed over. Given the explanations of all runs, the effects are nearly normal, so that
the probability of every combination follows from linear algebra, everything else integrated over.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import (
    EFFECTS,
    PLACEMENT,
    PLACEMENT_SPREAD,
    RATE_LEVEL,
    RATE_SPREAD,
    RATE_TILT,
    Coordinates,
)
from thermal_model.bench.calibration.response import start_spread
from thermal_model.bench.records import Run
from thermal_model.solver.scatter import Indices

START_FAULT, PLACEMENT_FAULT = 5.0, 2.0
"""What a container that was not soaked takes from the contents, and a probe at the wall shows less [K]; judgement, no
source."""

LEVEL_FAULT, TILT_FAULT = 0.15, 0.05
"""What a lid not seated, a draught or a warm place do to the rate of cooling, and how that turns over a run [-]; the
same."""


@dataclass(frozen=True)
class Explanation:
    """How a run may have gone.

    Attributes
    ----------
    name : str
    share : float
        Of runs, before any reading; judgement, no source. [-]
    widens : tuple of str
        Members of EFFECTS.
    """

    name: str
    share: float
    widens: tuple[str, ...]


EXPLANATIONS = (
    Explanation("good", 0.91, ()),
    Explanation("rate", 0.04, (RATE_LEVEL, RATE_TILT)),
    Explanation("start", 0.02, ("start",)),
    Explanation("placement", 0.02, (PLACEMENT,)),
    Explanation("several", 0.01, EFFECTS),
)
GOOD, SEVERAL = 0, len(EXPLANATIONS) - 1
SHARES = np.array([one.share for one in EXPLANATIONS])

SWEEPS, UNUSED_SWEEPS = 200, 20
"""Times that every run's explanation is drawn anew, given those of the others, and how many of them are not used."""


def effect_widths(runs: Sequence[Run]) -> Array:
    """Return the standard deviations of EFFECTS of r runs under each of s explanations, in usual sizes, (r, s, 4)."""
    widths = np.ones((len(runs), len(EXPLANATIONS), len(EFFECTS)))
    for row, run in zip(widths, runs, strict=True):
        sizes = {
            "start": START_FAULT / start_spread(run),
            RATE_LEVEL: LEVEL_FAULT / RATE_SPREAD,
            RATE_TILT: TILT_FAULT / RATE_SPREAD,
            PLACEMENT: PLACEMENT_FAULT / PLACEMENT_SPREAD,
        }
        for number, explanation in enumerate(EXPLANATIONS):
            for name in explanation.widens:
                row[number, EFFECTS.index(name)] = np.hypot(1.0, sizes[name])
    return widths


def widths_of(coordinates: Coordinates, runs: Sequence[Run], explained: Indices) -> Array:
    """Return the standard deviations of all coordinates before any reading, (p,), where runs went as is given."""
    widths = np.ones(coordinates.count)
    widths[coordinates.effect_places(runs)] = effect_widths(runs)[np.arange(len(runs)), explained]
    return widths


@dataclass(frozen=True)
class Explained:
    """What the effects of runs say of how the runs went.

    Attributes
    ----------
    best : (r,) int array
        The most probable explanations together.
    probabilities : (r, s) array
        Of each run's, those of the others summed over.
    mean, covariance : (4 r,), (4 r, 4 r) arrays
        Of the effects, run by run, over all explanations.
    """

    best: Indices
    probabilities: Array
    mean: Array
    covariance: Array


def explained(mean: Array, covariance: Array, widths: Array, assumed: Indices) -> Explained:
    """Return how the runs probably went.

    Parameters
    ----------
    mean, covariance : (4 r,), (4 r, 4 r) arrays
        Of the effects, everything else integrated over, if the runs went as assumed.
    widths : (r, s, 4) array
        See `effect_widths`.
    assumed : (r,) int array
    """
    state = _State(mean, covariance, widths, assumed)
    while True:
        gains = np.stack([state.gains_of(number) for number in range(len(assumed))])
        run, better = np.unravel_index(np.argmax(gains), gains.shape)
        if gains[run, better] <= 0.0:
            break
        state.change(int(run), int(better))
    return _averaged(state)


def _averaged(state: "_State") -> Explained:
    """Return the mean over combinations of explanations, drawn run by run (Gibbs); the same each time."""
    generator, best = np.random.default_rng(1), state.explained.copy()
    probabilities = np.zeros(state.widths.shape[:2])
    mean = np.zeros_like(state.mean)
    squares, within = np.zeros_like(state.covariance), np.zeros_like(state.covariance)
    for sweep in range(SWEEPS):
        for run in range(len(best)):
            gains = state.gains_of(run)
            chances = np.exp(gains - gains.max())
            chances /= chances.sum()
            drawn = int(np.searchsorted(np.cumsum(chances), generator.random() * (1.0 - 1e-12)))
            if drawn != state.explained[run]:
                state.change(run, drawn)
            if sweep >= UNUSED_SWEEPS:
                probabilities[run] += chances
        if sweep >= UNUSED_SWEEPS:
            mean, within = mean + state.mean, within + state.covariance
            squares = squares + np.outer(state.mean, state.mean)
    count = SWEEPS - UNUSED_SWEEPS
    mean = mean / count
    return Explained(best, probabilities / count, mean, (within + squares) / count - np.outer(mean, mean))


class _State:
    """The effects of all runs if these went as is now believed, and what another belief of one run would gain."""

    def __init__(self, mean: Array, covariance: Array, widths: Array, explained: Indices) -> None:
        self.mean, self.covariance = mean.copy(), covariance.copy()
        self.widths, self.explained = widths, explained.copy()

    def _block(self, run: int) -> slice:
        return slice(run * len(EFFECTS), (run + 1) * len(EFFECTS))

    def gains_of(self, run: int) -> Array:
        """Return the change of the logarithm of the probability by each change of a run, (s,)."""
        here, now = self._block(run), self.explained[run]
        added = self.widths[run] ** -2.0 - self.widths[run, now] ** -2.0
        turned = np.eye(len(EFFECTS)) + self.covariance[here, here] * added[:, None, :]
        mean = self.mean[here]
        pulled = np.linalg.solve(turned, np.broadcast_to(mean, added.shape)[..., None])[..., 0]
        volume = np.linalg.slogdet(turned)[1]
        prior = np.log(SHARES) - np.sum(np.log(self.widths[run]), axis=-1)
        gains = prior - 0.5 * volume - 0.5 * np.sum(added * mean * pulled, axis=-1)
        return np.asarray(gains - gains[now])

    def change(self, run: int, explanation: int) -> None:
        """Believe another explanation of one run."""
        here, now = self._block(run), self.explained[run]
        added = self.widths[run, explanation] ** -2.0 - self.widths[run, now] ** -2.0
        turned = np.eye(len(EFFECTS)) + self.covariance[here, here] * added
        gain = self.covariance[:, here] * added @ np.linalg.inv(turned)
        self.mean = self.mean - gain @ self.mean[here]
        changed = self.covariance - gain @ self.covariance[here]
        self.covariance = 0.5 * (changed + changed.T)
        self.explained[run] = explanation
