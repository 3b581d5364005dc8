"""How much the hold time of one container differs from run to run, as far as a design can say without a run."""

import numpy as np

from geometries.container import Container
from thermal_model.decide.repeats import Repeatability
from thermal_model.decide.slopes import CENTRE, PASSING, log_hold_time
from thermal_model.scenario import Scenario

LID_SEATING = 0.02
"""Spread of log hold time from how the lid seats each time [-]; judgement, no source: a reduced bench measures it."""


def expected_repeatability(container: Container, scenario: Scenario, limit: float) -> Repeatability:
    """Return what fill, start, room and the lid's seating do to a hold time, in quadrature.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limit : float
        [K]

    Notes
    -----
    Fill and start are each run's own; the room is the day's, and alike for containers side by side.

    Raises
    ------
    InputError
        As `log_hold_time`.
    """
    _, _, passing = log_hold_time(container, scenario, limit, CENTRE)
    effect = dict(zip(PASSING, passing.tolist(), strict=True))
    return Repeatability(float(np.linalg.norm([effect["fill"], effect["start"], LID_SEATING])), abs(effect["room"]))
