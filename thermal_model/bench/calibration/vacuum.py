"""The vacuum of a gap, whose posterior is not normal: heat through a thin gas goes as its pressure, over decades.

What was measured is the sum of radiation and gas. A pressure that is ten times higher takes visibly from the
emissivity, one ten times lower gives hardly anything back: a normal distribution about the most probable point would
be too sure of the emissivity, on one side. In the pressure itself the model is nearly straight, so that the
distribution follows from one integral a container.
"""

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import PRESSURE, Coordinates, Owner
from thermal_model.uncertainty import PRIORS

FARTHEST, POINTS = 4.5, 361
"""Reach of the integral in standard deviations of the prior, and its points."""

LEAST_SPOKEN = 1e-6
"""Less information than this about a pressure changes nothing. [-]"""


def with_vacuum(coordinates: Coordinates, centre: Array, covariance: Array) -> tuple[Array, Array]:
    """Return mean and covariance of the posterior, (p,) and (p, p), from those of the normal one about its peak.

    Parameters
    ----------
    coordinates : Coordinates
    centre : (p,) array
        The most probable point.
    covariance : (p, p) array
        Inverse curvature there.
    """
    owners = {c.owner for c in coordinates.listed if c.kind is Owner.CONTAINER}
    for owner in sorted(owners):
        place = coordinates.place(Owner.CONTAINER, owner, PRESSURE)
        centre, covariance = _integrated(centre, covariance, place)
    return centre, covariance


def excess_pressure(z: Array, peak: float) -> Array:
    """Return the excess of a pressure over that of the peak, both as standard normals, in units of the latter."""
    width = PRIORS[PRESSURE].width
    return np.expm1(width * (z - peak)) / width


def log_marginal(z: Array, peak: float, told: float) -> Array:
    """Return the logarithm of the posterior of a pressure, but for a constant, the others integrated over.

    With z the standard normal, f = (exp(w (z - z0)) - 1) / w the pressure's excess over that of the peak, z0, and h
    what the readings tell of f, log p(z) = z0 f - h f^2 / 2 - z^2 / 2: its slope at the peak is nothing, as it must.
    """
    excess = excess_pressure(z, peak)
    return peak * excess - 0.5 * told * excess**2 - 0.5 * z**2


def _integrated(centre: Array, covariance: Array, place: int) -> tuple[Array, Array]:
    """Return mean and covariance with one pressure integrated over, the rest linear in the pressure.

    Mean and covariance over the marginal of `log_marginal`.
    """
    told = 1.0 / covariance[place, place] - 1.0
    if told < LEAST_SPOKEN:
        return centre, covariance
    z = np.linspace(-FARTHEST, FARTHEST, POINTS)
    excess, logarithm = excess_pressure(z, float(centre[place])), log_marginal(z, float(centre[place]), told)
    weight = np.exp(logarithm - logarithm.max())
    weight /= weight.sum()
    mean_z, mean_excess = weight @ z, weight @ excess
    spread_z, spread_excess = weight @ (z - mean_z) ** 2, weight @ (excess - mean_excess) ** 2
    together = weight @ ((z - mean_z) * (excess - mean_excess))
    slope = covariance[:, place] / covariance[place, place]
    changed = covariance + np.outer(slope, slope) * (spread_excess - covariance[place, place])
    changed[place, :] = changed[:, place] = slope * together
    changed[place, place] = spread_z
    moved = centre + slope * mean_excess
    moved[place] = mean_z
    return moved, changed
