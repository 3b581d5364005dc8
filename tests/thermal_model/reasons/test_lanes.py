"""Different containers as lanes: each comes out as if it had been computed alone."""

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.overrides import with_overrides
from thermal_model.prediction import predict
from thermal_model.reasons.lanes import LanedRun, hold_times
from thermal_model.scenario import Opening, Preheat, Scenario
from thermal_model.unknowns import Unknowns

PLAIN = load_container("single_wall_steel")
DESIGNS = [
    PLAIN,
    load_container("stoneware_cup"),
    with_overrides(PLAIN, {"body.neck.mouth_diameter": "35 mm"}),
    with_overrides(PLAIN, {"lid.skirt_length": "0 mm"}),
    with_overrides(
        PLAIN,
        {"lid.plug": {"kind": "solid", "depth": "20 mm", "clearance": "1 mm"}, "lid.seals.0.depth": "2 mm"},
    ),
    with_overrides(
        PLAIN,
        {"lid.plug": {"kind": "solid", "depth": "20 mm", "clearance": "1 mm"}, "lid.seals.0.depth": "15 mm"},
    ),
]
SCENARIOS = [
    Scenario(fill="200 mL"),  # type: ignore[arg-type]
    Scenario(fill="200 mL", start="85 C"),  # type: ignore[arg-type]
    Scenario(fill="200 mL", preheat=Preheat(duration="1 min", temperature="90 C")),  # type: ignore[arg-type]
    Scenario(fill="200 mL", openings=(Opening(at="3 min", pour="50 mL"),)),  # type: ignore[arg-type]
    Scenario(fill="200 mL", openings=(Opening(at="4 min", pour="50 mL"),)),  # type: ignore[arg-type]
]


def test_runs_of_all_structures_come_back_in_order() -> None:
    pairs = [(design, SCENARIOS[0]) for design in DESIGNS] + [(PLAIN, scenario) for scenario in SCENARIOS[1:]]
    one = Unknowns(wetted_film=np.ones(2), exterior_film=np.array([1.0, 1.2]))
    found = hold_times([LanedRun(d, s, one) for d, s in pairs], 2, 333.15)
    alone = [predict(d, s, [333.15], draws=0).hold_times[0].nominal for d, s in pairs]
    assert found[:, 0] == pytest.approx(np.array(alone, dtype=float), rel=1e-9)
    assert np.all(found[:, 1] < found[:, 0])


def test_a_limit_beyond_the_horizon_is_told_as_missing() -> None:
    found = hold_times([LanedRun(PLAIN, SCENARIOS[0], Unknowns(wetted_film=np.ones(1)))], 1, 333.15, horizon=60.0)
    assert np.isnan(found).all()


def test_progress_ends_at_all() -> None:
    shares: list[float] = []
    runs = [LanedRun(d, SCENARIOS[0], Unknowns(wetted_film=np.ones(1))) for d in DESIGNS[:3]]
    hold_times(runs, 1, 333.15, horizon=60.0, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
