"""Leave one run out: how well the others predict it, and whether the interval holds what it says.

The fit without a run follows from the fit with it by linear algebra; the engine then runs at that point, so that the
prediction itself is exact.
"""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import Owner
from thermal_model.bench.calibration.fit import NORMAL_90, Fit


@dataclass(frozen=True)
class LeftOut:
    """A run as predicted from all others.

    Attributes
    ----------
    run, container : str
    others : int
        Runs of the same container among the others.
    last_time : float
        Of the last reading or passed mark. [s]
    shown : float
        What the thermometer showed there. [K]
    error : float
        Predicted less shown, there. [K]
    deviation : float
        Standard deviation that was claimed for it, noise included. [K]
    time_error : float
        The same as an error of the time to get there, relative.
    time_deviation : float
        Relative standard deviation that was claimed for it.
    covered : float
        Share of the run's readings inside their 90 % intervals.
    """

    run: str
    container: str
    others: int
    last_time: float
    shown: float
    error: float
    deviation: float
    time_error: float
    time_deviation: float
    covered: float

    @property
    def is_inside(self) -> bool:
        """Whether the last reading lies inside its 90 % interval."""
        return abs(self.error) <= NORMAL_90 * self.deviation


@dataclass(frozen=True)
class Validation:
    """Leave-one-run-out over a bench.

    Attributes
    ----------
    runs : tuple of LeftOut
    """

    runs: tuple[LeftOut, ...]

    @property
    def median_time_error(self) -> float:
        """Median of the size of the relative errors of time."""
        return float(np.median([abs(item.time_error) for item in self.runs])) if self.runs else float("nan")

    @property
    def inside(self) -> float:
        """Share of runs whose last reading lies inside its 90 % interval."""
        return float(np.mean([item.is_inside for item in self.runs])) if self.runs else float("nan")

    @property
    def covered(self) -> float:
        """Mean share of a run's readings inside theirs."""
        return float(np.mean([item.covered for item in self.runs])) if self.runs else float("nan")


def leave_one_out(fit: Fit) -> Validation:
    """Predict every run from all the others; one that only passed marks, or did not, has no value to predict."""
    evidence, problem = fit.evidence, fit.problem
    numbers = np.unique(evidence.run[(evidence.side == 0) & (evidence.run >= 0)])
    if not numbers.size:
        return Validation(())
    without = [_without(fit, number) for number in numbers.tolist()]
    normals = [problem.network.normals(x)[number] for number, (x, _) in zip(numbers, without, strict=True)]
    responses = problem.model.lanes(numbers, np.stack(normals))
    found = []
    for number, (x, covariance), response in zip(numbers.tolist(), without, responses, strict=True):
        rows = evidence.of_run(number)
        moment = evidence.moment[rows]
        slope = response.slope[moment]
        predicted = response.temperature[moment] + problem.displays.direct(slope, rows) @ x
        found.append(_left_out(fit, number, predicted, slope, np.diag(covariance)))
    return Validation(tuple(found))


def _without(fit: Fit, number: int) -> tuple[Array, Array]:
    """Return the optimum without a run, (p,), and the covariance of its rows' predictions, (k, k)."""
    rows = fit.evidence.of_run(number)
    here = fit.linearised
    matrix = here.matrix[rows].toarray()
    scale, weights = here.scale[rows], np.maximum(fit.weights[rows], 1e-9)
    pull = here.residuals(fit.x)[rows] * here.residual_factor(fit.x)[rows]
    spread = fit.covariance @ matrix.T
    known = matrix @ spread
    # Woodbury: taking information away is adding information of the other sign.
    gain = np.linalg.solve(np.diag(scale**2 / weights) - known, known)
    shift = spread @ (pull + gain @ pull)
    x = fit.x + shift
    own = fit.coordinates.places_of(Owner.RUN, fit.problem.bench.runs[number].name)
    x[own] = 0.0
    # What the run had of its own is as unknown as before, where nothing goes wrong.
    fresh = matrix[:, own]
    others = np.setdiff1d(np.arange(len(x)), own)
    return x, matrix[:, others] @ (spread + spread @ gain)[others] + fresh @ fresh.T


def _left_out(fit: Fit, number: int, predicted: Array, slope: Array, variance: Array) -> LeftOut:
    bench, evidence = fit.problem.bench, fit.evidence
    rows = evidence.of_run(number)
    noise = evidence.display_variance[rows] + slope**2 * evidence.time_variance[rows]
    deviation = np.sqrt(np.maximum(variance, 0.0) + noise)
    error = predicted - evidence.shown[rows]
    is_value = evidence.side[rows] == 0
    last = np.flatnonzero(is_value)[np.argmax(evidence.time[rows][is_value])]
    run = bench.runs[number]
    time = float(evidence.time[rows][last])
    by_time = np.abs(slope[last]) * max(time, 1.0)
    return LeftOut(
        run=run.name,
        container=run.container,
        others=sum(other.container == run.container for other in bench.runs) - 1,
        last_time=time,
        shown=float(evidence.shown[rows][last]),
        error=float(error[last]),
        deviation=float(deviation[last]),
        time_error=float(error[last] / max(by_time, 1e-6)),
        time_deviation=float(deviation[last] / max(by_time, 1e-6)),
        covered=float(np.mean(np.abs(error[is_value]) <= NORMAL_90 * deviation[is_value])),
    )
