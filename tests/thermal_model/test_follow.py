"""Different containers as lanes: each comes out as if it had been followed alone, and says how it ended."""

import numpy as np

from geometries.design_file import load_container
from geometries.overrides import with_overrides
from thermal_model.assemble.lanes import Lanes
from thermal_model.follow import follow
from thermal_model.prediction import predict
from thermal_model.scenario import Opening, Preheat, Scenario
from thermal_model.solver.engine import Outcome
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
    one = Unknowns(exterior_film=np.array([1.0, 1.2]))
    found = follow([Lanes(d, s, one, 2) for d, s in pairs], [333.15]).hold_times.reshape(-1, 2)
    alone = [predict(d, s, [333.15], draws=0).hold_times[0].nominal for d, s in pairs]
    assert found[:, 0].tolist() == alone
    assert np.all(found[:, 1] < found[:, 0])


def test_a_limit_beyond_the_horizon_is_not_reached() -> None:
    found = follow(Lanes(PLAIN, SCENARIOS[0]), [333.15], horizon=60.0)
    assert found.outcome.tolist() == [Outcome.NOT_REACHED]
    assert np.isnan(found.hold_times).all()


def test_progress_ends_at_all() -> None:
    shares: list[float] = []
    follow([Lanes(d, SCENARIOS[0]) for d in DESIGNS[:3]], [333.15], horizon=60.0, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
