"""Every text of a figure, measured: none is cut off by the canvas, and no two lie over each other."""

from collections.abc import Iterator
from itertools import combinations
from typing import Any

from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

TOUCH = 1.0
"""By how many pixels boxes may touch: a box is as high as the highest letter there is."""


def text_boxes(figure: Figure) -> list[tuple[str, Bbox]]:
    """Return each text that is seen, with its box. [pixels]"""
    figure.draw_without_rendering()
    renderer: Any = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    beyond = set(_beyond_their_axis(figure))
    return [
        (text.get_text(), text.get_window_extent(renderer))
        for text in figure.findobj(Text)
        if isinstance(text, Text) and text.get_text().strip() and text.get_visible() and id(text) not in beyond
    ]


def _beyond_their_axis(figure: Figure) -> Iterator[int]:
    """Yield numbers beyond the ends of their axis: they are there, but not drawn."""
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            slack = 1e-9 * (high - low)
            for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
                if not low - slack <= tick.get_loc() <= high + slack or not tick.get_visible():
                    yield from (id(tick.label1), id(tick.label2))


def faults(figure: Figure) -> list[str]:
    """Return each text that is cut off, and each two that overlap."""
    boxes = text_boxes(figure)
    width, height = figure.canvas.get_width_height()
    told = [
        f"cut off: {text!r}" for text, box in boxes if box.x0 < 0.0 or box.y0 < 0.0 or box.x1 > width or box.y1 > height
    ]
    told += [
        f"over each other: {a!r}, {b!r}" for (a, one), (b, other) in combinations(boxes, 2) if _overlap(one, other)
    ]
    return told


def _overlap(one: Bbox, other: Bbox) -> bool:
    across = min(one.x1, other.x1) - max(one.x0, other.x0)
    up = min(one.y1, other.y1) - max(one.y0, other.y0)
    return bool(across > TOUCH and up > TOUCH)
