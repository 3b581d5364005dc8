"""Durations, temperatures and shares as a reader who is no engineer wants them."""

import re
from collections.abc import Sequence
from enum import Enum

from geometries.numeric import Numeric
from geometries.quantities import format_quantity

MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
_STEPS = (1.0, 10.0, MINUTE, 5 * MINUTE, 10 * MINUTE, 30 * MINUTE, HOUR)
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
        celsius = float(kelvin) - 273.15
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
    return max((step for step in _STEPS if step <= 0.1 * spread), default=_STEPS[0])


def duration_text(seconds: Numeric, step: float = MINUTE) -> str:
    """Return a duration in words, rounded to a step [s].

    Examples
    --------
    >>> duration_text(26400.0)
    '7 h 20 min'
    >>> duration_text(95.0, 1.0)
    '1 min 35 s'
    """
    # A short time keeps its seconds.
    seconds = float(seconds)
    step = min(step, 10.0 if step < MINUTE else 1.0) if seconds < 10 * MINUTE else max(step, MINUTE)
    whole = round(seconds / step) * step
    days, rest = divmod(whole, DAY)
    hours, rest = divmod(rest, HOUR)
    minutes, rest = divmod(rest, MINUTE)
    if whole >= 2 * DAY:
        return _joined((days, "d"), (hours, "h"))
    return _joined((24 * days + hours, "h"), (minutes, "min"), (rest, "s"))


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
