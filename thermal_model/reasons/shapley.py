"""Fair shares of a difference: each player's contribution averaged over all orders in which the players may come."""

import math

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.scatter import Indices


def shapley_shares(worth: Array) -> Array:
    """Return the Shapley value of every player.

    Parameters
    ----------
    worth : (2**k,) or (2**k, n) array
        What each coalition is worth; player i belongs to coalition number s if bit i of s is set. A second axis
        holds n games.

    Returns
    -------
    (k,) or (k, n) array
        They add up to the worth of all players together less that of none.

    Raises
    ------
    ValueError
        If the number of coalitions is no power of two.

    References
    ----------
    .. [1] Shapley, L. S., "A Value for n-Person Games", Contributions to the Theory of Games II, Annals of
       Mathematics Studies 28 (1953), 307-317.

    Examples
    --------
    >>> shapley_shares(np.array([0.0, 1.0, 2.0, 5.0]))
    array([2., 3.])
    """
    worth = np.asarray(worth, dtype=float)
    players = len(worth).bit_length() - 1
    if len(worth) != 1 << players:
        raise ValueError(f"{len(worth)} coalitions are no power of two")
    coalitions = np.arange(len(worth))
    weights = _weights(players)[_sizes(players)]
    shares = np.empty((players, *worth.shape[1:]))
    for player in range(players):
        without = coalitions[(coalitions >> player) & 1 == 0]
        gains = worth[without | (1 << player)] - worth[without]
        shares[player] = np.tensordot(weights[without], gains, axes=1)
    return shares


def _sizes(players: int) -> Indices:
    """Return how many players each coalition has, (2**k,)."""
    sizes = np.zeros(1 << players, dtype=np.intp)
    for player in range(players):
        sizes[1 << player : 2 << player] = sizes[: 1 << player] + 1
    return sizes


def _weights(players: int) -> Array:
    """Return the share of orders in which just a certain coalition of each size comes before a certain player."""
    sizes = range(players + 1)
    orders = [math.factorial(s) * math.factorial(max(players - s - 1, 0)) for s in sizes]
    return np.array(orders, dtype=float) / math.factorial(max(players, 1))
