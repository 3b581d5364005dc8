"""Length of runs: the quantiles of a prediction, a margin, quarters of an hour."""

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.validation import validated
from thermal_model.plan.run_length import longest, reading_times, rounded_up, run_length
from thermal_model.prediction import predict
from thermal_model.scenario import Scenario

CUP = load_container("stoneware_cup")
RUN = validated(Scenario, {"fill": "200 mL"})


def test_quantiles_are_those_of_a_prediction():
    found = run_length(CUP, RUN, 323.15, draws=40, seed=3)
    hold = predict(CUP, RUN, [323.15], draws=40, seed=3).hold_times[0]
    assert (found.low, found.median, found.high) == pytest.approx((hold.low, hold.median, hold.high), rel=1e-7)
    assert found.length == rounded_up(1.1 * found.high)
    assert found.length % 900.0 == 0.0
    assert found.share_reached == 1.0


def test_a_limit_that_is_not_passed_has_no_length():
    found = run_length(CUP, RUN, 323.15, draws=20, seed=3, horizon=600.0)
    assert found.length is None
    assert found.high == np.inf
    assert longest([found]) is None


def test_side_by_side_the_longest_counts():
    one, other = (run_length(CUP, RUN, limit, draws=10, seed=1) for limit in (333.15, 313.15))
    assert longest([one, other]) == other.length > one.length


@pytest.mark.parametrize("length", [900.0, 3600.0, 8 * 3600.0, 3 * 86400.0])
def test_reading_times_rise_from_the_start_to_the_end(length):
    times = reading_times(length)
    assert np.all(np.diff(times) > 0.0)
    assert (times[0], times[-1]) == (0.0, pytest.approx(length))
