"""What the model says a bench would have shown, and its derivatives."""

from dataclasses import replace

import numpy as np
import pytest

from tests.thermal_model.bench.calibration.invented import Plan, bench_of
from thermal_model.bench.calibration import response as module
from thermal_model.bench.calibration.coordinates import NETWORK_NAMES
from thermal_model.bench.calibration.response import (
    COLDEST_ROOM,
    WARMEST_ROOM,
    ResponseModel,
    Watched,
    run_with,
)
from thermal_model.prediction import predict
from thermal_model.solver.stepping import Tolerance

TIMES = np.array([300.0, 3600.0, 10800.0])
RUNS = bench_of([Plan("wide_mouth_disc"), Plan("wide_mouth_disc", share=0.6, room="24 C"), Plan("thin_disc_lid")]).runs
CENTRE = np.zeros((len(RUNS), len(NETWORK_NAMES)))
FIRST = np.zeros(1, dtype=np.intp)


def model(runs: tuple = RUNS) -> ResponseModel:
    return ResponseModel([Watched(run, TIMES) for run in runs])


def test_at_the_priors_centre_it_is_the_prediction() -> None:
    here = model(RUNS[:1]).lanes(FIRST, CENTRE[:1])[0]
    run = RUNS[0]
    curve = predict(run.container_at_run, run.scenario, [float(here.temperature[-1])], draws=0)
    assert curve.hold_times[0].nominal == pytest.approx(TIMES[-1], abs=2.0)


def test_runs_in_one_batch_are_what_they_are_alone() -> None:
    together = model().lanes(np.arange(len(RUNS)), CENTRE)
    for number, run in enumerate(RUNS):
        alone = model((run,)).lanes(FIRST, CENTRE[:1])[0]
        np.testing.assert_array_equal(together[number].temperature, alone.temperature)


def test_derivatives_are_those_of_central_differences_at_a_tight_tolerance(monkeypatch: pytest.MonkeyPatch) -> None:
    """Within a tenth of a probe's noise for a whole prior deviation, or 2 % of the derivative."""
    normals = 0.3 * np.random.default_rng(1).standard_normal(CENTRE[:1].shape)
    ours = model(RUNS[:1]).with_derivatives(normals, FIRST)[0].by_normal
    monkeypatch.setattr(module, "TOLERANCE", Tolerance(contents=1e-6, others=1e-4))
    count, one_run = len(NETWORK_NAMES), model(RUNS[:1])
    up, down = (
        np.stack([r.temperature for r in one_run.lanes(np.zeros(count, dtype=int), normals + step)], axis=1)
        for step in (0.02 * np.eye(count), -0.02 * np.eye(count))
    )
    judge = (up - down) / 0.04  # a wider step of the fill reaches where its slope is another
    assert ours is not None
    assert np.abs(judge).max() > 1.0
    assert np.all(np.abs(ours - judge) < 0.01 + 0.02 * np.abs(judge))


def test_what_does_not_matter_is_not_run() -> None:
    once = model(RUNS[:1])
    first = once.with_derivatives(CENTRE[:1], FIRST)[0].by_normal
    assert first is not None
    idle = [name for k, name in enumerate(NETWORK_NAMES) if not first[:, k].any()]
    assert {"annulus_exchange", "clearance", "lid_leak"} <= set(idle)  # no plug, no hole
    assert once.lanes_computed == 1 + len(NETWORK_NAMES) - len(idle)


def test_an_unmeasured_room_stays_in_its_range() -> None:
    run = replace(RUNS[0], room_spread=float("inf"))
    normals = np.zeros((3, len(NETWORK_NAMES)))
    normals[:, NETWORK_NAMES.index("room")] = [-8.0, 0.0, 8.0]
    rooms = run_with(run, normals).scenario.room
    assert rooms == pytest.approx([COLDEST_ROOM, 0.5 * (COLDEST_ROOM + WARMEST_ROOM), WARMEST_ROOM], abs=1e-6)
