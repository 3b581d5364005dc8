"""A page: paper of one size, letters that are measured before they are set, and boxes that share the room."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from thermal_model.report.pictures.look import DPI, Appearance

if TYPE_CHECKING:
    from matplotlib.axes import Axes

POINT = 1.0 / 72.0
"""[in]"""

LEADING = 1.32
"""Of a line of letters, in their size."""

_NUMBER = re.compile(r"(\d) (°C|°F|K|d|h|min|s|mL|L|mm|cm|m|in|g|kg|%|W/K|m/s)(?![\w/])")
"""A number and its unit stay in one line."""

MARGIN = 0.3
"""Around everything. [in]"""


@dataclass(frozen=True)
class Box:
    """A piece of the page, from its lower left corner. [in]"""

    left: float
    bottom: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """[in]"""
        return self.left + self.width

    @property
    def top(self) -> float:
        """[in]"""
        return self.bottom + self.height

    def inside(self, *, left: float = 0.0, bottom: float = 0.0, right: float = 0.0, top: float = 0.0) -> "Box":
        """Return what is left when strips are taken off; never less than nothing."""
        return Box(
            self.left + left,
            self.bottom + bottom,
            max(self.width - left - right, 0.05),
            max(self.height - bottom - top, 0.05),
        )

    def columns(self, shares: Sequence[float], space: float) -> list["Box"]:
        """Return boxes side by side, with a space between."""
        usable, left, found = self.width - space * (len(shares) - 1), self.left, []
        for share in shares:
            width = usable * share / sum(shares)
            found.append(Box(left, self.bottom, width, self.height))
            left += width + space
        return found

    def stacked(self, shares: Sequence[float], space: float) -> list["Box"]:
        """Return boxes under each other, the first on top."""
        usable, top, found = self.height - space * (len(shares) - 1), self.top, []
        for share in shares:
            height = usable * share / sum(shares)
            found.append(Box(self.left, top - height, self.width, height))
            top -= height + space
        return found


@lru_cache(maxsize=4096)
def _advance(letter: str, *, is_bold: bool) -> float:
    """Return how wide a letter is, in sizes of letters, with a little for hinting."""
    from matplotlib.font_manager import FontProperties, findfont, get_font

    font = get_font(findfont(FontProperties(family="DejaVu Sans", weight="bold" if is_bold else "normal")))
    font.set_size(100.0, 72.0)
    return 1.02 * font.load_char(ord(letter)).linearHoriAdvance / 65536.0 / 100.0


class Page:
    """A figure that is laid out by measuring. To be used inside `look.style()`."""

    def __init__(self, look: Appearance) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.look, self.theme = look, look.theme
        self.width, self.height = look.size
        self.figure = Figure(figsize=(self.width, self.height), dpi=DPI)
        FigureCanvasAgg(self.figure)

    @property
    def body(self) -> Box:
        """All of it but the margin."""
        return Box(MARGIN, MARGIN, self.width - 2.0 * MARGIN, self.height - 2.0 * MARGIN)

    # --- measuring ------------------------------------------------------------------------------------------------

    @staticmethod
    def width_of(text: str, size: float, *, is_bold: bool = False) -> float:
        """Return how long a text is, of several lines the longest. [in]"""
        widths = (sum(_advance(letter, is_bold=is_bold) for letter in line) for line in text.split("\n"))
        return max(widths) * size * POINT

    def shortened(self, text: str, width: float, size: float, *, is_bold: bool = False, is_name: bool = False) -> str:
        """Return a text, cut off with an ellipsis where it is longer than the room [in]; a name keeps its end.

        Names of one kind often differ in their ends only.
        """
        if self.width_of(text, size, is_bold=is_bold) <= width:
            return text
        low, high = 0, len(text)
        while low < high:
            middle = (low + high + 1) // 2
            fits = self.width_of(_cut(text, middle, is_name), size, is_bold=is_bold) <= width
            low, high = (middle, high) if fits else (low, middle - 1)
        return _cut(text, low, is_name)

    def label(self, text: str, width: float, size: float) -> str:
        """Return what an axis shows, cut off where there is no room, but never its unit."""
        words, bracket, unit = text.rpartition(" [")
        if not bracket:
            return self.shortened(text, width, size)
        rest = width - self.width_of(f" [{unit}", size)
        return f"{self.shortened(words, max(rest, 0.1), size)} [{unit}"

    def wrapped(
        self, text: str, width: float, size: float, *, most: int = 99, is_bold: bool = False, is_name: bool = False
    ) -> str:
        """Return a text in lines no longer than the room [in], at most so many; what is left is cut off."""
        lines: list[str] = []
        joined = _NUMBER.sub("\\1\N{NO-BREAK SPACE}\\2", text).replace(" [", "\N{NO-BREAK SPACE}[")
        for paragraph in joined.split("\n"):
            line = ""
            for word in filter(None, paragraph.split(" ")):
                longer = f"{line} {word}".strip()
                if line and self.width_of(longer, size, is_bold=is_bold) > width:
                    lines.append(line)
                    line = word
                else:
                    line = longer
            lines.append(line)
        if len(lines) > most:
            lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
        return "\n".join(self.shortened(line, width, size, is_bold=is_bold, is_name=is_name) for line in lines)

    @staticmethod
    def height_of(text: str, size: float) -> float:
        """Return how high a text stands, with the space between its lines. [in]"""
        return (text.count("\n") + 1) * size * LEADING * POINT if text else 0.0

    # --- setting --------------------------------------------------------------------------------------------------

    def write(self, left: float, top: float, text: str, size: float, **how: Any) -> float:
        """Write a text whose upper left corner is at a place [in], and return how high it stands. [in]"""
        how = dict[str, Any]({"color": self.theme.ink, "va": "top", "ha": "left", "linespacing": 1.15}) | how
        self.figure.text(left / self.width, top / self.height, text, fontsize=size, **how)
        return self.height_of(text, size)

    def axes(self, box: Box) -> "Axes":
        """Return axes whose frame fills a box."""
        return self.figure.add_axes(
            (box.left / self.width, box.bottom / self.height, box.width / self.width, box.height / self.height)
        )

    def heading(self, title: str, given: str, made_by: str) -> Box:
        """Write title and what was given at the top, and what made it at the foot; return the room between."""
        body, size = self.body, self.look.letters
        name = self.wrapped(title, body.width, 1.6 * size, most=3, is_bold=True)
        top = body.top - self.write(body.left, body.top, name, 1.6 * size, weight="bold")
        if given:
            lines = self.wrapped(given, body.width, size, most=6)
            top -= self.write(body.left, top - 0.02, lines, size, color=self.theme.muted) + 0.02
        bottom, small = body.bottom, max(0.75 * size, self.look.least)
        if made_by:
            foot = self.wrapped(made_by, body.width, small, most=3)
            bottom += self.height_of(foot, small)
            self.write(body.left, bottom, foot, small, color=self.theme.muted)
            bottom += 0.06
        return Box(body.left, bottom, body.width, max(top - 0.12 - bottom, 0.5))

    def panel_title(self, box: Box, title: str) -> Box:
        """Write a title over a panel and return what is left of its box."""
        if not title:
            return box
        size = 1.05 * self.look.letters
        text = self.wrapped(title, box.width, size, most=2, is_bold=True)
        height = self.write(box.left, box.top, text, size, weight="bold")
        return box.inside(top=height + 0.06)

    def y_label(self, box: Box, text: str, size: float, space: float = 0.08) -> Box:
        """Write what an upright axis shows over it, with a space under that [in]; return what is left of its box."""
        if not text:
            return box
        label = self.label(text, box.width, size)
        return box.inside(top=self.write(box.left, box.top, label, size, color=self.theme.muted) + space)

    def tick_room(self, *, lines: int = 1) -> float:
        """Return the height of numbers under an axis, and of its label. [in]"""
        small = 0.85 * self.look.letters * LEADING * POINT
        return 0.1 + small * (1 + lines) + (0.05 if lines else 0.0)

    def colour(self, tone: str) -> str:
        """Return the colour of what is meant."""
        return self.theme.muted if tone == "muted" else self.theme.tones[tone]

    def label_lines(self, text: str, width: float) -> int:
        """Return how many lines a label takes that has so much room [in], two at most."""
        return min(2, 1 + self.wrapped(text, width, 0.85 * self.look.letters).count("\n"))

    def x_label(self, box: Box, text: str, *, lines: int = 1, is_centred: bool = True, spare: float = 0.0) -> None:
        """Write what an axis shows under its numbers, in little more room than the box is wide.

        A label that is not centred and too long takes what is spare to the left, too. [in]
        """
        size, width = 0.85 * self.look.letters, box.width + (0.2 if is_centred else 0.0)
        label = next(
            (found for room in (width, width + spare) if (found := self._whole(text, room, size, lines))),
            self.label(text, width + spare, size),
        )
        under = box.bottom - 0.13 - size * LEADING * POINT
        left = min(box.left, box.left + box.width - self.width_of(label, size))
        at, side = (box.left + 0.5 * box.width, "center") if is_centred else (left, "left")
        self.write(at, under, label, size, ha=side, color=self.theme.muted)

    def _whole(self, text: str, width: float, size: float, most: int) -> str:
        """Return a text in at most so many lines, "" where it has to be cut."""
        found = self.wrapped(text, width, size)
        return "" if found.count("\n") >= most or "…" in found else found

    def few_ticks(self, axes: "Axes", box: Box, *, across: bool) -> None:
        """Let an axis carry no more numbers than have room."""
        from matplotlib.ticker import MaxNLocator

        size = 0.85 * self.look.letters * POINT
        room = box.width / (5 * 0.75 * size) if across else box.height / (2.6 * size)
        axis = axes.xaxis if across else axes.yaxis
        axis.set_major_locator(MaxNLocator(nbins=int(np.clip(room, 1, 7)), steps=[1, 2, 2.5, 5, 10]))


def _cut(text: str, count: int, is_name: bool) -> str:
    """Return so many letters of a text, about a third of them from the end of a name, and an ellipsis."""
    tail = count // 3 if is_name else 0
    return f"{text[: count - tail].rstrip(' ,;:(')}…{text[len(text) - tail :].lstrip(' ,;:')}"
