"""Shares of a difference: they add up, belong to what differs, and rest on runs that predict gives too."""

from functools import cache

import numpy as np
import pytest

from geometries.container import Container, closed_capacity
from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from thermal_model.prediction import predict
from thermal_model.reasons.pair import OWNERS, Contender, PairExplanation, explain_pair, logarithmic_mean
from thermal_model.reasons.parts import Adaptation, Group
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import PRIORS, Belief, Scope

LIMIT = 333.15
SCENARIO = Scenario(fill="200 mL")
PLAIN = load_container("single_wall_steel")
CHANGES: dict[Group, dict[str, object]] = {
    Group.MOUTH: {"body.neck.mouth_diameter": "34 mm"},
    Group.LID_LAYERS: {"lid.layers.0.thickness": "3 mm"},
    Group.WALL_AND_GAP: {"body.exterior.surface": "paint"},
}
OTHER = with_overrides(PLAIN, {path: value for fields in CHANGES.values() for path, value in fields.items()})


def hold_time(container: Container, scenario: Scenario = SCENARIO, belief: Belief | None = None) -> float:
    nominal = predict(container, scenario, [LIMIT], draws=0, belief=belief).hold_times[0].nominal
    assert nominal is not None
    return nominal


@cache
def explained(draws: int = 0, *, reverse: bool = False) -> PairExplanation:
    pair = (OTHER, PLAIN) if reverse else (PLAIN, OTHER)
    return explain_pair(Contender(pair[0], SCENARIO), Contender(pair[1], SCENARIO), LIMIT, draws=draws, seed=2)


def test_only_what_differs_has_a_share() -> None:
    assert explained().groups == tuple(CHANGES)
    assert set(explained().identical) == {Group.PLUG_AND_SEALS, Group.NECK, Group.BASE, Group.CAPACITY}


def test_shares_add_up_in_every_draw() -> None:
    found = explained(6)
    shares = found.shares()
    assert sum(s.log_ratio.nominal for s in shares) == pytest.approx(found.log_ratio.nominal, rel=1e-9)
    assert sum(s.seconds.nominal for s in shares) == pytest.approx(found.seconds.nominal, rel=1e-9)
    assert found.times.shape == (8, 7)


def test_the_ends_are_the_predictions() -> None:
    found = explained()
    assert found.first_time.nominal == pytest.approx(hold_time(PLAIN), rel=1e-9)
    assert found.second_time.nominal == pytest.approx(hold_time(OTHER), rel=1e-9)


@pytest.mark.parametrize("group", CHANGES, ids=str)
def test_a_swapped_part_is_the_design_with_that_change(group: Group) -> None:
    found = explained()
    changed = hold_time(with_overrides(PLAIN, CHANGES[group]))
    assert found.first_with([group]).nominal == pytest.approx(changed, rel=1e-9)
    share = next(s for s in found.shares() if s.group is group)
    assert share.alone_in_first.nominal == pytest.approx(changed, rel=1e-9)


def test_the_signs_are_those_of_the_physics() -> None:
    """A narrower mouth holds longer; a surface that shines loses less than paint; common practice, no source."""
    gains = {s.group: s.log_ratio.nominal for s in explained().shares()}
    assert gains[Group.MOUTH] < 0.0
    assert gains[Group.WALL_AND_GAP] > 0.0


def test_seen_from_b_every_share_changes_sign() -> None:
    there, back = explained(6), explained(6, reverse=True)
    assert there.groups == back.groups
    for one, other in zip(there.shares(), back.shares(), strict=True):
        assert one.log_ratio.nominal == pytest.approx(-other.log_ratio.nominal, rel=1e-9)
        assert one.seconds.low == pytest.approx(-other.seconds.high, rel=1e-6)


def test_two_parts_share_as_counted_by_hand() -> None:
    """Two orders of swapping: a share is the mean of what a part adds first and what it adds last."""
    less = Scenario(fill="150 mL", room="10 C")
    found = explain_pair(Contender(PLAIN, SCENARIO), Contender(PLAIN, less), LIMIT)
    none, fill, room, both = np.log(found.times[:, 0]).tolist()
    by_hand = 0.5 * ((fill - none) + (both - room)), 0.5 * ((room - none) + (both - fill))
    assert [share.log_ratio.nominal for share in found.shares()] == pytest.approx(by_hand, rel=1e-12)


def test_a_container_against_itself_differs_in_nothing() -> None:
    found = explain_pair(Contender(PLAIN, SCENARIO), Contender(PLAIN, SCENARIO), LIMIT, draws=4)
    assert found.groups == ()
    assert found.shares() == []
    assert np.all(found.times[0] == found.times[-1])
    assert found.log_ratio.low == found.log_ratio.high == 0.0


