"""The axioms that make the Shapley value the only fair one (Shapley 1953)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometries.numeric import Array
from thermal_model.reasons.shapley import shapley_shares

games = st.integers(1, 5).flatmap(
    lambda k: st.lists(st.floats(-1e3, 1e3), min_size=2**k, max_size=2**k).map(lambda w: np.array(w))
)


@given(games)
def test_shares_add_up(worth: Array) -> None:
    assert shapley_shares(worth).sum() == pytest.approx(worth[-1] - worth[0], rel=1e-9, abs=1e-9)


@given(games)
def test_who_adds_nothing_gets_exactly_nothing(worth: Array) -> None:
    """Double the game with a player who never changes what a coalition is worth."""
    assert shapley_shares(np.concatenate([worth, worth]))[-1] == 0.0


@given(games)
def test_a_game_seen_from_the_other_side_changes_sign(worth: Array) -> None:
    """Coalition s against its complement: B's view of what A's parts gain."""
    assert shapley_shares(worth[::-1]) == pytest.approx(-shapley_shares(worth), rel=1e-9, abs=1e-9)


@given(games, st.floats(-10, 10))
def test_shares_of_a_sum_are_the_sum_of_shares(worth: Array, factor: float) -> None:
    other = np.sin(worth)
    both = shapley_shares(worth + factor * other)
    assert both == pytest.approx(shapley_shares(worth) + factor * shapley_shares(other), rel=1e-9, abs=1e-8)


def test_players_that_act_alike_get_alike() -> None:
    shares = shapley_shares(np.array([0.0, 3.0, 3.0, 10.0]))
    assert shares == pytest.approx([5.0, 5.0], rel=1e-15)


def test_lanes_are_games_of_their_own() -> None:
    worth = np.random.default_rng(1).normal(size=(8, 3))
    together = shapley_shares(worth)
    assert together.shape == (3, 3)
    for lane in range(3):
        assert together[:, lane] == pytest.approx(shapley_shares(worth[:, lane]), rel=1e-12)


def test_no_players_no_shares() -> None:
    assert shapley_shares(np.array([4.2])).shape == (0,)


def test_coalitions_must_be_all() -> None:
    with pytest.raises(ValueError, match="3 coalitions are no power of two"):
        shapley_shares(np.zeros(3))
