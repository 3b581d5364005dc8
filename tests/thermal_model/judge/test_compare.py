"""Rankings: the same whatever the order given, ties and missing answers safe, tiers as stated."""

import itertools
from typing import Any

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from geometries.numeric import Array
from tests.thermal_model.runs import scenario
from thermal_model.judge import compare
from thermal_model.judge.compare import CLEAR, Entry, Ranking, by_capacity, chance_of_longer, moves, rank, rank_each
from thermal_model.report.compare_text import ranking_text
from thermal_model.uncertainty import Belief
from thermal_model.words.numbers import Scale

CASE = scenario(start="80 C", fill="200 mL")
LIMIT = 343.15
CUPS = [Entry(name, load_container(name)) for name in ("single_wall_steel", "stoneware_cup", "handled_tumbler_straw")]


def ranked(entries: list[Entry], **options: Any) -> Ranking:
    return rank(entries, CASE, LIMIT, **{"draws": 24, **options})


def drawn_times(monkeypatch: pytest.MonkeyPatch, times: dict[str, Array]) -> Ranking:
    """A ranking of made-up draws; the container itself does not matter."""
    cup = CUPS[0].container
    entries = [Entry(name, cup) for name in times]
    monkeypatch.setattr(compare, "_path_shares", lambda samples, *_: [{} for _ in samples])
    monkeypatch.setattr(
        compare, "sample_times", lambda *_, **__: (np.stack([times[name] for name in sorted(times)]), {})
    )
    return rank(entries, CASE, LIMIT, draws=len(next(iter(times.values()))) - 1)


def test_order_of_input_does_not_matter() -> None:
    first = ranked(CUPS)
    for order in itertools.permutations(CUPS):
        again = ranked(list(order))
        assert [s.entry.name for s in again.standings] == [s.entry.name for s in first.standings]
        assert [s.tier for s in again.standings] == [s.tier for s in first.standings]
        for one, other in zip(first.standings, again.standings, strict=True):
            np.testing.assert_array_equal(one.times, other.times)


def test_several_conditions_at_once_are_each_alone_to_the_bit() -> None:
    conditions = {"hot": (CASE, LIMIT), "cold": (CASE.model_copy(update={"start": 277.15}), 283.15)}
    together = rank_each(CUPS, conditions, draws=24)
    for name, (given, limit) in conditions.items():
        alone = rank(CUPS, given, limit, draws=24)
        for one, other in zip(together[name].standings, alone.standings, strict=True):
            np.testing.assert_array_equal(one.times, other.times)
            assert (one.entry, one.fill, one.tier, one.paths) == (other.entry, other.fill, other.tier, other.paths)


def test_nothing_to_rank_is_refused_in_one_line() -> None:
    with pytest.raises(InputError, match="no container is given"):
        ranked([])


def test_insulation_holds_longest() -> None:
    """A vacuum wall with a lid against open or single walls: common practice, no source."""
    assert ranked(CUPS, draws=0).standings[0].entry.name == "handled_tumbler_straw"


def test_a_container_against_its_copy_ties() -> None:
    cup = CUPS[0].container
    found = ranked([Entry("a", cup), Entry("b", cup)], draws=200)
    assert [s.tier for s in found.standings] == [1, 1]
    assert found.standings[0].nominal == found.standings[1].nominal
    assert abs(found.standings[0].beats_next - 0.5) < 0.15


def test_equal_draws_count_half() -> None:
    lanes = np.array([5.0, 1.0, 2.0, 3.0])
    assert chance_of_longer(lanes, lanes) == 0.5
    assert np.isnan(chance_of_longer(lanes[:1], lanes[:1]))


def test_tier_begins_where_its_head_is_clearly_beaten(monkeypatch: pytest.MonkeyPatch) -> None:
    generator = np.random.default_rng(1)
    noise = generator.normal(0.0, 1.0, (4, 4001))
    times = {name: 100.0 + shift + row for name, shift, row in zip("abcd", (9.0, 8.5, 4.0, 0.0), noise, strict=True)}
    found = drawn_times(monkeypatch, times)
    assert [s.entry.name for s in found.standings] == ["a", "b", "c", "d"]
    assert [s.tier for s in found.standings] == [1, 1, 2, 3]
    # The difference of two draws is normal with deviation sqrt 2: the closed form of what is printed.
    assert found.standings[0].beats_next == pytest.approx(0.638, abs=0.02)
    assert found.standings[1].beats_next > CLEAR


def test_what_is_never_reached_comes_first_and_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    found = drawn_times(
        monkeypatch, {"never": np.full(50, np.inf), "soon": np.full(50, 9.0), "some": np.r_[9.0, [np.inf] * 49]}
    )
    assert [s.entry.name for s in found.standings] == ["never", "some", "soon"]
    assert np.isinf(found.standings[0].centre)
    assert found.standings[0].beats_next == pytest.approx(0.5)


def test_what_could_not_be_computed_is_left_out_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """A failed draw once counted as one that is never reached, and so ranked first."""
    found = drawn_times(
        monkeypatch,
        {"some failed": np.r_[8.0, [np.nan] * 40, [8.0] * 9], "sound": np.full(50, 9.0), "lost": np.full(50, 7.0)},
    )
    assert [s.entry.name for s in found.standings] == ["sound", "some failed", "lost"]
    assert [s.failed for s in found.standings] == [0, 40, 0]
    assert found.standings[1].interval == (8.0, 8.0)
    assert found.standings[0].beats_next == 1.0
    assert "some failed: 40 of 49 samples could not be computed" in ranking_text(found, "", frozenset(), Scale.CELSIUS)


def test_too_small_a_container_is_left_out_and_said() -> None:
    large = scenario(start="80 C", fill="500 mL")
    found = rank([*CUPS, Entry("bottle", load_container("slim_neck_double_seal"))], large, LIMIT, draws=0)
    assert "stoneware_cup" in found.left_out
    assert "holds" in found.left_out["stoneware_cup"]
    assert "bottle" in {s.entry.name for s in found.standings}


def test_limit_beyond_the_room_is_refused() -> None:
    with pytest.raises(InputError, match="room"):
        rank(CUPS[2:], CASE, 280.0, draws=0)


def test_belief_moves_a_container_alone() -> None:
    shiny = Belief(("exterior_emissivity",), np.array([-3.0]), np.array([[0.1]]))
    cup = CUPS[0].container
    found = {s.entry.name: s.nominal for s in ranked([Entry("a", cup), Entry("b", cup, shiny)], draws=0).standings}
    assert found["b"] > found["a"]


def test_groups_by_capacity_hold_every_container_once() -> None:
    entries = [*CUPS, Entry("wide", load_container("wide_mouth_disc"))]
    found = ranked(entries, draws=0)
    grouped = [s.entry.name for members in by_capacity(found).values() for s in members]
    assert sorted(grouped) == sorted(entry.name for entry in entries)


def test_moves_between_lists(monkeypatch: pytest.MonkeyPatch) -> None:
    one = ranked(CUPS, draws=0)
    reverse = Ranking(one.scenario, one.limit, one.standings[::-1], {}, 0, 1)
    found = moves(one, reverse)
    assert {(move.before, move.after) for move in found} == {(1, 3), (3, 1)}
    assert moves(one, one) == []
