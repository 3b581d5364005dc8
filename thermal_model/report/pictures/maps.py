"""A filled map over two numbers, with the value on its contours and on a bar beside it."""

from typing import TYPE_CHECKING, Any

import numpy as np

from thermal_model.report.pictures.curves import numbers
from thermal_model.report.pictures.page import LEADING, POINT, Box, Page
from thermal_model.report.pictures.record import Map

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEVELS = 8
COLOURS = "cividis"
"""Made to look the same to all eyes: Nunez, Anderton and Renslow, PLoS ONE 13(7), 2018, e0199239."""


def draw_map(page: Page, box: Box, panel: Map) -> None:
    """Draw a map into a box."""
    box = page.panel_title(box, panel.title)
    small = 0.85 * page.look.letters
    box = page.y_label(box, panel.y_label, small)
    if panel.note:
        text = page.wrapped(panel.note, box.width, small, most=2)
        height = page.height_of(text, small)
        page.write(box.left, box.bottom + height, text, small, color=page.theme.muted)
        box = box.inside(bottom=height + 0.04)
    values = np.ma.masked_invalid(np.array([numbers(row) for row in panel.values]))
    widest = max((page.width_of(f"{v:.4g}", small) for v in [*panel.y, 0.25]), default=0.3)
    frame = box.inside(left=widest + 0.12, right=0.95, bottom=page.tick_room())
    axes = page.axes(frame)
    axes.set_facecolor(page.theme.faint)
    axes.set_xlim(panel.x[0], panel.x[-1])
    axes.set_ylim(panel.y[0], panel.y[-1])
    page.few_ticks(axes, frame, across=True)
    page.few_ticks(axes, frame, across=False)
    axes.tick_params(length=0)
    page.x_label(frame, panel.x_label)
    low, high = (float(values.min()), float(values.max())) if values.count() else (0.0, 0.0)
    if not values.count() or high - low < 1e-3 * abs(high):
        words = f"everywhere {low:.3g}" if values.count() else "no design here gets there"
        text = page.shortened(f"{words} {panel.value_label if values.count() else ''}".strip(), frame.width, small)
        axes.text(0.5, 0.5, text, transform=axes.transAxes, ha="center", fontsize=small)
        return
    _fill(page, axes, frame, panel, values)


def _fill(page: Page, axes: "Axes", frame: Box, panel: Map, values: Any) -> None:
    from matplotlib.ticker import MaxNLocator

    small = 0.85 * page.look.letters
    levels = MaxNLocator(_LEVELS, steps=[1, 2, 2.5, 5, 10]).tick_values(float(values.min()), float(values.max()))
    filled = axes.contourf(panel.x, panel.y, values, levels=levels, cmap=COLOURS)
    lines = axes.contour(panel.x, panel.y, values, levels=levels, colors="white", linewidths=0.9)
    _name_lines(page, axes, lines)
    bar = Box(frame.right + 0.2, frame.bottom, 0.2, frame.height - small * LEADING * POINT - 0.1)
    colours = page.figure.colorbar(filled, cax=page.axes(bar))
    colours.outline.set_visible(False)
    colours.ax.tick_params(length=0)
    skip = int(np.ceil(len(levels) * 1.6 * small * POINT / bar.height))
    colours.set_ticks(levels[:: max(skip, 1)])
    unit = page.shortened(panel.value_label, 0.95, small)
    page.write(bar.left - 0.05, frame.top, unit, small, color=page.theme.muted)


def _name_lines(page: Page, axes: "Axes", lines: Any) -> None:
    """Write values on contours, but for those that another value or the edge is too near."""
    from matplotlib.patheffects import withStroke

    texts = axes.clabel(lines, fmt=lambda value: f"{value:g}", fontsize=0.85 * page.look.letters, colors="black")
    kept: list[Any] = []
    edge = axes.get_window_extent()
    for text in texts:
        text.set_path_effects([withStroke(linewidth=3.0, foreground="white")])
        box = text.get_window_extent(page.figure.canvas.get_renderer()).expanded(1.15, 1.25)  # type: ignore[attr-defined]
        is_inside = edge.x0 < box.x0 and box.x1 < edge.x1 and edge.y0 < box.y0 and box.y1 < edge.y1
        if is_inside and not any(box.overlaps(other) for other in kept):
            kept.append(box)
        else:
            text.set_visible(False)