def test_unknowns_of_equal_parts_are_drawn_alike() -> None:
    """The gap's vacuum spreads most; where both have the same wall it must not widen the difference."""
    slim = load_container("slim_neck_double_seal")
    wider = with_overrides(slim, {"lid.layers.1.depth": "6 mm"})
    scenario = Scenario(fill="100 mL")
    found = explain_pair(Contender(slim, scenario), Contender(wider, scenario), LIMIT, draws=8)
    assert found.groups == (Group.LID_LAYERS,)
    spread = found.first_time.high / found.first_time.low
    assert np.log(spread) > 3.0 * (found.log_ratio.high - found.log_ratio.low)


def test_every_unknown_of_a_container_belongs_to_a_part() -> None:
    assert set(OWNERS) == {name for name, prior in PRIORS.items() if prior.scope is Scope.CONTAINER}


def test_fill_and_conditions_are_parts_where_scenarios_differ() -> None:
    less = Scenario(fill="150 mL", room="10 C")
    found = explain_pair(Contender(PLAIN, SCENARIO), Contender(PLAIN, less), LIMIT)
    assert found.groups == (Group.FILL, Group.CONDITIONS)
    assert all(share.log_ratio.nominal > 0.0 for share in found.shares())
    assert found.second_time.nominal == pytest.approx(hold_time(PLAIN, less), rel=1e-9)


def test_what_does_not_fit_a_hybrid_is_filled_to_the_lid() -> None:
    """A slim one filled to the lid, a wide one of equal volume: slim and low holds less than the fill."""
    low = with_overrides(PLAIN, {"body.inside_diameter": "100 mm", "body.inside_depth": "130 mm"})
    fill = min(float(closed_capacity(PLAIN)), float(closed_capacity(low)))
    scenario = Scenario(fill=f"{fill * 0.999 * 1e6!r} mL")
    plugged = with_overrides(
        low,
        {
            "lid.plug": {"kind": "solid", "depth": "20 mm", "clearance": "1 mm"},
            "body.inside_depth": "140 mm",
            "lid.seals": [],
        },
    )
    found = explain_pair(Contender(PLAIN, scenario), Contender(plugged, scenario), LIMIT)
    assert Adaptation.LESS_FILLED in found.adaptations
    shares = found.shares()
    assert sum(s.log_ratio.nominal for s in shares) == pytest.approx(found.log_ratio.nominal, rel=1e-9)


# --- what a calibration knows ---------------------------------------------------------------------------------


def belief(name: str, mean: float) -> Belief:
    return Belief((name,), np.array([mean]), np.array([[0.1]]))


def test_readings_can_tell_equal_parts_apart() -> None:
    dull = belief("exterior_emissivity", 2.0)
    found = explain_pair(Contender(PLAIN, SCENARIO, dull), Contender(with_name(PLAIN), SCENARIO), LIMIT, draws=4)
    assert found.groups == (Group.WALL_AND_GAP,)
    assert found.first_time.nominal == pytest.approx(hold_time(PLAIN, belief=dull), rel=1e-9)
    assert found.second_time.nominal == pytest.approx(hold_time(PLAIN), rel=1e-9)


def test_what_is_common_to_all_is_known_of_both() -> None:
    """A film that readings of A speak of is the same air that B stands in."""
    windy = belief("exterior_film", 2.0)
    found = explain_pair(Contender(PLAIN, SCENARIO, windy), Contender(OTHER, SCENARIO), LIMIT)
    assert found.groups == tuple(CHANGES)
    assert found.second_time.nominal == pytest.approx(hold_time(OTHER, belief=windy), rel=1e-9)


def with_name(container: Container) -> Container:
    return container.model_copy(update={"name": "another"})


# --- refusals -------------------------------------------------------------------------------------------------


def test_a_limit_that_is_not_reached_is_refused_in_one_line() -> None:
    with pytest.raises(InputError, match=r"does not get there within 0\.01 days.*nearer to the start") as error:
        explain_pair(Contender(PLAIN, SCENARIO), Contender(OTHER, SCENARIO), LIMIT, horizon=864.0)
    assert len(error.value.problems) == 1


def test_a_fill_that_does_not_fit_one_of_them_is_refused() -> None:
    much = Scenario(fill="5 L")
    with pytest.raises(InputError, match="beyond the brim"):
        explain_pair(Contender(PLAIN, much), Contender(OTHER, much), LIMIT)


def test_logarithmic_mean() -> None:
    """(b - a) / ln(b / a), which lies between geometric and arithmetic mean; exact."""
    one, other = np.array([2.0, 3.0, 5.0]), np.array([8.0, 3.0, 5.0 * (1.0 + 1e-9)])
    assert logarithmic_mean(one, other) == pytest.approx([6.0 / np.log(4.0), 3.0, 5.0], rel=1e-8)
