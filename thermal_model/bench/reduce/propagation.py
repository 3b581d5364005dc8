"""Uncertainty of what is computed from measured things: means with covariance, and first-order propagation."""

from collections.abc import Callable

import numpy as np

from geometries.numeric import Array

_STEP = 1e-3
"""Of central differences, in standard uncertainties."""


def propagate(function: Callable[[Array], Array], mean: Array, covariance: Array) -> tuple[Array, Array]:
    """Return values of a function and their covariance, to first order.

    Parameters
    ----------
    function : callable
        Of a (k,) array, returns an (m,) array.
    mean : (k,) array
    covariance : (k, k) array

    Returns
    -------
    (m,) array
    (m, m) array

    Notes
    -----
    cov(y) = J cov(x) J', with sensitivities J by central differences over a thousandth of each standard uncertainty.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), eq. 13 of 5.2.2; eq. H.9 for several results.

    Examples
    --------
    >>> value, covariance = propagate(lambda x: x[:1] * x[1:], np.array([2.0, 3.0]), np.diag([0.01, 0.04]))
    >>> float(value[0]), round(float(covariance[0, 0]), 6)
    (6.0, 0.25)
    """
    steps = _STEP * np.sqrt(np.diag(covariance))
    columns = [_sensitivity(function, mean, k, float(step)) for k, step in enumerate(steps)]
    jacobian = np.stack(columns, axis=1)
    return function(mean), jacobian @ covariance @ jacobian.T


def _sensitivity(function: Callable[[Array], Array], mean: Array, k: int, step: float) -> Array:
    if step == 0.0:
        return np.zeros_like(function(mean))
    up, down = mean.copy(), mean.copy()
    up[k] += step
    down[k] -= step
    return (function(up) - function(down)) / (up[k] - down[k])
