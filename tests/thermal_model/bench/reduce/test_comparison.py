"""Which runs are alike, how well they repeat, and which went wrong: made runs whose fault is known."""

import numpy as np
import pytest

from tests.thermal_model.bench.made_runs import LOG, PEN, celsius, displayed, made_bench, made_run
from thermal_model.bench.records import Run
from thermal_model.bench.reduce.comparison import comparable_groups, pooled_deviation
from thermal_model.bench.reduce.reduction import Reduction, reduce_bench

HOURS, DIP = 15.0, 2.5


def watched(name: str, seed: int, *, hours: float = HOURS, low: float = 0.0, dip: float = DIP) -> Run:
    """A run that takes its dip within minutes, with 1.5 % scatter of its rate."""
    generator = np.random.default_rng(seed)
    poured, room = 90.0 + generator.uniform(-2.0, 2.0), 20.0 + generator.uniform(-1.0, 1.0)
    hours *= float(np.exp(0.015 * generator.standard_normal()))
    true = celsius(LOG, poured - dip, room, hours) + dip * np.exp(-LOG / 120.0) - low
    return made_run(name, shown=displayed(true, PEN, generator), poured=poured, room=room, day=1 + seed % 27)


def reduced(*wrong: Run) -> Reduction:
    sound = [watched(f"sound-{seed}", seed) for seed in range(4)]
    return reduce_bench(made_bench([*sound, *wrong]))


def test_sound_runs_are_not_flagged() -> None:
    for first in range(0, 60, 5):
        runs = [watched(f"r{seed}", seed) for seed in range(first, first + 5)]
        assert reduce_bench(made_bench(runs)).flags == []


@pytest.mark.parametrize(
    ("wrong", "cause", "evidence"),
    [
        (watched("w", 9, hours=0.8 * HOURS), "lid not seated", "faster throughout"),
        (watched("w", 9, low=3.0), "probe touching the wall", "nearer to the room"),
        (watched("w", 9, dip=-1.0), "container not soaked", "farther from the room"),
        (watched("w", 9, hours=1.25 * HOURS), "fuller than written down", "slower throughout"),
    ],
    ids=["lid", "probe", "soak", "fill"],
)
def test_what_went_wrong_is_named(wrong: Run, cause: str, evidence: str) -> None:
    found = reduced(wrong)
    assert [flag.run for flag in found.flags] == ["w"]
    assert cause in found.flags[0].cause
    assert evidence in found.flags[0].evidence
    # Flagged, not dropped.
    assert "w" in found.hold_times
    assert found.repeatability_of_all.rate_freedom + found.repeatability_of_all.start_freedom > (
        found.repeatability.rate_freedom + found.repeatability.start_freedom
    )


def test_of_two_runs_neither_is_flagged() -> None:
    pair = [watched("a", 1), watched("b", 2, hours=0.7 * HOURS)]
    assert reduce_bench(made_bench(pair)).flags == []


def test_repeatability_is_the_scatter_put_in() -> None:
    found = reduce_bench(made_bench([watched(f"r{seed}", seed) for seed in range(40)]))
    assert found.repeatability.rate == pytest.approx(0.015, rel=0.4)
    assert found.repeatability.rate_freedom == 39


def test_pooled_deviation_by_hand() -> None:
    """Variances 2 and 0.5 with 1 and 2 degrees of freedom: (2 + 1) / 3."""
    deviation, freedom = pooled_deviation([np.array([1.0, 3.0]), np.array([0.0, 0.5, 1.0]) * 1.4142135623730951])
    assert (round(deviation, 12), freedom) == (1.0, 3)
    assert pooled_deviation([np.array([1.0])])[1] == 0


def test_runs_are_alike_only_if_nothing_else_differs() -> None:
    alike = [made_run("a"), made_run("b", day=2, probe="wireless", room=22.0, fill="510 mL")]
    others = [made_run("c", fill="400 mL"), made_run("d", poured=4.0), made_run("e", container="other")]
    groups = comparable_groups([*alike, *others])
    assert [[run.name for run in group] for group in groups] == [["a", "b"], ["c"], ["d"], ["e"]]
