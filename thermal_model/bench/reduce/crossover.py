"""Crossover trials: the same subjects under several treatments in several periods.

On a bench the subjects are containers, the periods days, and the treatments thermometers.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array


@dataclass(frozen=True)
class CrossoverFit:
    """Effects of treatments against the first one.

    Attributes
    ----------
    treatments : tuple of str
        In order of first appearance.
    effect : (m - 1,) array
        Of the second, third, ... treatment less the first.
    covariance : (m - 1, m - 1) array
    degrees_of_freedom : int
    """

    treatments: tuple[str, ...]
    effect: Array
    covariance: Array
    degrees_of_freedom: int

    @property
    def standard_error(self) -> Array:
        """Of each effect."""
        return np.sqrt(np.diag(self.covariance))


def fit_crossover(
    subjects: Sequence[str], periods: Sequence[str], treatments: Sequence[str], responses: Array
) -> CrossoverFit | None:
    """Fit subject, period and treatment effects by ordinary least squares.

    Parameters
    ----------
    subjects, periods, treatments : sequence of n str
        Of each response.
    responses : (n,) array

    Returns
    -------
    CrossoverFit or None
        None if these responses can't tell treatments from subjects and periods, or leave nothing to judge scatter by.

    References
    ----------
    .. [1] S. Senn, Cross-over Trials in Clinical Research, 2nd ed. (2002), ch. 3: with two treatments in two periods
       this is the analysis adjusted for a period effect.
    """
    names = tuple(dict.fromkeys(treatments))
    effects = _indicators(treatments)[:, 1:]
    nuisance = np.hstack([_indicators(subjects), _indicators(periods)[:, 1:]])
    # What subjects and periods explain is taken out of both sides (Frisch, Waugh and Lovell).
    basis = _orthonormal_basis(nuisance)
    left = effects - basis @ (basis.T @ effects)
    right = responses - basis @ (basis.T @ responses)
    freedom = len(responses) - basis.shape[1] - effects.shape[1]
    if not effects.shape[1] or freedom < 1 or np.linalg.matrix_rank(left, tol=1e-9) < effects.shape[1]:
        return None
    inverse = np.linalg.inv(left.T @ left)
    effect = inverse @ (left.T @ right)
    residual = right - left @ effect
    variance = float(residual @ residual) / freedom
    return CrossoverFit(names, effect, variance * inverse, freedom)


def _indicators(labels: Sequence[str]) -> Array:
    """Return an (n, m) table of which of m labels each row has."""
    names = list(dict.fromkeys(labels))
    table: Array = np.array([[float(label == name) for name in names] for label in labels])
    return table


def _orthonormal_basis(columns: Array) -> Array:
    left, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    return left[:, sizes > 1e-9 * sizes[0]]
