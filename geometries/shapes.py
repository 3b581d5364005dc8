"""Shapes of revolution: discs, cylinders, frusta and the profile they add up to.

All functions are pure and take floats or arrays that broadcast; angles go all the way round.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from geometries.numeric import Numeric


def circle_area(radius: Numeric) -> Numeric:
    """Return the area of a circle, pi r^2 [m2 from m].

    Examples
    --------
    >>> round(circle_area(0.022), 6)
    0.001521
    """
    return np.pi * radius * radius


def annulus_area(inner_radius: Numeric, outer_radius: Numeric) -> Numeric:
    """Return the area between two concentric circles [m2 from m]."""
    return np.pi * (outer_radius - inner_radius) * (outer_radius + inner_radius)


def cylinder_volume(radius: Numeric, height: Numeric) -> Numeric:
    """Return the volume of a cylinder, pi r^2 h [m3 from m]."""
    return circle_area(radius) * height


def slant_length(radius_start: Numeric, radius_end: Numeric, height: Numeric) -> Numeric:
    """Return the length of a frustum's side, sqrt(dr^2 + h^2) [m]."""
    return np.hypot(radius_end - radius_start, height)


def frustum_volume(radius_start: Numeric, radius_end: Numeric, height: Numeric) -> Numeric:
    """Return the volume of a frustum, pi h (r1^2 + r1 r2 + r2^2) / 3 [m3 from m]."""
    return np.pi / 3.0 * height * (radius_start * (radius_start + radius_end) + radius_end * radius_end)


def frustum_height(radius_start: Numeric, taper: Numeric, volume: Numeric) -> Numeric:
    """Return the height of a frustum from its volume.

    Parameters
    ----------
    radius_start : float or (n,) array
        At the bottom. [m]
    taper : float or (n,) array
        Change of radius per height, dr/dh. [-]
    volume : float or (n,) array
        Not more than the cone of this taper holds. [m3]

    Returns
    -------
    float or (n,) array
        [m]

    Notes
    -----
    r2^3 = r1^3 + 3 V taper / pi, then h = 3 V / (pi (r1^2 + r1 r2 + r2^2)), which holds for a cylinder
    as well and loses no digits near it.
    """
    radius_end = np.cbrt(radius_start**3 + 3.0 / np.pi * taper * volume)
    squares = radius_start * (radius_start + radius_end) + radius_end * radius_end
    return 3.0 / np.pi * volume / np.where(squares > 0.0, squares, 1.0)


@dataclass(frozen=True)
class Profile:
    """Meridian of a surface of revolution: straight segments through corner points, from bottom to top.

    The number of segments belongs to the kind of container and never depends on values. Flat rings (equal
    heights) and cylinders (equal radii) are segments like others; heights never fall. Distances along the
    profile (`s`) count from its bottom end.

    Attributes
    ----------
    radii, heights : tuple of float or (n,) array
        Of the m + 1 corners of m segments. [m]
    """

    radii: tuple[Numeric, ...]
    heights: tuple[Numeric, ...]

    def __post_init__(self) -> None:
        if len(self.radii) != len(self.heights) or len(self.radii) < 2:
            raise ValueError("a profile needs as many radii as heights, at least two")

    @property
    def segment_count(self) -> int:
        """Number of segments m."""
        return len(self.radii) - 1

    @property
    def lengths(self) -> tuple[Numeric, ...]:
        """Slant length of each segment [m]."""
        return tuple(slant_length(a, b, h) for (a, b), h in zip(pairwise(self.radii), self.rises, strict=True))

    @property
    def rises(self) -> tuple[Numeric, ...]:
        """Height of each segment [m]."""
        return tuple(top - bottom for bottom, top in pairwise(self.heights))

    @property
    def widenings(self) -> tuple[Numeric, ...]:
        """Change of radius over each segment [m]."""
        return tuple(end - start for start, end in pairwise(self.radii))


def arc_length(profile: Profile) -> Numeric:
    """Return the whole length of a profile [m]."""
    return _total(profile.lengths)


def radius_at(profile: Profile, s: Numeric) -> Numeric:
    """Return the radius at positions along a profile [m]."""
    shares = _fractions(profile, s)
    return profile.radii[0] + _total([f * d for f, d in zip(shares, profile.widenings, strict=True)])


def height_at(profile: Profile, s: Numeric) -> Numeric:
    """Return the height at positions along a profile [m]."""
    shares = _fractions(profile, s)
    return profile.heights[0] + _total([f * d for f, d in zip(shares, profile.rises, strict=True)])


def arc_length_at_height(profile: Profile, height: Numeric, past_ring: bool = False) -> Numeric:
    """Return the position along a profile at heights; of a flat ring its lower end, or with past_ring its upper [m]."""
    shares = _height_fractions(profile, height)
    if past_ring:
        flat = zip(shares, profile.heights, profile.rises, strict=False)
        shares = [
            np.where(np.equal(rise, 0.0) & np.greater_equal(height, low), 1.0, share) for share, low, rise in flat
        ]
    return _total([f * length for f, length in zip(shares, profile.lengths, strict=True)])


def radius_at_height(profile: Profile, height: Numeric) -> Numeric:
    """Return the radius at heights; of a flat ring its lower end [m]."""
    shares = _height_fractions(profile, height)
    return profile.radii[0] + _total([f * d for f, d in zip(shares, profile.widenings, strict=True)])


