"""Offsets of made thermometers, whose bias is known."""

import numpy as np
import pytest

from tests.thermal_model.bench.made_runs import LOG, PEN, WIRELESS, ZERO, celsius, displayed, made_bench, made_run
from thermal_model.bench.read.bench_file import ICE_WATER_PROBE
from thermal_model.bench.records import Bench, ProbeCheck, Reading
from thermal_model.bench.reduce.comparison import comparable_groups
from thermal_model.bench.reduce.evidence import Offsets
from thermal_model.bench.reduce.probe_offsets import ProbeComparison, crossover_of_runs, probe_offsets, weighted_offsets

PROBES = {"pen": PEN, "wireless": WIRELESS}


def test_a_difference_is_known_better_than_what_it_is_made_of() -> None:
    """By hand: two priors of 0.5 K and one difference of 1 K known to 0.1 K."""
    found = weighted_offsets(PROBES, [ProbeComparison("wireless", "pen", 1.0, 0.1, "")])
    shrink = 0.5 / (0.5 + 0.01)  # var of the prior difference over that and the observation's
    assert found.difference("wireless", "pen")[0] == pytest.approx(shrink, rel=1e-9)
    assert found.difference("wireless", "pen")[1] == pytest.approx(np.sqrt(0.5 * 0.01 / 0.51), rel=1e-9)
    assert found.spread("pen") == pytest.approx(0.357, abs=0.001)
    assert found.of("wireless") == pytest.approx(-found.of("pen"))


def test_ice_water_tells_the_offset_itself() -> None:
    probes = PROBES | {"ice_water": ICE_WATER_PROBE}
    checks = [ProbeCheck("pen", "ice_water", ZERO + 0.6, ZERO, 2)] * 3
    bench = Bench("made", {}, probes, (made_run(),), tuple(checks))
    found, comparisons = probe_offsets(bench, [])
    assert found.of("pen") == pytest.approx(0.6, abs=0.1)
    assert found.spread("pen") < 0.17
    assert comparisons[0].source == "side by side, probe_checks.csv line 2"


def test_two_probes_in_one_run() -> None:
    generator = np.random.default_rng(1)
    run = made_run(shown=displayed(celsius(LOG, 90.0, 20.0, 15.0), PEN, generator))
    second = displayed(celsius(LOG, 90.0, 20.0, 15.0), WIRELESS, generator, 0.9)
    extra = tuple(
        Reading(t, v + ZERO, 0.0, 500, "wireless") for t, v in zip(LOG.tolist(), second.tolist(), strict=True)
    )
    run = type(run)(**{**run.__dict__, "readings": (*run.readings, *extra)})
    _, comparisons = probe_offsets(made_bench([run]), [])
    assert comparisons[0].difference == pytest.approx(-0.9, abs=0.05)
    assert comparisons[0].source == "together in run r"


def swapped_bench(seed: int, bias: float) -> Bench:
    """Two containers, two days, the probes swapped in between; rooms and pours differ and are measured."""
    generator, runs = np.random.default_rng(seed), []
    plan = [("flask", 1, "pen"), ("flask", 2, "wireless"), ("flask", 3, "pen"), ("flask", 4, "wireless")]
    for k, (container, day, probe) in enumerate(plan):
        room, poured = 20.0 + generator.uniform(-2, 2), 90.0 + generator.uniform(-2, 2)
        true = celsius(LOG, poured + 0.4 * generator.standard_normal(), room, 15.0)
        shown = displayed(true, PROBES[probe], generator, bias if probe == "wireless" else 0.0)
        runs.append(made_run(f"r{k}", probe=probe, shown=shown, poured=poured, room=room, day=day, container=container))
    return made_bench(runs)


def test_swapped_probes_tell_their_difference() -> None:
    errors = []
    for seed in range(40):
        bench = swapped_bench(seed, 1.0)
        fit = crossover_of_runs(bench, comparable_groups(bench.runs))
        assert fit is not None
        assert fit.treatments == ("pen", "wireless")
        errors.append((fit.effect[0] - 1.0) / fit.standard_error[0])
    # Student's t with 2 degrees of freedom: nine in ten below 2.92.
    assert 0.8 <= np.mean(np.abs(errors) < 2.92) <= 1.0
    assert abs(np.median(errors)) < 0.8


def test_days_that_differ_cancel_in_a_crossover() -> None:
    """Two containers side by side on four days, the probes swapped from day to day; two days are 1 K colder."""
    generator, runs = np.random.default_rng(8), []
    for day, shift in ((1, 0.0), (2, -1.0), (3, -1.0), (4, 0.0)):
        for container, first in (("flask", "pen"), ("other", "wireless")):
            second = "wireless" if first == "pen" else "pen"
            probe = first if day % 2 else second
            true = celsius(LOG, 90.0 + shift, 20.0, 15.0 if container == "flask" else 9.0)
            shown = displayed(true, PROBES[probe], generator, 0.9 if probe == "wireless" else 0.0)
            runs.append(made_run(f"{container}{day}", probe=probe, shown=shown, day=day, container=container))
    fit = crossover_of_runs(made_bench(runs), comparable_groups(runs))
    assert fit is not None
    assert fit.degrees_of_freedom == 2
    assert fit.effect[0] == pytest.approx(0.9, abs=0.2)
    # The day's kelvin is gone from the scatter as well: a difference of means of four and four.
    assert fit.standard_error[0] < 0.3 * np.sqrt(2.0 / 4.0)


def test_probes_that_were_never_swapped_tell_nothing() -> None:
    runs = [made_run("a"), made_run("b", day=2)]
    assert crossover_of_runs(made_bench(runs), comparable_groups(runs)) is None


def test_unchecked_probes_keep_their_spread() -> None:
    found, comparisons = probe_offsets(made_bench([made_run()]), [])
    assert comparisons == []
    assert isinstance(found, Offsets)
    assert found.spread("pen") == pytest.approx(0.5)
