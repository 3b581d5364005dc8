"""How far the pieces of a design lie from the design as drawn: computed at a few designs, estimated around them.

What a spread does to a hold time changes slowly from design to design. So a search follows the design as drawn alone,
and takes its pieces from the anchors: to first order around each of them, blended between them (Shepard 1968, "A
two-dimensional interpolation function for irregularly-spaced data", Proc. 23rd ACM National Conference, 517-524, cited
from memory). At an anchor value and slope are those of the pieces themselves; so a search that puts its ends among the
anchors and goes on comes to rest where the pieces would have it (first-order consistency: Alexandrov et al. 1998,
Structural Optimization 15, 16-23, cited from memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.study.optimum.problem import Candidates, Kinds

LONGEST_REACH = 0.5
"""Most that an estimated piece moves by slopes, as a logarithm: far away they say little. [-]"""

CLOSE = 1e-12
"""Square of a distance below which two points are one."""


@dataclass(frozen=True)
class Anchor:
    """A design whose pieces were computed.

    Attributes
    ----------
    shares : (p,) array
    kinds : (q,) int array
        As in `Candidates`.
    ratios : dict of str to (pieces,) array
        Logarithm of a piece's hold time over that of the design as drawn, by the name of the hold time.
    slopes : dict of str to (pieces, p) array
        Of the same, per share of a range; empty where they are not known.
    """

    shares: Array
    kinds: Kinds
    ratios: Mapping[str, Array]
    slopes: Mapping[str, Array]

    def estimated(self, name: str, points: Candidates) -> Array:
        """Return log ratios of the pieces of points, (n, pieces); of other kinds without slopes."""
        ratios = np.broadcast_to(self.ratios[name], (points.count, len(self.ratios[name])))
        if name not in self.slopes:
            return ratios
        # A sum by rows, not a product of matrices, whose last digit depends on how many rows there are.
        way = ((points.shares - self.shares)[:, None, :] * self.slopes[name][None]).sum(axis=2)
        is_same = (points.kinds == self.kinds).all(axis=1)
        return ratios + np.where(is_same[:, None], LONGEST_REACH * np.tanh(way / LONGEST_REACH), 0.0)

    def nearness(self, points: Candidates) -> Array:
        """Return a weight, (n,), that grows towards the anchor; other kinds are as far as a whole range."""
        square = ((points.shares - self.shares) ** 2).sum(axis=1) + (points.kinds != self.kinds).sum(axis=1)
        return np.asarray((square + CLOSE) ** -2.0)


def estimated_ratios(anchors: Sequence[Anchor], name: str, points: Candidates) -> Array:
    """Return log ratios of the pieces of points, (n, pieces), from all anchors, the nearest of which count most."""
    total = np.zeros((points.count, len(anchors[0].ratios[name])))
    weight = np.zeros(points.count)
    for anchor in anchors:
        own = anchor.nearness(points)
        total += own[:, None] * anchor.estimated(name, points)
        weight += own
    return total / weight[:, None]
