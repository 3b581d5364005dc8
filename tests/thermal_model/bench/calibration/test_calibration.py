"""What a calibration says: odd runs, what can't be told apart, warnings."""

from dataclasses import replace

import numpy as np
import pytest

from tests.thermal_model.bench.calibration.invented import Invented
from thermal_model.bench.calibration.calibration import odd_runs, warnings_of
from thermal_model.bench.calibration.coordinates import Owner
from thermal_model.bench.calibration.fit import Fit, fit
from thermal_model.bench.calibration.identifiability import confusions
from thermal_model.bench.calibration.posterior import belief, findings, probe_offsets


def test_an_odd_run_is_named_with_its_cause_and_hardly_moves_the_others(mixed: Invented, mixed_fit: Fit) -> None:
    # 0.0008 K/s is 12 K after four hours. Far more, and the fit may take the readings for wrong instead of the run.
    runs = list(mixed.bench.runs)
    runs[2] = replace(
        runs[2], readings=tuple(replace(r, temperature=r.temperature - 0.0008 * r.time) for r in runs[2].readings)
    )
    found = fit(replace(mixed.bench, runs=tuple(runs)))
    odd = odd_runs(found)
    assert odd[0].run == "run_3"
    cause, chance = odd[0].causes[0]
    assert "cooled faster than the other runs: a lid not seated" in cause
    assert chance > 0.8
    assert sum(chance for _, chance in odd[0].causes) == pytest.approx(1.0, abs=0.05)
    assert odd_runs(mixed_fit) == []
    place = found.coordinates.place(Owner.CONTAINER, "wide_mouth_disc", "gap_emissivity")
    assert abs(found.x[place] - mixed_fit.x[place]) < 1.0 * mixed_fit.standard_deviation(place)


def spoiled(mixed: Invented, kelvins: float, per_second: float = 0.0) -> Fit:
    runs = list(mixed.bench.runs)
    moved = (replace(r, temperature=r.temperature + kelvins + per_second * r.time) for r in runs[2].readings)
    runs[2] = replace(runs[2], readings=tuple(moved))
    return fit(replace(mixed.bench, runs=tuple(runs)))


def test_a_probe_that_shows_less_all_along_is_named(mixed: Invented) -> None:
    odd = odd_runs(spoiled(mixed, -3.0))
    assert odd[0].run == "run_3"
    assert any("less all along: a probe that touches the wall" in cause for cause, _ in odd[0].causes)


def test_what_trades_off_is_said_with_the_run_that_helps(mixed_fit: Fit) -> None:
    confused = confusions(mixed_fit)
    assert confused
    for one in confused:
        assert abs(one.correlation) >= 0.3
        assert 0.0 <= one.remedy.narrows < 1.0
        assert bool(one.remedy.words) == (one.remedy.narrows > 0.0)


def test_an_unmeasured_room_is_warned_of(mixed_fit: Fit) -> None:
    bench = mixed_fit.problem.bench
    assert not any("room" in line for line in warnings_of(mixed_fit))
    blind = replace(bench, runs=(replace(bench.runs[0], room_spread=float("inf")), *bench.runs[1:]))
    mixed_fit.problem.bench = blind
    try:
        lines = warnings_of(mixed_fit)
    finally:
        mixed_fit.problem.bench = bench
    assert any(
        "the room temperature was not measured in run_1" in line and "can't be trusted" in line for line in lines
    )


def test_findings_are_factors_and_shifts_with_intervals(mixed_fit: Fit) -> None:
    for finding in findings(mixed_fit):
        assert finding.low < finding.value < finding.high
        assert finding.low > 0.0 or not finding.is_factor
        assert 0.0 < finding.spread <= 1.0


def test_probe_offsets_are_near_the_truth(mixed: Invented, mixed_fit: Fit) -> None:
    for name, (offset, deviation) in probe_offsets(mixed_fit).items():
        place = mixed_fit.coordinates.place(Owner.PROBE, name, "offset")
        truth = mixed.bench.probes[name].offset_spread * mixed.truth[place]
        assert abs(offset - truth) < 3.0 * deviation < 1.5


def test_a_container_that_was_not_there_gets_what_is_common(mixed_fit: Fit) -> None:
    common = belief(mixed_fit, None)
    assert "gap_emissivity" not in common.names
    assert np.sqrt(np.diag(common.root @ common.root.T)).min() < 0.95


@pytest.mark.parametrize("container", ["wide_mouth_disc", "thin_disc_lid"])
def test_a_calibrated_prediction_is_narrower(mixed_fit: Fit, container: str) -> None:
    from thermal_model.prediction import predict

    run = next(run for run in mixed_fit.problem.bench.runs if run.container == container)
    widths = []
    for known in (None, belief(mixed_fit, container)):
        held = predict(run.container_at_run, run.scenario, [333.15], draws=60, belief=known).hold_times[0]
        assert held.low is not None
        assert held.high is not None
        widths.append(held.high - held.low)
    assert widths[1] < 0.7 * widths[0]
