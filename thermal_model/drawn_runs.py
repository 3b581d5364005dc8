"""A run in a sample of what is not known: crossing times and last temperature of every draw, not quantiles alone."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.container import Container
from geometries.numeric import Array
from thermal_model.assemble.build import assemble
from thermal_model.prediction import DEFAULT_HORIZON, check_fill, check_limits, reachable_limits
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome, integrate
from thermal_model.solver.network import CONTENTS
from thermal_model.solver.rates import contents_temperature
from thermal_model.solver.steppers import stepper_for
from thermal_model.uncertainty import Belief, draw_sample


@dataclass(frozen=True)
class DrawnRuns:
    """A best guess and n draws.

    Attributes
    ----------
    crossing_times : (m, 1 + n) array
        Time to each of m limits, the best guess first; infinite where the limit is not reached. [s]
    final_temperatures : (1 + n,) array
        Of the contents at the end: at the horizon where a limit is not reached, or there is none. [K]
    failed : int
        Draws left out.
    """

    crossing_times: Array
    final_temperatures: Array
    failed: int

    @property
    def draws(self) -> int:
        """Number of draws n."""
        return len(self.final_temperatures) - 1


def drawn_runs(
    container: Container,
    scenario: Scenario,
    limits: Sequence[float],
    *,
    draws: int,
    seed: int,
    horizon: float = DEFAULT_HORIZON,
    belief: Belief | None = None,
    progress: Callable[[float], None] | None = None,
) -> DrawnRuns:
    """Run a scenario in a sample until the last limit is crossed, or to the horizon.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limits : sequence of float
        None to follow every draw to the horizon. [K]
    draws : int
    seed : int
    horizon : float
        [s]
    belief : Belief, optional
    progress : callable, optional
        Called with the share of the horizon that is done.

    Raises
    ------
    InputError
        As `predict`.
    """
    check_fill(container, scenario)
    if limits:
        check_limits(scenario, limits, can_evaporate=container.lid is None or bool(scenario.openings))
    sample = draw_sample(container, scenario, draws, seed, belief=belief)
    network = assemble(sample.container, sample.scenario, sample.unknowns, lanes=sample.lanes)
    levels = reachable_limits(sample.container, sample.scenario, limits, sample.lanes) if limits else None
    never = np.full((1, sample.lanes), np.nan)
    trajectory = integrate(
        network,
        never if levels is None else levels,
        horizon / sample.stretch,
        stepper=stepper_for(sample.lanes),
        progress=progress,
    )
    is_good = trajectory.outcome != Outcome.FAILED
    temperatures = np.asarray(contents_temperature(network.contents, trajectory.final_state[CONTENTS]))
    times = (trajectory.crossing_times * sample.stretch)[:, is_good]
    return DrawnRuns(_infinite(times), temperatures[is_good], int((~is_good).sum()))


def _infinite(times: Array) -> Array:
    return np.where(np.isnan(times), np.inf, times)


def share(holds: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Return the share of draws for which something holds, with the 95 % interval of the sample's size.

    References
    ----------
    .. [1] Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212.

    Examples
    --------
    >>> [round(x, 3) for x in share(np.array([True] * 95 + [False] * 5))]
    [0.95, 0.888, 0.978]
    """
    from scipy.stats import binomtest

    result = binomtest(int(holds.sum()), len(holds))
    interval = result.proportion_ci(0.95, method="wilson")
    return float(result.statistic), float(interval.low), float(interval.high)
