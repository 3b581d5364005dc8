"""Texts beside what they name, clear of each other."""

from collections.abc import Sequence

import numpy as np


def spread(wanted: Sequence[float], room: np.ndarray, low: float, high: float) -> np.ndarray:
    """Return heights as near as may be to those wanted, from the top down, each with its room.

    Parameters
    ----------
    wanted : sequence of k floats
        Falling.
    room : (k,) array
        Height of each text; neighbours are half the sum of theirs apart.
    low, high : float
        Within which they stay if there is room enough.

    Returns
    -------
    (k,) array

    Examples
    --------
    >>> spread([1.0, 0.9], np.array([0.2, 0.2]), 0.0, 2.0).round(3).tolist()
    [1.05, 0.85]
    """
    if not len(wanted):
        return np.zeros(0)
    distance = np.concatenate([[0.0], 0.5 * (room[1:] + room[:-1])]).cumsum()
    # With distances taken off, an order is kept where values do not rise: the nearest such values are block means.
    blocks: list[tuple[float, int]] = []
    for value in np.asarray(wanted, dtype=float) + distance:
        blocks.append((float(value), 1))
        while len(blocks) > 1 and blocks[-2][0] < blocks[-1][0]:
            (first, n), (second, m) = blocks[-2:]
            blocks[-2:] = [((first * n + second * m) / (n + m), n + m)]
    level = np.concatenate([np.full(count, mean) for mean, count in blocks])
    heights = np.clip(level, low + distance[-1], max(high, low + distance[-1])) - distance
    return np.asarray(heights)
