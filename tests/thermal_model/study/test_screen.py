"""Fronts against brute force, inverse answers against predictions, production against the normal distribution."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from geometries.container import Container, empty_mass
from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from geometries.ranges import Range
from tests.geometries.designs import bottle, cup
from thermal_model.prediction import predict
from thermal_model.report.screen_text import front_text, inverse_text, production_text
from thermal_model.scenario import Scenario
from thermal_model.study.axes import read_axes
from thermal_model.study.inverse import RESOLUTION, Inverse, find_value
from thermal_model.study.measures import MEASURES, Constraint, read_constraint, read_measure
from thermal_model.study.question import Question
from thermal_model.study.ranges import number_field
from thermal_model.study.sampling import Plan, planned
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.screen import intervals, pareto_front, screen
from thermal_model.study.tolerance import production_share, read_spread, wilson_interval

LIMIT = 333.15
TEA = Scenario.model_validate({"contents": "tea", "fill": "200 mL"})
CUP = load_container("single_wall_steel")
DEPTH = "body.inside_depth"


def question(container: Container = CUP) -> Question:
    return Question(container, TEA, LIMIT)


def plan_of(container: Container, *pairs: tuple[str, str]) -> Plan:
    return planned(tuple(read_axes(pairs, container, TEA, "--vary")), Sampling.GRID, None, 1)


def constraint(name: str, text: str, is_upper: bool, container: Container = CUP) -> Constraint:
    return read_constraint(name, text, is_upper, container, TEA, "--at-most")


def held(container: Container, scenario: Scenario = TEA) -> float:
    nominal = predict(container, scenario, [LIMIT], draws=0).hold_times[0].nominal
    assert nominal is not None
    return nominal


# --- the front --------------------------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6), st.booleans()), min_size=1, max_size=30), st.booleans())
def test_front_is_what_no_other_beats(points: list[tuple[int, int, bool]], less: bool) -> None:
    times, costs = (np.array([p[k] for p in points], dtype=float) for k in (0, 1))
    among = np.array([p[2] for p in points])
    front = pareto_front(times, costs, among, less_is_better=less).tolist()
    sign = 1.0 if less else -1.0

    def beats(i: int, j: int) -> bool:
        at_least = times[i] >= times[j] and sign * costs[i] <= sign * costs[j]
        return bool(at_least and (times[i] > times[j] or sign * costs[i] < sign * costs[j]))

    rows = np.flatnonzero(among).tolist()
    unbeaten = {(times[j], costs[j]) for j in rows if not any(beats(i, j) for i in rows)}
    assert {(times[j], costs[j]) for j in front} == unbeaten
    assert len(front) == len(unbeaten)
    assert all(sign * costs[i] < sign * costs[j] for i, j in pairwise(front))


def test_front_of_a_screening_holds_what_a_prediction_says() -> None:
    container = bottle()
    plan = plan_of(container, ("body.neck.mouth_diameter", "30, 44, 60 mm"), ("lid.seals", "1, 2"))
    found = screen(question(container), plan, [], MEASURES["mouth"])
    assert found.plan.count == 6
    assert found.invalid == 0
    # Widest first; of each mouth the lid that holds longer.
    mouths = found.measures["mouth"][found.front]
    assert mouths == pytest.approx([0.06, 0.044, 0.03])
    seals = [found.plan.axes[1].labels[int(found.values["lid.seals"][row])] for row in found.front]
    assert seals == ["2", "2", "2"]
    own = int(found.front[1])
    assert found.hold_times[own] == pytest.approx(held(container), rel=1e-4)
    assert found.measures["mass"][own] == pytest.approx(float(empty_mass(container)))


def test_a_screening_does_not_advise_to_leave_the_seal_out() -> None:
    """Hot, of lids that differ in their seals alone: sealed ones hold longer, under a disc and beside a plug."""
    for container in (load_container("thin_disc_lid"), load_container("single_seal_plug")):
        found = screen(question(container), plan_of(container, ("lid.seals", "0, 1")), [], MEASURES["mouth"])
        assert [float(found.values["lid.seals"][row]) for row in found.front] == [1.0]
        assert "not tight" not in front_text(found, [], {}, question(container))


def test_a_lighter_lid_without_a_seal_is_said_to_spill() -> None:
    container = load_container("single_seal_plug")
    found = screen(question(container), plan_of(container, ("lid.seals", "0, 1")), [], MEASURES["mass"])
    assert len(found.front) == 2
    assert "A lid without a seal is not tight" in front_text(found, [], {}, question(container))


def test_what_misses_a_constraint_is_not_computed() -> None:
    plan = plan_of(CUP, (DEPTH, "80..120 mm:5"))
    found = screen(question(), plan, [constraint("depth", "101 mm", True)], MEASURES["mass"])
    assert found.meets.tolist() == [True, True, True, False, False]
    assert np.isfinite(found.hold_times).tolist() == found.meets.tolist()


def test_a_bound_that_is_met_exactly_is_met() -> None:
    found = screen(question(), plan_of(CUP, (DEPTH, "90, 100 mm")), [constraint("depth", "100 mm", True)],
                   MEASURES["mass"])  # fmt: skip
    assert found.meets.all()


def test_constraint_on_the_hold_time_itself() -> None:
    plan = plan_of(CUP, (DEPTH, "80..120 mm:3"))
    everything = screen(question(), plan, [], MEASURES["mass"])
    middle = float(np.median(everything.hold_times))
    some = screen(question(), plan, [constraint("hold", f"{middle!r} s", False)], MEASURES["mass"])
    assert some.meets.tolist() == (everything.hold_times >= middle).tolist()


@pytest.mark.parametrize(
    ("bounds", "said"),
    [
        ([("mass", "1 g", True)], r"the nearest \(body\.inside_depth = 80 mm\) has .* g, not empty mass at most 1 g"),
        ([("hold", "90 h", False)], r"has \d+ min, not hold time at least 3 d 18 h"),
        ([("layers", "9", False)], r"has 1, not lid layers at least 9"),
    ],
)
def test_constraint_that_nothing_meets(bounds: list[tuple[str, str, bool]], said: str) -> None:
    with pytest.raises(InputError, match=said):
        screen(
            question(), plan_of(CUP, (DEPTH, "80..120 mm:3")), [constraint(*bound) for bound in bounds],
            MEASURES["mass"],
        )  # fmt: skip


def test_designs_that_make_no_container_are_counted() -> None:
    container = bottle()
    plan = plan_of(container, ("body.neck.mouth_diameter", "40, 60, 80 mm"), ("lid.plug.depth", "30, 35 mm"))
    found = screen(question(container), plan, [], MEASURES["mass"])
    assert found.invalid == 2
    assert "wider than the body" in found.reason
    with pytest.raises(InputError, match=r"none of the 2 designs makes a container; the first: .*wider than the body"):
        screen(question(container), plan_of(container, ("body.neck.mouth_diameter", "80, 90 mm")), [],
               MEASURES["mass"])  # fmt: skip


def test_intervals_are_those_of_a_prediction() -> None:
    """The same seed draws the same unknowns as `predict`."""
    found = screen(question(), plan_of(CUP, (DEPTH, "100, 120 mm")), [], MEASURES["mass"])
    spread = intervals(question(), found, draws=30, seed=4)
    assert sorted(spread) == sorted(found.front.tolist())
    row = int(np.argmin(found.values[DEPTH]))
    shorter = with_overrides(CUP, {DEPTH: "100 mm"})
    hold_time = predict(shorter, TEA, [LIMIT], draws=30, seed=4).hold_times[0]
    assert spread[row] == pytest.approx((hold_time.low, hold_time.high), rel=1e-4)


def test_names_of_measures() -> None:
    assert read_measure("lid.layers.0.thickness", CUP, TEA, "--against").less_is_better
    assert not read_measure("mouth", CUP, TEA, "--against").less_is_better
    with pytest.raises(InputError, match="did you mean 'capacity'"):
        read_measure("capasity", CUP, TEA, "--against")
    with pytest.raises(InputError, match="'3 mm' is not a mass"):
        constraint("mass", "3 mm", True)
    with pytest.raises(InputError, match="'three' is not a whole number"):
        constraint("layers", "three", True)


# --- the inverse question ---------------------------------------------------------------------------------------


def find(low: float, high: float, hold: float, draws: int, path: str = "scenario.fill") -> Inverse:
    wanted = Range(number_field(path, CUP, TEA, "--find"), low, high, "mL")
    return find_value(question(), wanted, hold, draws=draws, seed=2)


def test_the_value_found_holds_that_long() -> None:
    hold = held(CUP) * 1.1
    found = find(1e-4, 4e-4, hold, 0)
    again = held(CUP, TEA.model_copy(update={"fill": found.nominal}))
    # The root is known to a thousandth of the range, 0.3 mL of some 220 mL.
    assert again == pytest.approx(hold, rel=RESOLUTION * 3e-4 / found.nominal + 1e-4)
    assert found.rises
    assert not found.turns
    assert found.held.tolist() == sorted(found.held.tolist())


def test_draws_spread_about_the_best_guess() -> None:
    hold = held(CUP)
    found = find(5e-5, 4.5e-4, hold, 12)
    assert found.nominal == pytest.approx(2e-4, rel=2e-3)
    assert found.low < found.median < found.high
    assert found.low < found.nominal < found.high
    assert found.safe == found.high
    assert (found.nowhere, found.everywhere, found.failed) == (0.0, 0.0, 0)


def test_no_value_and_every_value() -> None:
    none = find(1e-4, 2e-4, 3.0 * held(CUP), 4)
    assert (none.nominal, none.nowhere) == (math.inf, 1.0)
    assert "No value from 100 mL to 200 mL holds" in inverse_text(none, question()).replace(".0 mL", " mL")
    every = find(1e-4, 2e-4, 0.1 * held(CUP), 4)
    assert (every.nominal, every.everywhere) == (-math.inf, 1.0)
    assert "Every value from" in inverse_text(every, question())


def test_a_range_without_containers() -> None:
    with pytest.raises(InputError, match=r"no value of scenario\.fill .*makes a container; .*beyond the brim"):
        find(5e-3, 6e-3, 3600.0, 0)


# --- production -------------------------------------------------------------------------------------------------


def test_share_follows_the_normal_distribution() -> None:
    """With one dimension that the hold time rises with, the share is that of pieces above the value just enough."""
    deviation, hold = 1e-5, held(CUP) * 1.02
    just_enough = find(1.9e-4, 2.2e-4, hold, 0).nominal
    spread = read_spread(number_field("scenario.fill", CUP, TEA, "--tolerance"), "10 mL", "--tolerance")
    found = production_share(question(), [spread], hold, pieces=200, seed=1)
    expected = norm.sf((just_enough - 2e-4) / deviation)
    assert 0.2 < expected < 0.45
    assert found.share == pytest.approx(expected, abs=3.0 * math.sqrt(expected * (1.0 - expected) / 200))
    assert found.share_low < found.share < found.share_high
    assert found.share == found.met / found.pieces
    assert found.causes == (("scenario.fill", 1.0),)


def test_pieces_that_make_no_container_do_not_count() -> None:
    field = number_field("body.wall.inner_thickness", cup(), TEA, "--tolerance")
    ask = question(cup())
    found = production_share(ask, [read_spread(field, "1 mm", "--tolerance")], 600.0, pieces=60, seed=1)
    assert 2 <= found.rejected <= 20  # a wall of 1 mm is a deviation from none
    assert found.pieces + found.rejected == 60
    assert "make no container and do not count" in production_text(found, ask)


@pytest.mark.parametrize(
    ("met", "pieces", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_interval(met: int, pieces: int, low: float, high: float) -> None:
    """Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3, 95 %; from memory, four digits."""
    assert wilson_interval(met, pieces, 0.95) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize(
    ("path", "text", "said"),
    [
        ("body.lip.thickness", "1 mm", "is left out in this design"),
        ("scenario.fill", "0 mL", "must be above zero"),
        ("scenario.fill", "1 mm", "is not a volume"),
    ],
)
def test_spreads_that_are_none(path: str, text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_spread(number_field(path, CUP, TEA, "--tolerance"), text, "--tolerance")


def test_spread_of_a_temperature_is_a_difference() -> None:
    spread = read_spread(number_field("scenario.start", CUP, TEA, "--tolerance"), "2 C", "--tolerance")
    assert spread.deviation == 2.0
