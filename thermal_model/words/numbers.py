"""Durations, temperatures and shares as a reader who is no engineer wants them."""

import math
import re
from collections.abc import Sequence
from enum import Enum

from geometries.constants import ZERO_CELSIUS
from geometries.numeric import Numeric
from geometries.quantities import format_quantity

MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
SENSIBLE_STEPS = (1.0, 10.0, MINUTE, 5 * MINUTE, 10 * MINUTE, 30 * MINUTE, HOUR)
"""To what durations are rounded. [s]"""

_BAR_WIDTH = 24


class Scale(Enum):
    """Temperature scale of what is shown; the value is the unit's spelling."""

    CELSIUS = "C"
    FAHRENHEIT = "F"
    KELVIN = "K"

    def text(self, kelvin: Numeric, digits: int = 4) -> str:
        """Return a temperature with its unit, such as "60 °C"."""
        is_zero = abs(self.number(kelvin)) < 1e-9  # the rounding of 273.15 is no temperature
        number = "0" if is_zero else format_quantity(float(kelvin), self.value, digits).split()[0]
        return f"{number} {self.sign}"

    @property
    def sign(self) -> str:
        """The unit as printed."""
        return "K" if self is Scale.KELVIN else f"°{self.value}"

    def number(self, kelvin: Numeric) -> float:
        """Return a temperature on this scale."""
        if self is Scale.KELVIN:
            return float(kelvin)
        celsius = float(kelvin) - ZERO_CELSIUS
        return celsius if self is Scale.CELSIUS else celsius * 1.8 + 32.0


def scale_of(*texts: str | None) -> Scale:
    """Return the scale of the first temperature that was typed, Celsius if there is none.

    Examples
    --------
    >>> scale_of(None, "165 degF")
    <Scale.FAHRENHEIT: 'F'>
    """
    for text in texts:
        found = re.search(r"(c|f|k|celsius|fahrenheit|kelvin)\s*$", text.lower()) if text else None
        if found:
            return Scale(found.group(1)[0].upper())
    return Scale.CELSIUS


def sensible_step(spread: float) -> float:
    """Return to what a duration of this spread is worth rounding: a tenth of it, or less. [s]

    Examples
    --------
    >>> sensible_step(2.5 * 3600.0)
    600.0
    """
    return max((step for step in SENSIBLE_STEPS if step <= 0.1 * spread), default=SENSIBLE_STEPS[0])


def duration_text(seconds: Numeric, step: float = MINUTE, *, in_days: bool | None = None) -> str:
    """Return a duration in words, rounded to a step [s].

    Parameters
    ----------
    seconds : float
    step : float
        [s]
    in_days : bool, optional
        Whether days are counted; left out: from two days on.

    Examples
    --------
    >>> duration_text(26400.0)
    '7 h 20 min'
    >>> duration_text(95.0, 1.0)
    '1 min 35 s'
    >>> duration_text(53.8 * 3600.0)
    '2 d 6 h'
    >>> duration_text(1200.0, in_days=True)
    'under 1 h'
    """
    # A short time keeps its seconds.
    seconds = float(seconds)
    if seconds < 10 * MINUTE:
        step = min(step, 10.0 if step < MINUTE else 1.0)
    elif seconds < HOUR:
        step = max(step, 10.0)
    else:
        step = max(step, MINUTE)
    whole = round(seconds / step) * step
    if in_days is None:
        in_days = whole >= 2 * DAY
    if in_days:
        whole = round(seconds / max(step, HOUR)) * max(step, HOUR)
        if whole == 0.0 < seconds:
            return "under 1 h"
    days, rest = divmod(whole, DAY)
    hours, rest = divmod(rest, HOUR)
    minutes, rest = divmod(rest, MINUTE)
    if in_days:
        return _joined((days, "d"), (hours, "h"))
    return _joined((24 * days + hours, "h"), (minutes, "min"), (rest, "s"))


def interval_texts(low: float, middle: float, high: float, never: str = "never") -> tuple[str, str, str]:
    """Return the ends and the middle of an interval of durations in words, all rounded alike and in the same units.

    Parameters
    ----------
    low, middle, high : float
        [s]
    never : str
        What to say of an infinite one.

    Examples
    --------
    >>> interval_texts(21540.0, 27000.0, 201600.0)
    ('6 h', '8 h', '2 d 8 h')
    >>> interval_texts(21540.0, 21600.0, 21660.0)
    ('5 h 59 min', '6 h', '6 h 1 min')
    """
    finite = [time for time in (low, middle, high) if math.isfinite(time)]
    step = sensible_step(high - low) if math.isfinite(high - low) else MINUTE
    in_days = max(finite, default=0.0) >= 2 * DAY
    low_text, middle_text, high_text = (
        duration_text(time, step, in_days=in_days) if math.isfinite(time) else never for time in (low, middle, high)
    )
    return low_text, middle_text, high_text


def ratio_text(ratio: float, what: str) -> str:
    """Return how many times as long, far or much something is, or that it is the same.

    Examples
    --------
    >>> ratio_text(1.52, "long"), ratio_text(1.001, "long")
    ('1.52 times as long as', 'just as long as')
    """
    shown = f"{ratio:.3g}"
    return f"just as {what} as" if shown == "1" else f"{shown} times as {what} as"


def _joined(*parts: tuple[float, str]) -> str:
    return " ".join(f"{number:.0f} {unit}" for number, unit in parts if number) or f"0 {parts[-1][1]}"


def quantity_text(si: Numeric, unit: str, digits: int = 4) -> str:
    """Return an SI value in a unit of the table of quantities.

    Examples
    --------
    >>> quantity_text(0.0005, "mL")
    '500 mL'
    """
    return format_quantity(float(si), unit, digits)


def bar(share: float) -> str:
    """Return a share, 0 to 1, as a bar of text.

    Examples
    --------
    >>> bar(0.25)
    '▰▰▰▰▰▰'
    """
    return "▰" * round(min(max(share, 0.0), 1.0) * _BAR_WIDTH)


def percent(share: float) -> str:
    """Return a share as a whole percentage.

    Examples
    --------
    >>> percent(0.434)
    '43 %'
    """
    return f"{100.0 * share:.0f} %"


def aligned(rows: Sequence[tuple[str, ...]], indent: str = "  ") -> str:
    """Return rows as columns, two spaces apart."""
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    lines = ("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)
    return "\n".join(f"{indent}{line.rstrip()}" for line in lines)


def left_out_words(failed: int, of: int) -> str:
    """Return that samples could not be computed, "" if all could.

    Examples
    --------
    >>> left_out_words(3, 200)
    '3 of 200 samples could not be computed and are left out.'
    """
    return f"{failed} of {of} samples could not be computed and are left out." if failed else ""
