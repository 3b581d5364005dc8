"""What a temperature on a bench can be, whichever file it stands in, and what it would be on the other scale."""

from geometries.constants import ZERO_CELSIUS
from geometries.numeric import Array
from thermal_model.bench.read.sheet import Lines, lines_text

BOILING_SLACK = 3.0
"""A thermometer may show so much beyond the liquid range of what it stands in [K]; judgement."""

COLDEST_ROOM, HOTTEST_ROOM = 233.15, 333.15
"""No bench stands in a room beyond these [K]; judgement."""

COLDEST_USUAL_ROOM, HOTTEST_USUAL_ROOM = 278.15, 313.15
"""A room beyond these is worth a look [K]; judgement."""

COLDEST_BATH, HOTTEST_BATH = 268.15, 376.15
"""Water in which thermometers are compared, with what a display may be off [K]; judgement."""

FARTHEST_APART, SPREADS_APART = 10.0, 5.0
"""Two thermometers in one bath can't differ by more than both: so much, and so many standard deviations of what they
may be wrong by [K, -]; judgement."""


def celsius_text(kelvin: float) -> str:
    """Return a temperature for a message.

    Examples
    --------
    >>> celsius_text(363.15)
    '90 C'
    """
    return f"{kelvin - ZERO_CELSIUS:.4g} C"


def scale_hint(kelvin: float, low: float, high: float) -> str:
    """Return what a number under [C] would be if it were Fahrenheit, where that lies between two temperatures. [K]

    Examples
    --------
    >>> scale_hint(191.0 + 273.15, 273.15, 373.15)
    '; Fahrenheit? then 88.3 C: write 191 F, or [F] in the heading'
    """
    number = kelvin - ZERO_CELSIUS
    other = (number - 32.0) / 1.8
    if low <= other + ZERO_CELSIUS <= high:
        return f"; Fahrenheit? then {other:.3g} C: write {number:.4g} F, or [F] in the heading"
    return "; check unit and row"


def rows_more(lines: Lines) -> str:
    """Return in which lines the same was found but the first, in brackets; empty for one line."""
    return f" (and in {lines_text([int(line) for line in lines[1:]])})" if len(lines) > 1 else ""


def room_problem(rooms: Array, lines: Lines) -> str:
    """Return why rooms can't be, empty if they can; lines are those of the rooms. [K]"""
    odd = ~((rooms >= COLDEST_ROOM) & (rooms <= HOTTEST_ROOM))
    if not odd.any():
        return ""
    first = float(rooms[odd][0])
    return (
        f"{celsius_text(first)} can't be a room{rows_more(lines[odd])}{scale_hint(first, COLDEST_ROOM, HOTTEST_ROOM)}"
    )
