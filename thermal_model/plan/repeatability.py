"""How much the hold time of one container differs from run to run, as far as a design can say without a run."""

from collections.abc import Sequence

import numpy as np

from geometries.container import Container
from geometries.numeric import Array
from thermal_model.gradients import CENTRE, LASTING, PASSING, log_hold_time
from thermal_model.plan.repeats import Repeatability
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import Belief

LID_SEATING = 0.02
"""Spread of log hold time from how the lid seats each time [-]; judgement, no source: a reduced bench measures it."""


def together(each: Sequence[Repeatability]) -> Repeatability:
    """Return the repeatability that counts where several containers are compared: the root mean square of theirs.

    Examples
    --------
    >>> together([Repeatability(0.03, 0.01), Repeatability(0.03, 0.01)])
    Repeatability(within_day=0.03, between_days=0.01)
    """
    within, between = (
        float(np.sqrt(np.mean(np.square(spreads))))
        for spreads in zip(*((one.within_day, one.between_days) for one in each), strict=True)
    )
    return Repeatability(within, between)


def expected_repeatability(
    container: Container,
    scenario: Scenario,
    limit: float,
    *,
    belief: Belief | None = None,
    seating: float | None = None,
) -> Repeatability:
    """Return what fill, start, room and the lid's seating do to a hold time, in quadrature.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limit : float
        [K]
    belief : Belief, optional
        What a calibration knows of the container.
    seating : float, optional
        Run-to-run standard deviation of the logarithm of what a lid's seat lets through, as a calibration found it;
        left out, LID_SEATING counts. [-]

    Notes
    -----
    Fill and start are each run's own; the room is the day's, and alike for containers side by side.

    Raises
    ------
    InputError
        As `log_hold_time`.
    """
    known = {} if belief is None else dict(zip(belief.names, belief.mean.tolist(), strict=True))
    _, lasting, passing = log_hold_time(container, scenario, limit, CENTRE | known)
    seat = LID_SEATING if seating is None else _of_seating(lasting, seating)
    effect = dict(zip(PASSING, passing.tolist(), strict=True))
    return Repeatability(float(np.linalg.norm([effect["fill"], effect["start"], seat])), abs(effect["room"]))


def _of_seating(lasting: Array, seating: float) -> float:
    from thermal_model.bench.calibration.posterior import seating_covariance

    return float(np.sqrt(lasting @ seating_covariance(LASTING, seating) @ lasting))
