"""How near a point is to the best one: what holds it back, what more room would be worth, what slope is left."""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.study.optimum.refine import Refined

AT_BOUND = 1e-6
"""Share of a range within which a point lies at its end. [-]"""

ACTIVE = 1e-4
"""Relative miss from which on a constraint holds the point back. [-]"""

SMALL_MOVE = 0.01
"""Share of each range by which `left_over` moves a point. [-]"""


@dataclass(frozen=True)
class Nearness:
    """What holds a point back (Lagrange multipliers), and what is left.

    Attributes
    ----------
    constraints : dict of int to float
        Constraints that are met with nothing to spare, and by how much the objective falls for a unit of miss allowed.
    caps : dict of int to float
        Other objectives that are as large as they may be, and the same for each of the cap's size.
    bounds : dict of int to float
        What lies at an end of its range, and by how much the objective falls for a whole range more; the sign of the
        direction goes with `is_upper`.
    is_upper : dict of int to bool
        Whether that is the upper end.
    left_over : float
        By how much the objective would still fall if everything moved by SMALL_MOVE of its range, to first order; 0 at
        an optimum.
    """

    constraints: dict[int, float]
    caps: dict[int, float]
    bounds: dict[int, float]
    is_upper: dict[int, bool]
    left_over: float


def nearness(end: Refined) -> Nearness:
    """Return what holds the end of a refinement back.

    Notes
    -----
    At an optimum the objective's slope is a sum of those of the active constraints, none with a negative share
    (Karush-Kuhn-Tucker); the shares are found by non-negative least squares.
    """
    from scipy.optimize import nnls

    slope = np.nan_to_num(end.slopes.objectives[0, end.task.objective])
    shares = end.points.shares[0]
    rows: list[tuple[str, int, Array]] = []
    for number, miss in enumerate(end.values.misses[0]):
        if miss >= -ACTIVE:
            rows.append(("constraint", number, np.nan_to_num(end.slopes.misses[0, number])))
    for cap in end.task.caps:
        if cap.miss(end.values.objectives[0]) >= -ACTIVE:
            rows.append(("cap", cap.objective, np.nan_to_num(end.slopes.objectives[0, cap.objective]) / cap.size))
    for number, share in enumerate(shares):
        if share <= AT_BOUND or share >= 1.0 - AT_BOUND:
            rows.append(("bound", number, (1.0 if share > 0.5 else -1.0) * np.eye(len(shares))[number]))
    if not rows:
        return Nearness({}, {}, {}, {}, float(SMALL_MOVE * np.abs(slope).sum()))
    directions = np.array([direction for _, _, direction in rows])
    size = max(float(np.abs(slope).max(initial=0.0)), 1e-300)
    worth, _ = nnls(directions.T, -slope / size)
    left = slope / size + directions.T @ worth
    found: dict[str, dict[int, float]] = {"constraint": {}, "cap": {}, "bound": {}}
    for (kind, number, _), value in zip(rows, worth * size, strict=True):
        found[kind][number] = float(value)
    upper = {number: bool(shares[number] > 0.5) for number in found["bound"]}
    return Nearness(
        found["constraint"], found["cap"], found["bound"], upper, float(SMALL_MOVE * size * np.abs(left).sum())
    )
