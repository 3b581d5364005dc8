"""How pictures look: palettes of light and dark, shapes, sizes of letters. One language for every picture."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from geometries.errors import InputError

FORMATS = (".png", ".svg", ".pdf")

DPI = 150.0
"""Dots per inch of a PNG: a wide picture is 1920 by 1080."""


class Shape(StrEnum):
    """Width to height."""

    WIDE = "wide"
    SQUARE = "square"
    TALL = "tall"


SIZES = {Shape.WIDE: (12.8, 7.2), Shape.SQUARE: (9.6, 9.6), Shape.TALL: (7.2, 12.8)}
"""Width and height. [in]"""


@dataclass(frozen=True)
class Theme:
    """Colours of a picture.

    Attributes
    ----------
    ground, ink, muted, faint : str
        Of the paper, of letters, of what matters less, of grid lines.
    tones : mapping of str to str
        Colour by what is meant. Hot contents and cold ones have colours of their own, and nothing else is as warm or
        as cool; heat paths; more and less of something; four for lines that differ in nothing but their names.
    """

    ground: str
    ink: str
    muted: str
    faint: str
    tones: Mapping[str, str]


_TONES = {
    "hot": ("#c8420f", "#ff7f45"),
    "cold": ("#1f6fb2", "#5aaef2"),
    "more": ("#057c61", "#42ad8b"),
    "less": ("#bb55b0", "#b94fb3"),
    "limit": ("#5c2a5a", "#e3c9e6"),
    "plain": ("#4a5a68", "#9fb0be"),
    "lid": ("#9c38c8", "#ac74d5"),
    "steel_bridge": ("#2b414f", "#e3e7ec"),
    "gap_side": ("#318467", "#2bad7f"),
    "base": ("#b2b7bd", "#4e565f"),
    "vent": ("#d5a12a", "#f2bf57"),
    "first": ("#057c61", "#42ad8b"),
    "second": ("#bb55b0", "#b94fb3"),
    "third": ("#8a7018", "#e3be42"),
    "fourth": ("#1b1f22", "#f6f7f8"),
}
"""Colours on light and on dark ground."""

LIGHT = Theme(
    ground="#ffffff",
    ink="#1d2a35",
    muted="#566470",
    faint="#d5dbe0",
    tones=MappingProxyType({tone: light for tone, (light, _) in _TONES.items()}),
)
DARK = Theme(
    ground="#12181e",
    ink="#eef2f5",
    muted="#a9b4bd",
    faint="#36424c",
    tones=MappingProxyType({tone: dark for tone, (_, dark) in _TONES.items()}),
)
LINE_TONES: Final = ("first", "second", "third", "fourth")
"""Of lines that differ in their names only; the next four are the same, dashed."""

_LETTERS = {False: (12.0, 7.0), True: (16.0, 9.5)}
"""Usual and smallest size of letters, without and with large type. [pt]"""


@dataclass(frozen=True)
class Appearance:
    """What a user chooses of a picture.

    Attributes
    ----------
    shape : Shape or None
        None for a picture's own.
    is_dark, is_large : bool
        Light letters on a dark ground; large letters, for video.
    """

    shape: Shape | None = None
    is_dark: bool = False
    is_large: bool = False

    @property
    def theme(self) -> Theme:
        """Its colours."""
        return DARK if self.is_dark else LIGHT

    @property
    def size(self) -> tuple[float, float]:
        """Width and height. [in]"""
        return SIZES[self.shape or Shape.WIDE]

    @property
    def letters(self) -> float:
        """Usual size of letters. [pt]"""
        return _LETTERS[self.is_large][0]

    @property
    def least(self) -> float:
        """Smallest size of letters. [pt]"""
        return _LETTERS[self.is_large][1]

    def style(self) -> Any:
        """Return a context in which matplotlib draws so."""
        from matplotlib import rc_context

        theme, small = self.theme, 0.85 * self.letters
        return rc_context(
            {
                "font.family": "sans-serif",
                "font.sans-serif": ["DejaVu Sans"],
                "font.size": self.letters,
                "text.color": theme.ink,
                "text.parse_math": False,  # a title may hold a dollar sign
                "figure.facecolor": theme.ground,
                "axes.facecolor": theme.ground,
                "savefig.facecolor": theme.ground,
                "axes.edgecolor": theme.muted,
                "axes.labelcolor": theme.muted,
                "axes.labelsize": small,
                "axes.spines.top": False,
                "axes.spines.right": False,
                "axes.axisbelow": True,
                "xtick.color": theme.muted,
                "ytick.color": theme.muted,
                "xtick.labelsize": small,
                "ytick.labelsize": small,
                "xtick.major.pad": 5.0,
                "ytick.major.pad": 6.0,
                "grid.color": theme.faint,
                "grid.linewidth": 0.8,
                "svg.hashsalt": "holdtime",
            }
        )


PLAIN = Appearance()


def check_format(path: Path) -> None:
    """Refuse a file whose ending names no picture format.

    Raises
    ------
    InputError
    """
    if path.suffix.lower() not in FORMATS:
        message = f"can't draw a '{path.suffix or 'nameless'}' file; end the name in {', '.join(FORMATS)}"
        raise InputError(message, source=str(path))