def area_below(profile: Profile, s: Numeric) -> Numeric:
    """Return the lateral area from the bottom of a profile up to positions along it; exact [m2]."""
    parts = []
    for i, f in enumerate(_fractions(profile, s)):
        radius_end = profile.radii[i] + f * profile.widenings[i]
        parts.append(np.pi * (profile.radii[i] + radius_end) * f * profile.lengths[i])
    return _total(parts)


def volume_below_height(profile: Profile, height: Numeric) -> Numeric:
    """Return the volume enclosed between the bottom of a profile and heights; exact.

    Parameters
    ----------
    profile : Profile
    height : float or array that broadcasts against the profile's values
        Beyond an end it counts as the end. [m]

    Returns
    -------
    float or array
        [m3]

    Examples
    --------
    >>> cone = Profile(radii=(0.0, 0.03), heights=(0.0, 0.09))
    >>> round(float(volume_below_height(cone, 0.09)) / (np.pi * 0.03**2 * 0.09), 6)
    0.333333
    """
    parts = []
    for i, f in enumerate(_height_fractions(profile, height)):
        radius_end = profile.radii[i] + f * profile.widenings[i]
        parts.append(frustum_volume(profile.radii[i], radius_end, f * profile.rises[i]))
    return _total(parts)


def height_of_volume(profile: Profile, volume: Numeric) -> Numeric:
    """Return the height up to which a profile encloses volumes, the inverse of `volume_below_height`.

    Parameters
    ----------
    profile : Profile
    volume : float or array that broadcasts against the profile's values
        More than the profile encloses counts as all of it. [m3]

    Returns
    -------
    float or array
        [m]
    """
    height, left = profile.heights[0], volume
    for (start, end), rise, widening in zip(pairwise(profile.radii), profile.rises, profile.widenings, strict=True):
        held = frustum_volume(start, end, rise)
        risen = frustum_height(start, _ratio(widening, rise), np.clip(left, 0.0, held))
        # A full segment is passed exactly, however sharp its upper end.
        height = height + np.where(np.greater_equal(left, held), rise, np.minimum(risen, rise))
        left = left - held
    return height


def shape_factor_between(profile: Profile, s1: Numeric, s2: Numeric) -> Numeric:
    """Return the integral of ds / (2 pi r) along a profile.

    Parameters
    ----------
    profile : Profile
        Radii positive between the positions.
    s1, s2 : float or array that broadcasts against the profile's values
        From and to; negative if s2 < s1. [m]

    Returns
    -------
    float or array
        Divided by conductivity and thickness it is the resistance along a thin sheet. [-]

    Notes
    -----
    On a cone of end radii a, b and length l the integral is l ln(b/a) / (2 pi (b - a)), written with
    artanh((b - a)/(b + a)) so that it stays exact as b approaches a.

    Examples
    --------
    >>> ring = Profile(radii=(0.02, 0.04), heights=(0.0, 0.0))
    >>> round(float(shape_factor_between(ring, 0.0, 0.02)) * 2.0 * np.pi, 6)  # ln 2
    0.693147
    """
    parts = []
    shares = zip(_fractions(profile, s1), _fractions(profile, s2), strict=True)
    for i, (low, high) in enumerate(shares):
        a = profile.radii[i] + low * profile.widenings[i]
        b = profile.radii[i] + high * profile.widenings[i]
        parts.append((high - low) * profile.lengths[i] / (2.0 * np.pi * log_mean(a, b)))
    return _total(parts)


def log_mean(a: Numeric, b: Numeric) -> Numeric:
    """Return the logarithmic mean (b - a) / ln(b / a) of positive numbers, a itself where a = b.

    Examples
    --------
    >>> round(float(log_mean(1.0, 2.0)), 6), float(log_mean(3.0, 3.0))
    (1.442695, 3.0)
    """
    x = (b - a) / (b + a)
    square = x * x
    is_small = square < 1e-4
    series = 1.0 + square * (1.0 / 3.0 + square * (1.0 / 5.0 + square * (1.0 / 7.0 + square / 9.0)))
    if np.all(is_small):  # an upright wall, as most are
        return 0.5 * (a + b) / series
    safe = np.where(is_small, 0.5, x)
    return 0.5 * (a + b) / np.where(is_small, series, np.arctanh(safe) / safe)


def _total(parts: Sequence[Numeric]) -> Numeric:
    total = parts[0]
    for part in parts[1:]:
        total = total + part
    return total


def _ratio(numerator: Numeric, denominator: Numeric) -> Numeric:
    """Return the quotient, 0 where the denominator is 0."""
    is_zero = np.equal(denominator, 0.0)
    return np.where(is_zero, 0.0, numerator / np.where(is_zero, 1.0, denominator))


def _fractions(profile: Profile, s: Numeric) -> list[Numeric]:
    """Return how much of each segment lies below positions, 0 to 1."""
    shares: list[Numeric] = []
    start: Numeric = 0.0
    for length in profile.lengths:
        shares.append(_share(s - start, length))
        start = start + length
    return shares


def _height_fractions(profile: Profile, height: Numeric) -> list[Numeric]:
    """Return how much of each segment lies below heights, 0 to 1."""
    return [_share(height - low, rise) for low, rise in zip(profile.heights, profile.rises, strict=False)]


def _share(distance: Numeric, length: Numeric) -> Numeric:
    """Return distance / length within 0 to 1; a segment without length is passed as soon as distance > 0."""
    is_empty = np.equal(length, 0.0)
    if not np.any(is_empty):
        return np.clip(distance / length, 0.0, 1.0)
    part = np.clip(distance / np.where(is_empty, 1.0, length), 0.0, 1.0)
    return np.where(is_empty, np.where(np.greater(distance, 0.0), 1.0, 0.0), part)
