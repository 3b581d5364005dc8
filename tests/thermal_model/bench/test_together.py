"""Several benches as one: what is shared, what stays a bench's own, and what can't be told."""

from dataclasses import replace

import numpy as np
import pytest

from geometries.errors import InputError
from thermal_model.bench.calibration.fit import fit
from thermal_model.bench.calibration.posterior import belief, probe_offsets
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.records import Bench
from thermal_model.bench.together import joined, told_apart
from thermal_model.bench.write.demo import write_demo


@pytest.fixture(scope="module")
def north(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    folder = tmp_path_factory.mktemp("north")
    write_demo(folder)
    bench = read_bench(folder)
    few = tuple(run for run in bench.runs if run.container in ("stoneware_cup", "wide_mouth_disc"))
    containers = {name: bench.containers[name] for name in ("stoneware_cup", "wide_mouth_disc")}
    return replace(bench, name="north", runs=few, containers=containers)


@pytest.fixture(scope="module")
def south(north: Bench) -> Bench:
    """The same containers and readings, but a thermometer that shows 2 K more, and a bench without checks."""
    warmer = tuple(
        replace(run, readings=tuple(replace(one, temperature=one.temperature + 2.0) for one in run.readings))
        for run in north.runs
    )
    return replace(north, name="south", runs=warmer, checks=())


def test_thermometers_and_runs_of_one_name_stay_apart_and_ice_water_does_not(north: Bench, south: Bench) -> None:
    one = joined(told_apart([north, south]))
    assert set(one.containers) == set(north.containers)
    assert {"pen (north)", "pen (south)", "ice_water"} <= set(one.probes)
    assert "pen" not in one.probes
    assert len({run.name for run in one.runs}) == 2 * len(north.runs)
    assert all(run.probe in one.probes for run in one.runs)
    assert {check.second for check in one.checks} | {check.first for check in one.checks} <= set(one.probes)
    assert one.runs[0].container_at_run == north.runs[0].container_at_run


def test_names_that_only_one_bench_has_are_kept(north: Bench, south: Bench) -> None:
    runs = tuple(replace(run, name=f"s-{run.name}") for run in south.runs)
    first, second = told_apart([north, replace(south, runs=runs)])
    assert [run.name for run in first.runs] == [run.name for run in north.runs]
    assert [run.name for run in second.runs] == [run.name for run in runs]


def test_a_name_of_two_designs_is_told_with_both_benches(north: Bench, south: Bench) -> None:
    other = {**south.containers, "stoneware_cup": south.containers["wide_mouth_disc"]}
    with pytest.raises(InputError, match=r"stoneware_cup.*one design on north and another on south"):
        told_apart([north, replace(south, containers=other)])
    with pytest.raises(InputError, match="name of two benches"):
        told_apart([north, replace(south, name="north")])


def test_an_offset_is_a_bench_s_own_and_a_container_is_known_better_from_two(north: Bench, south: Bench) -> None:
    together = fit(joined(told_apart([north, south])))
    offsets = {name: mean for name, (mean, _) in probe_offsets(together).items()}
    for probe in {run.probe for run in north.runs}:
        assert offsets[f"{probe} (south)"] - offsets[f"{probe} (north)"] == pytest.approx(2.0, abs=0.5)
    alone, both = (belief(one, "wide_mouth_disc", seats_anew=False) for one in (fit(north), together))
    assert np.linalg.slogdet(both.root)[1] < np.linalg.slogdet(alone.root)[1]


def test_the_order_of_benches_does_not_matter(north: Bench, south: Bench) -> None:
    ways = [fit(joined(told_apart(pair))) for pair in ([north, south], [south, north])]
    first, second = (belief(one, "wide_mouth_disc", seats_anew=False) for one in ways)
    assert first.mean == pytest.approx(second.mean, abs=0.02)
