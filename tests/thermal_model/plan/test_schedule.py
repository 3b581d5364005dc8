"""Schedules, verified by counting their runs."""

from collections import Counter

import pytest

from geometries.errors import InputError
from thermal_model.plan.schedule import Schedule, balance_of, crossover_schedule

THIRTY = [f"c{k:02d}" for k in range(30)]


@pytest.mark.parametrize("per_day", [2, 4, 6, 10, 30])
def test_thirty_containers_two_probes(per_day):
    schedule = crossover_schedule(THIRTY, ["a", "b"], per_day=per_day)
    pairs = Counter((run.container, run.probe) for run in schedule.runs)
    assert pairs == dict.fromkeys([(c, p) for c in THIRTY for p in "ab"], 1)
    days = Counter(run.day for run in schedule.runs)
    assert set(days.values()) == {per_day}
    assert Counter((run.day, run.turn, run.probe) for run in schedule.runs).most_common(1)[0][1] == 1
    assert Counter((run.container, run.day) for run in schedule.runs).most_common(1)[0][1] == 1
    first = {}  # type: ignore[var-annotated]
    for run in schedule.runs:
        first.setdefault(run.container, run.probe)
    assert Counter(first.values()) == {"a": 15, "b": 15}
    balance = balance_of(schedule)
    assert balance.with_each_probe == balance.rounds_a_container == (1, 1)
    assert balance.in_each_turn[1] - balance.in_each_turn[0] <= 1
    assert balance.probe_a_day == (per_day // 2, per_day // 2)
    assert balance.after_each_probe == (15, 15)
    assert balance.together == 1
    assert balance.days_between >= 1
    # Early against late: nobody's runs lie on average more than a sixth of the campaign from its middle.
    middle = (schedule.days - 1) / 2
    assert max(abs(day - middle) for day in balance.mean_day) <= max(schedule.days / 6, 0.5)


def test_three_probes_and_repeats():
    balance = balance_of(crossover_schedule([f"c{k}" for k in range(12)], "abc", per_day=6, repeats=2))
    assert balance.with_each_probe == (2, 2)
    assert balance.each_probe_first == (4, 4)
    assert balance.in_each_turn == (3, 3)
    assert balance.probe_a_day == (2, 2)


def test_an_odd_one_out_leaves_a_probe_idle():
    schedule = crossover_schedule([*THIRTY, "last"], ["a", "b"], per_day=4)
    balance = balance_of(schedule)
    assert balance.with_each_probe == (1, 1)
    assert sorted(balance.each_probe_first) == [15, 16]
    assert len(schedule.runs) == 62


def test_fewer_containers_than_probes():
    schedule = crossover_schedule(["x"], ["a", "b", "c"], per_day=3)
    assert [run.day for run in schedule.runs] == [0, 1, 2]
    assert {run.probe for run in schedule.runs} == {"a", "b", "c"}


def test_same_seed_same_schedule():
    plans = [crossover_schedule(THIRTY, "ab", per_day=4, seed=seed) for seed in (3, 3, 4)]
    assert plans[0] == plans[1] != plans[2]


def test_runs_come_in_order_of_time():
    runs = crossover_schedule(THIRTY, "ab", per_day=6).runs
    assert [(r.day, r.turn) for r in runs] == sorted((r.day, r.turn) for r in runs)


def test_a_lopsided_schedule_is_counted_as_such():
    """The counting can fail: two runs swapped to one container."""
    schedule = crossover_schedule(THIRTY, "ab", per_day=4)
    spoilt = (schedule.runs[1], *schedule.runs[1:])
    balance = balance_of(Schedule(schedule.containers, schedule.probes, schedule.turns, spoilt))
    assert balance.with_each_probe != (1, 1)


@pytest.mark.parametrize(
    ("containers", "probes", "per_day", "fragment"),
    [
        (["x", "x"], ["a"], 1, "named twice"),
        (["x"], [], 1, "name at least one"),
        (["x", "y"], ["a", "b"], 3, "take a multiple of 2, such as 2"),
        (["x", "y"], ["a", "b"], 4, "there are 2 containers"),
    ],
)
def test_refusals(containers, probes, per_day, fragment):
    with pytest.raises(InputError, match=fragment):
        crossover_schedule(containers, probes, per_day=per_day)
