"""Hot and cold: the conditions that tables are made for, and the coordinates in which cooling is smooth.

With u = log((start - room) / (contents - room)), contents near the room by exp(-u): u grows about evenly with time,
whatever the start. So u is tabulated, over time in units of a container's own, from start, room and fill. Times near
the start are close together, since cold walls take their share within minutes.
"""

from dataclasses import dataclass

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.numeric import Array

Span = tuple[float, float]

STEPS = 30
"""Intervals of time in a table."""

FINEST = 1e-4
"""Units of time below which steps are even, above which they grow in proportion [-]: cold walls take their share within
a minute, and a flask's own unit is a day or two."""

EARLY = 0.004
"""Units of time below which an error of u weighs as much at any time. [-]"""


@dataclass(frozen=True)
class Side:
    """The conditions that one set of tables answers for.

    Attributes
    ----------
    name : str
    start, room : pair of float
        Of the contents, and of the room. [K]
    limits : pair of float
        What limits are allowed at all. [K]
    share : pair of float
        Of a full fill. [-]
    least_change : float
        Between start and limit. [K]
    nearest : float
        Between limit and room. [K]
    reach : float
        Longest time in a table, in a container's own units. [-]
    """

    name: str
    start: Span
    room: Span
    limits: Span
    share: Span
    least_change: float
    nearest: float
    reach: float

    @property
    def is_hot(self) -> bool:
        """Whether contents are warmer than the room."""
        return self.start[0] > self.room[1]

    @property
    def times(self) -> Array:
        """Times of a table, (STEPS + 1,), in a container's own units. [-]"""
        return FINEST * ((1.0 + self.reach / FINEST) ** (np.arange(STEPS + 1) / STEPS) - 1.0)

    @property
    def weights(self) -> Array:
        """By what tables are multiplied at their times, (STEPS + 1,): so early ones count as much as late. [-]

        An error of u moves a hold time by as large a share as it is of u itself, which grows with time.
        """
        return self.times + EARLY

    def progress(self, start: Array, room: Array, temperature: Array) -> Array:
        """Return u at a temperature of the contents. [K, K, K] [-]"""
        return np.log((start - room) / (temperature - room))

    def furthest(self, start: Array, room: Array) -> Array:
        """Return u where contents come as near to the room as a limit may. [K, K] [-]"""
        return np.log(np.abs(start - room) / self.nearest)

    @property
    def slowest(self) -> Span:
        """Start and room of the condition whose times are a container's own unit. [K, K]"""
        return (self.start[0], self.room[1]) if self.is_hot else (self.start[1], self.room[0])


HOT = Side(
    "hot",
    start=(60.0 + ZERO_CELSIUS, 98.0 + ZERO_CELSIUS),
    room=(-5.0 + ZERO_CELSIUS, 40.0 + ZERO_CELSIUS),
    limits=(30.0 + ZERO_CELSIUS, 95.0 + ZERO_CELSIUS),
    share=(0.3, 1.0),
    least_change=3.0,
    nearest=10.0,
    reach=2.8,
)
COLD = Side(
    "cold",
    start=(1.0 + ZERO_CELSIUS, 10.0 + ZERO_CELSIUS),
    room=(18.0 + ZERO_CELSIUS, 40.0 + ZERO_CELSIUS),
    limits=(4.0 + ZERO_CELSIUS, 20.0 + ZERO_CELSIUS),
    share=(0.3, 1.0),
    least_change=2.0,
    nearest=5.0,
    reach=2.8,
)
