"""Different containers as lanes: each comes out as if it had been followed alone, and says how it ended."""

from threading import current_thread

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.numeric import Array
from geometries.overrides import with_overrides
from thermal_model.assemble.lanes import Lanes
from thermal_model.batch import Table, evaluate, with_numbers
from thermal_model.follow import follow
from thermal_model.gradients import gradients, log_hold_time
from thermal_model.prediction import drawn_runs, predict
from thermal_model.reasons.pair import Contender, explain_pair
from thermal_model.scenario import Opening, Preheat, Scenario
from thermal_model.solver.engine import Outcome
from thermal_model.solver.network import LinkTable, Network
from thermal_model.solver.scatter import Indices
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.solver.stepping import PlainStepper, Stepper, Tolerance
from thermal_model.uncertainty import draw_sample
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
    Scenario(fill="200 mL"),
    Scenario(fill="200 mL", start="85 C"),
    Scenario(fill="200 mL", preheat=Preheat(duration="1 min", temperature="90 C")),
    Scenario(fill="200 mL", openings=(Opening(at="3 min", pour="50 mL"),)),
    Scenario(fill="200 mL", openings=(Opening(at="4 min", pour="50 mL"),)),
]


def test_runs_of_all_structures_come_back_in_order() -> None:
    pairs = [(design, SCENARIOS[0]) for design in DESIGNS] + [(PLAIN, scenario) for scenario in SCENARIOS[1:]]
    one = Unknowns(exterior_film=np.array([1.0, 1.2]))
    found = follow([Lanes(d, s, one, 2) for d, s in pairs], [333.15]).hold_times.reshape(-1, 2)
    alone = [predict(d, s, [333.15], draws=0).hold_times[0].nominal for d, s in pairs]
    assert found[:, 0].tolist() == alone
    assert np.all(found[:, 1] < found[:, 0])


MANY = [Lanes(design, SCENARIOS[0], Unknowns(exterior_film=np.linspace(0.8, 1.2, 64)), 64) for design in DESIGNS[:4]]


def test_batches_side_by_side_are_each_alone_to_the_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("thermal_model.follow.cores", lambda: 2)
    told: list[float] = []
    tellers: set[str] = set()

    def tell(share: float) -> None:
        told.append(share)
        tellers.add(current_thread().name.split("_")[0])

    together = follow(MANY, [333.15], stepper=compiled_stepper(), progress=tell)
    alone = [follow(part, [333.15], stepper=compiled_stepper()) for part in MANY]
    np.testing.assert_array_equal(together.hold_times, np.concatenate([one.hold_times for one in alone], axis=1))
    np.testing.assert_array_equal(together.heat_to_room, np.concatenate([one.heat_to_room for one in alone]))
    assert told[-1] == 1.0
    assert max(told) == 1.0
    assert tellers == {"runs", "MainThread"}


def test_what_ends_one_of_batches_side_by_side_ends_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("thermal_model.follow.cores", lambda: 2)
    told: list[float] = []

    def stop(share: float) -> None:
        told.append(share)
        raise InterruptedError

    with pytest.raises(InterruptedError):
        follow(MANY, [333.15], stepper=compiled_stepper(), progress=stop)
    assert len(told) <= 4  # each batch told once at most


def test_a_limit_beyond_the_horizon_is_not_reached() -> None:
    found = follow(Lanes(PLAIN, SCENARIOS[0]), [333.15], horizon=60.0)
    assert found.outcome.tolist() == [Outcome.NOT_REACHED]
    assert np.isnan(found.hold_times).all()


