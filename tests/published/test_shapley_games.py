"""Shapley values of games whose answer is known in closed form."""

import math
from itertools import accumulate

import numpy as np
import pytest

from geometries.numeric import Array
from thermal_model.reasons.shapley import shapley_shares


def worth_of(players: int, worth: object) -> Array:
    """Worth of each coalition, given as a function of the set of its members."""
    assert callable(worth)
    coalitions = (frozenset(i for i in range(players) if s >> i & 1) for s in range(1 << players))
    return np.array([float(worth(members)) for members in coalitions])


def test_glove_game() -> None:
    """One left glove, two right ones; a pair is worth 1. Textbook example; from memory."""
    worth = worth_of(3, lambda s: 0 in s and len(s) > 1)
    assert shapley_shares(worth) == pytest.approx([2 / 3, 1 / 6, 1 / 6], rel=1e-14)


@pytest.mark.parametrize("costs", [(1.0, 2.0, 3.0), (16.0, 20.0, 25.0, 60.0), (5.0, 5.0)])
def test_airport_game(costs: tuple[float, ...]) -> None:
    """A runway costs what its longest aircraft needs; each stretch is shared by those that use it.

    Littlechild and Owen, Management Science 20 (1973) 370-372; from memory.
    """
    stretches = np.diff((0.0, *costs))
    expected = list(accumulate(stretches[i] / (len(costs) - i) for i in range(len(costs))))
    worth = worth_of(len(costs), lambda s: max((costs[i] for i in s), default=0.0))
    assert shapley_shares(worth) == pytest.approx(expected, rel=1e-13)


def test_security_council() -> None:
    """Five members with a veto, nine votes of fifteen: 421/2145 and 4/2145 each.

    Shapley and Shubik, Am. Polit. Sci. Rev. 48 (1954) 787-792, for the council of fifteen; from memory.
    """
    worth = worth_of(15, lambda s: len(s) >= 9 and all(i in s for i in range(5)))
    shares = shapley_shares(worth)
    assert shares[:5] == pytest.approx([421 / 2145] * 5, rel=1e-12)
    assert shares[5:] == pytest.approx([4 / 2145] * 10, rel=1e-12)


def test_weighted_majority() -> None:
    """Weights 50, 49, 1 and a majority of 51: the small one is as strong as the middle one. Textbook; from memory."""
    weights = (50, 49, 1)
    worth = worth_of(3, lambda s: sum(weights[i] for i in s) >= 51)
    assert shapley_shares(worth) == pytest.approx([2 / 3, 1 / 6, 1 / 6], rel=1e-14)


def test_product_game() -> None:
    """The worth n! of all players, 0 of fewer, is shared alike: unanimity (Shapley 1953, axiom of symmetry)."""
    worth = worth_of(6, lambda s: math.factorial(6) if len(s) == 6 else 0.0)
    assert shapley_shares(worth) == pytest.approx([120.0] * 6, rel=1e-14)
