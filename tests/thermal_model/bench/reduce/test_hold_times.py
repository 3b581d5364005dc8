"""Hold times from made readings, whose true value is the logarithm in `true_hold_time`."""

import math

import numpy as np
import pytest

from tests.thermal_model.bench.made_runs import (
    HOUR,
    LOG,
    PEN,
    PROBES,
    ZERO,
    celsius,
    displayed,
    made_run,
    true_hold_time,
)
from thermal_model.bench.records import Passing, Probe, Run
from thermal_model.bench.reduce.evidence import Offsets, unchecked_offsets
from thermal_model.bench.reduce.hold_times import Basis, MeasuredHoldTime, measured_hold_time

SURE = Offsets(("pen", "wireless"), np.zeros(2), np.zeros((2, 2)))
"""Thermometers that are right."""

LIMIT = 60.0
TRUE = true_hold_time(90.0, 20.0, 15.0, LIMIT)


def held(run: Run, limit: float = LIMIT, offsets: Offsets = SURE) -> MeasuredHoldTime:
    return measured_hold_time(run, limit + ZERO, PROBES, offsets)


def test_a_clean_log_gives_the_true_time() -> None:
    found = held(made_run())
    assert found.basis is Basis.FIT
    assert found.time == pytest.approx(TRUE, abs=1.0)


def test_an_offset_is_taken_off() -> None:
    shown = celsius(LOG, 90.0, 20.0, 15.0) + 0.8
    offsets = Offsets(("pen", "wireless"), np.array([0.8, 0.0]), np.zeros((2, 2)))
    assert held(made_run(shown=shown), offsets=offsets).time == pytest.approx(TRUE, abs=1.0)


def test_a_probe_that_nobody_checked_widens_by_its_spread_over_the_slope() -> None:
    slope = 40.0 / (15.0 * HOUR)  # K/s at 60 C over a room of 20 C
    found = held(made_run(), offsets=unchecked_offsets(PROBES))
    assert found.spread is not None
    assert found.spread == pytest.approx(0.5 / slope, rel=0.03)


def test_contents_that_warm() -> None:
    shown = celsius(LOG, 4.0, 22.0, 15.0)
    found = held(made_run(shown=shown, poured=4.0, room=22.0), 10.0)
    assert found.time == pytest.approx(true_hold_time(4.0, 22.0, 15.0, 10.0), abs=2.0)


def test_start_and_end_are_interpolated_with_a_wide_interval() -> None:
    times = np.array([0.0, 12.0 * HOUR])
    found = held(made_run(times=times))
    assert found.basis is Basis.INTERPOLATION
    assert found.time is not None
    assert found.low < TRUE < found.high
    assert found.high - found.low > 20.0 * 60.0


def _coverage(probe: Probe, times: np.ndarray, late: float, hours: float = 15.0) -> float:
    generator = np.random.default_rng(11)
    inside, trials = 0, 200
    for _ in range(trials):
        start, room = 90.0 + generator.uniform(-3.0, 3.0), 20.0
        offset = probe.offset_spread * generator.standard_normal()
        moments = times + late * generator.standard_normal(len(times))
        shown = displayed(celsius(moments, start, room, hours), probe, generator, float(offset))
        run = made_run(probe=probe.name, shown=shown, times=times, poured=start, room=room, time_spread=late)
        found = held(run, offsets=unchecked_offsets(PROBES))
        inside += found.low <= true_hold_time(start, room, hours, LIMIT) <= found.high
    return inside / trials


@pytest.mark.parametrize("probe", PROBES.values(), ids=PROBES)
def test_nine_in_ten_intervals_of_a_log_hold_the_truth(probe: Probe) -> None:
    assert 0.85 <= _coverage(probe, LOG, 10.0) <= 0.96


def test_intervals_of_start_and_end_hold_the_truth() -> None:
    """They also allow for a curve that is no exponential, which these are, so that they may be too wide."""
    assert _coverage(PEN, np.array([120.0, 9.0 * HOUR]), 10.0) >= 0.88


def test_rounding_alone_is_covered() -> None:
    """Two hundred logs that differ in where their steps fall, of a sound thermometer."""
    generator, inside = np.random.default_rng(5), 0
    for _ in range(200):
        start = 90.0 + generator.uniform(-1.0, 1.0)
        shown = np.round(celsius(LOG, start, 20.0, 15.0) * 2.0) / 2.0
        found = held(made_run(probe="wireless", shown=shown, poured=start))
        inside += found.low <= true_hold_time(start, 20.0, 15.0, LIMIT) <= found.high
    assert inside >= 176  # of 200: 90 % less two standard deviations of a count


# --- intervals --------------------------------------------------------------------------------------------------


def looks(*passings: tuple[float, float, float]) -> Run:
    """A run of marks [C] passed between two times [h], and a reading at the start."""
    rows = enumerate(passings)
    marks = [Passing(mark + ZERO, first * HOUR, last * HOUR, line, "pen") for line, (mark, first, last) in rows]
    return made_run(times=np.array([60.0]), passings=marks)


def test_a_mark_between_two_looks_stays_an_interval() -> None:
    found = held(looks((60.0, 5.0, 6.0)))
    assert (found.basis, found.time) == (Basis.INTERVAL, None)
    assert (found.low, found.high) == pytest.approx((5.0 * HOUR, 6.0 * HOUR), abs=1.0)


def test_marks_on_either_side_bound_the_limit() -> None:
    found = held(looks((70.0, 3.0, 4.0), (50.0, 8.0, 9.0)))
    assert (found.low, found.high) == (3.0 * HOUR, 9.0 * HOUR)


def test_an_uncertain_probe_widens_both_ends() -> None:
    found = held(looks((60.0, 5.0, 6.0)), offsets=unchecked_offsets(PROBES))
    assert found.low < 5.0 * HOUR
    assert found.high > 6.0 * HOUR


def test_a_mark_not_passed_by_the_end_bounds_from_below_only() -> None:
    found = held(looks((60.0, 5.0, math.inf)))
    assert (found.basis, found.high) == (Basis.AT_LEAST, math.inf)
    assert found.low == pytest.approx(5.0 * HOUR, abs=1.0)


def test_a_log_that_ends_far_above_the_limit() -> None:
    found = held(made_run(times=LOG[:24]))
    assert (found.basis, found.low, found.high) == (Basis.AT_LEAST, LOG[23], math.inf)


def test_a_log_that_ends_just_before_the_limit_is_extrapolated() -> None:
    found = held(made_run(times=LOG[LOG < TRUE - 600.0]))
    assert found.basis is Basis.EXTRAPOLATION
    assert found.time == pytest.approx(TRUE, abs=5.0)
    assert found.low < TRUE < found.high


def test_passings_on_a_video_are_points() -> None:
    marks = []
    for k, mark in enumerate((80.0, 70.0, 62.0, 58.0)):
        time = true_hold_time(90.0, 20.0, 15.0, mark)
        marks.append(Passing(mark + ZERO, time - 5.0, time + 5.0, k, "pen"))
    found = held(made_run(times=np.array([60.0]), passings=marks))
    assert found.basis is Basis.INTERPOLATION
    assert found.time == pytest.approx(TRUE, abs=15.0)
    assert found.low < TRUE < found.high


def test_no_evidence_is_said() -> None:
    run = made_run(times=np.empty(0), shown=np.empty(0))
    assert held(run).basis is Basis.UNKNOWN
