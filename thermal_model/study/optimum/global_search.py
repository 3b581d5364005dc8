"""Over all of a space: differential evolution (SciPy's), every generation in one call; what is cheap is asked first."""

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.study.optimum.problem import FEASIBLE, Candidates, Record

TRIED_CHEAPLY = 2048
"""Points of a Sobol' sequence whose cheap constraints are looked at before the first design is computed."""

SMALLEST, LARGEST = 24, 96
"""Of a population."""

NEAREST = 8
"""Points that are computed where none was found that meets the cheap constraints: a refinement may come from there."""

UNKNOWN_MISS = 1.0
"""What stands for a miss that was not computed because a cheap constraint is missed already. [-]"""


def unit_points(record: Record, rows: Array) -> Candidates:
    """Return points of the solver's own form: shares, then numbers of choices."""
    p = record.problem.dimensions
    return Candidates(np.ascontiguousarray(rows[:, :p]), np.rint(rows[:, p:]).astype(np.int64))


def first_points(record: Record, count: int, seed: int) -> tuple[Array, bool]:
    """Return points to begin with, (count, p + q): those of many that miss the cheap constraints least."""
    from scipy.stats.qmc import Sobol

    problem = record.problem
    width = problem.dimensions + len(problem.choices)
    shares = Sobol(width, scramble=True, seed=seed).random(TRIED_CHEAPLY)
    sizes = np.array(problem.choices, dtype=float)
    rows = shares.copy()
    rows[:, problem.dimensions :] = np.minimum(np.floor(shares[:, problem.dimensions :] * sizes), sizes - 1.0)
    misses = np.nan_to_num(problem.cheap_misses(unit_points(record, rows)), nan=np.inf)
    worst = np.maximum(misses, 0.0).sum(axis=1) if misses.shape[1] else np.zeros(len(rows))
    worst[worst <= FEASIBLE] = 0.0
    order = np.argsort(worst, kind="stable")[:count]
    return rows[order], bool((worst == 0.0).any())


def search(record: Record, objective: int, budget: int, seed: int) -> None:
    """Look over all of the space for a small objective; what was found is in the record.

    Parameters
    ----------
    record : Record
    objective : int
    budget : int
        Points that are computed, about.
    seed : int
    """
    from scipy.optimize import NonlinearConstraint, differential_evolution

    problem = record.problem
    width = problem.dimensions + len(problem.choices)
    population = int(np.clip(6 * width, SMALLEST, LARGEST))
    population = min(population, max(budget // 4, 5))
    first, _ = first_points(record, population, seed)
    before = record.evaluations

    def energy(rows: Array) -> Array:
        points = unit_points(record, np.atleast_2d(rows.T))
        return np.nan_to_num(record.values(points).objectives[:, objective], nan=np.inf)

    def misses(rows: Array) -> Array:
        found = _misses(record, unit_points(record, np.atleast_2d(rows.T)))
        return found.T if rows.ndim == 2 else found[0]  # SciPy begins with one point by itself

    def is_spent(intermediate_result: object) -> bool:  # noqa: ARG001 - SciPy looks at this name
        return record.evaluations - before >= budget

    differential_evolution(
        energy,
        [(0.0, 1.0)] * problem.dimensions + [(0.0, float(size - 1)) for size in problem.choices],
        integrality=[False] * problem.dimensions + [True] * len(problem.choices),
        constraints=NonlinearConstraint(misses, -np.inf, FEASIBLE) if problem.size[1] else (),
        init=first,
        maxiter=max(3 * budget // population, 1),
        updating="deferred",
        vectorized=True,
        polish=False,
        rng=np.random.default_rng(seed),
        callback=is_spent,
        tol=1e-4,
    )
    if not record.found:
        record.values(unit_points(record, first[:NEAREST]))


def _misses(record: Record, points: Candidates) -> Array:
    """Return misses, (n, k); what takes work is only asked of points that meet what does not."""
    problem = record.problem
    found = np.nan_to_num(problem.cheap_misses(points), nan=1e3)
    cheap: NDArray[np.bool_] = problem.is_cheap
    if not cheap.all():
        rows = np.flatnonzero((found[:, cheap] <= FEASIBLE).all(axis=1))
        found[:, ~cheap] = UNKNOWN_MISS
        if len(rows):
            values = record.values(points.some(rows))
            found[rows] = np.nan_to_num(values.misses, nan=1e3)
    return found