def test_progress_ends_at_all() -> None:
    shares: list[float] = []
    follow([Lanes(d, SCENARIOS[0]) for d in DESIGNS[:3]], [333.15], horizon=60.0, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


# --- runs that can't be computed ------------------------------------------------------------------------------------


class GivesUp:
    """A stepper that gets nowhere in some lanes."""

    def __init__(self, inner: Stepper, is_lost: Array) -> None:
        self.inner, self.is_lost = inner, is_lost

    def evaluate(self, state: Array, room: Array) -> tuple[Array, Array]:
        return self.inner.evaluate(state, room)

    def step(self, state: Array, time: Array, step: Array, mass: Array) -> tuple[Array, Array]:
        after, size = self.inner.step(state, time, step, mass)
        return after, np.where(self.is_lost, np.inf, size)

    def take_lanes(self, lanes: Indices) -> "GivesUp":
        return GivesUp(self.inner.take_lanes(lanes), self.is_lost[lanes])


def lost_in_rooms_above(kelvin: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the engine give up in every run whose room is warmer."""

    def make(network: Network, links: LinkTable, tolerance: Tolerance) -> GivesUp:
        return GivesUp(PlainStepper(network, links, tolerance), network.room.level > kelvin)

    for module in ("follow", "batch"):
        monkeypatch.setattr(f"thermal_model.{module}.stepper_for", lambda _: make)


CUP = load_container("stoneware_cup")
DRAWS = 24


def warm_draws(kelvin: float) -> int:
    return int((np.asarray(draw_sample(CUP, SCENARIOS[0], DRAWS, 1).scenario.room)[1:] > kelvin).sum())


def test_a_failed_draw_is_counted_and_never_one_that_holds_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    lost_in_rooms_above(293.5, monkeypatch)
    expected = warm_draws(293.5)
    assert 2 < expected < DRAWS // 2
    found = predict(CUP, SCENARIOS[0], [333.15], draws=DRAWS)
    assert found.failed_draws == expected
    assert found.hold_times[0].share_reached == 1.0
    assert found.hold_times[0].high is not None
    drawn = drawn_runs(CUP, SCENARIOS[0], [333.15], draws=DRAWS, seed=1)
    assert drawn.failed == expected
    assert np.isfinite(drawn.crossing_times).all()


def test_a_failed_best_guess_is_an_error_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    lost_in_rooms_above(290.0, monkeypatch)
    with pytest.raises(InputError, match=r"stoneware_cup: the computation gave up .* please report"):
        predict(CUP, SCENARIOS[0], [333.15], draws=0)
    with pytest.raises(InputError, match=r"stoneware_cup: the computation gave up .* please report"):
        drawn_runs(CUP, SCENARIOS[0], [333.15], draws=2, seed=1)
    with pytest.raises(InputError, match=r"stoneware_cup against \w+: the computation gave up .* please report"):
        explain_pair(Contender(CUP, SCENARIOS[0]), Contender(PLAIN, SCENARIOS[0]), 333.15)


def test_a_failed_neighbour_is_no_limit_that_is_not_reached(monkeypatch: pytest.MonkeyPatch) -> None:
    lost_in_rooms_above(293.2, monkeypatch)
    with pytest.raises(InputError, match=r"stoneware_cup: the computation gave up .* please report"):
        log_hold_time(CUP, SCENARIOS[0], 333.15)
    lost_in_rooms_above(293.15, monkeypatch)
    found = gradients(CUP, SCENARIOS[0], [333.15], ["scenario.room"])
    assert found.is_one_sided.tolist() == [True]
    assert np.isfinite(found.slopes).all()


def test_a_failed_row_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    lost_in_rooms_above(295.0, monkeypatch)
    rooms = Table({"scenario.room": np.array([293.15, 296.15, 340.15])}, {})
    found = evaluate(CUP, SCENARIOS[0], rooms, [333.15], horizon=7200.0)
    assert found.outcome.tolist() == [Outcome.REACHED, Outcome.FAILED, Outcome.FAILED]
    assert np.isnan(found.hold_times[0, 1:]).all()


def test_explained_draws_that_failed_are_counted_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    lost_in_rooms_above(293.5, monkeypatch)
    other = with_overrides(CUP, {"body.inside_depth": "80 mm"})
    found = explain_pair(Contender(CUP, SCENARIOS[0]), Contender(other, SCENARIOS[0]), 333.15, draws=DRAWS, seed=1)
    assert found.failed > 2
    assert found.dropped == 0
    assert found.kept == DRAWS - found.failed


def test_no_runs_have_no_outcomes() -> None:
    found = follow([], np.full((1, 0), 300.0))
    assert found.hold_times.shape == (1, 0)
    assert found.outcome.shape == (0,)


def test_runs_of_a_family_may_end_before_and_after_an_opening() -> None:
    container = load_container("slim_neck_double_seal")
    scenario = Scenario(fill=5e-4, openings=(Opening(at=3600.0, duration=20.0),))
    lanes = with_numbers(container, scenario, {"scenario.room": np.array([273.15, 293.15])})
    alone, together = (
        follow(Lanes(*lanes, count=2), [355.65], family=family).hold_times[0]
        for family in (None, np.zeros(2, dtype=np.intp))
    )
    assert alone[0] < 3600.0 < alone[1]
    assert together == pytest.approx(alone, rel=1e-4)
