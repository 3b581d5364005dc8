"""The one optimiser: SciPy's trust region for least squares, with a Jacobian that is given."""

from collections.abc import Callable
from typing import Any

from geometries.numeric import Array

TIGHT = 1e-14
"""Relative change of cost and of the unknowns, and gradient, at which it stops."""

MOST_EVALUATIONS = 500

MANY = 60
"""Unknowns from which on steps are found by LSMR, an iteration, instead of a singular value decomposition."""


def least_squares(
    residuals: Callable[[Array], Array], jacobian: Callable[[Array], Any], start: Array, *, tolerance: float = TIGHT
) -> Any:
    """Minimise a sum of squares; return SciPy's `OptimizeResult`.

    Parameters
    ----------
    residuals : callable
        (p,) to (m,).
    jacobian : callable
        (p,) to (m, p), dense, or sparse where there are more than MANY unknowns.
    start : (p,) array
    tolerance : float

    References
    ----------
    .. [1] M. A. Branch, T. F. Coleman and Y. Li, SIAM J. Sci. Comput. 21 (1999) 1-23, as in SciPy's `least_squares`.
    """
    from scipy.optimize import least_squares as trust_region

    return trust_region(
        residuals,
        start,
        jac=jacobian,
        method="trf",
        x_scale="jac" if len(start) <= MANY else 1.0,
        tr_solver="exact" if len(start) <= MANY else "lsmr",
        ftol=tolerance,
        xtol=tolerance,
        gtol=tolerance,
        max_nfev=MOST_EVALUATIONS,
    )
