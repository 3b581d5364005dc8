"""Lines over an axis, each with its name at its end; and small panels of many such."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from geometries.numeric import Array
from thermal_model.report.pictures.page import LEADING, POINT, Box, Page
from thermal_model.report.pictures.record import Curves, Grid, LimitLine, Line
from thermal_model.report.pictures.spread import spread

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_DASHES, _LIMIT_DASHES = (0, (4, 2)), (0, (6, 3))


def draw_curves(page: Page, box: Box, panel: Curves) -> None:
    """Draw lines, bands and limits into a box; names stand to the right of what they name."""
    box = page.panel_title(box, panel.title)
    box = _key(page, box, panel)
    box = page.y_label(box, panel.y_label, 0.85 * page.look.letters)
    names, size, width = _names(page, box, panel)
    frame = box.inside(
        left=_left_room(page, panel), right=width, bottom=page.tick_room(lines=1 if panel.x_label else 0)
    )
    axes = page.axes(frame)
    _draw_all(page, axes, panel, _x_end(panel))
    _set_axes(page, axes, frame, panel)
    if panel.x_label:
        page.x_label(frame, panel.x_label)
    _write_names(page, axes, frame, names, size)


def _key(page: Page, box: Box, panel: Curves) -> Box:
    """Write what colours mean in lines over the panel, word by word."""
    if not panel.key:
        return box
    size = 0.85 * page.look.letters
    left, top, line = box.left, box.top, size * LEADING * POINT
    for tone, text in panel.key:
        shown = page.shortened(f"●  {text}", box.width, size)
        wide = page.width_of(shown, size) + 0.3
        if left > box.left and left + wide - 0.3 > box.right:
            left, top = box.left, top - line
        page.write(left, top, shown, size, color=page.colour(tone))
        left += wide
    return box.inside(top=box.top - top + line + 0.06)


def _left_room(page: Page, panel: Curves) -> float:
    """Return how wide the numbers beside the axis are. [in]"""
    low, high = _y_span(panel)
    samples = [f"{v:g}" for v in (math.floor(low), math.ceil(high), round(0.5 * (low + high), 1))]
    if high - low < 1.0:
        samples.append("-0.05" if low < 0.0 else "0.05")
    return max(page.width_of(text, 0.85 * page.look.letters) for text in samples) + 0.12


def _y_span(panel: Curves) -> tuple[float, float]:
    if panel.y_span is not None:
        return panel.y_span
    values = [v for line in panel.lines for part in (line.y, line.low, line.high) for v in part if v is not None]
    values += [level.y for level in panel.levels] + [dot.y for dot in panel.dots]
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    return (low, high) if high > low else (low - 0.5, high + 0.5)


# --- what is drawn ------------------------------------------------------------------------------------------------


def _draw_all(page: Page, axes: "Axes", panel: Curves, end: float, *, is_small: bool = False) -> None:
    """Draw what a panel holds; an interval that is open goes to an end."""
    for line in panel.lines:
        _draw_line(page, axes, line, is_small=is_small)
    for level in panel.levels:
        _draw_level(page, axes, level, end, is_small=is_small)
    for dot in panel.dots:
        axes.plot([dot.x], [dot.y], "o", color=page.colour(dot.tone), markersize=9.0, zorder=4)


def _draw_level(page: Page, axes: "Axes", level: LimitLine, end: float, *, is_small: bool) -> None:
    """Draw a limit across, the interval of its crossing as a thick stretch of it, and a dot where it is crossed."""
    colour, size = page.theme.tones["limit"], 0.5 if is_small else 1.0
    axes.axhline(level.y, color=colour, linewidth=1.2 * size, linestyle=_LIMIT_DASHES, alpha=0.8)
    if level.low is not None:
        reach = [level.low, end if level.high is None else level.high]
        axes.plot(reach, [level.y] * 2, color=colour, linewidth=8.0 * size, alpha=0.4, solid_capstyle="butt")
    if level.at is not None:
        axes.plot([level.at], [level.y], "o", color=colour, markersize=8.0 * size, zorder=4)


def numbers(values: Sequence[float | None]) -> Array:
    """Return numbers with NaN where there is none."""
    return np.array([math.nan if value is None else value for value in values], dtype=float)


def _draw_line(page: Page, axes: "Axes", line: Line, *, is_small: bool) -> None:
    colour, x, y = page.colour(line.tone), np.array(line.x), numbers(line.y)
    if line.low and line.high:
        axes.fill_between(x, numbers(line.low), numbers(line.high), color=colour, alpha=0.22, linewidth=0.0)
    if line.is_wide:
        axes.plot(x, y, color=colour, linewidth=7.0, alpha=0.35, solid_capstyle="butt")
    elif line.has_line:
        style = _DASHES if line.is_dashed else "-"
        axes.plot(x, y, color=colour, linewidth=1.0 if is_small else 2.4, linestyle=style)
    if line.has_dots:
        face = page.theme.ground if line.is_hollow else colour
        many = math.sqrt(max(len(x), 1))
        size = min(max(30.0 / many, 0.9), 3.0) if is_small else min(max(90.0 / many, 1.5), 6.0)
        axes.plot(x, y, "o", color=colour, markerfacecolor=face, markersize=size, rasterized=len(x) > 5000)


def _x_end(panel: Curves) -> float:
    return max((x for line in panel.lines for x in line.x), default=1.0)


def _set_axes(page: Page, axes: "Axes", frame: Box, panel: Curves) -> None:
    low, high = _y_span(panel)
    axes.set_ylim(low - 0.06 * (high - low), high + 0.06 * (high - low))
    if panel.starts_at_zero:
        axes.set_xlim(0.0, _x_end(panel) or 1.0)
    else:
        axes.margins(x=0.04)
    page.few_ticks(axes, frame, across=False)
    if panel.ticks:
        size = 0.85 * page.look.letters
        room = 0.94 * frame.width / len(panel.ticks)
        names = [page.wrapped(name, room, size, most=1) for name in panel.ticks]
        axes.set_xticks(range(len(names)), names)
        axes.set_xlim(-0.5, len(names) - 0.5)
    else:
        page.few_ticks(axes, frame, across=True)
    axes.grid(axis="y")
    axes.tick_params(length=0)


# --- names --------------------------------------------------------------------------------------------------------

_Name = tuple[float, str, str]
"""Height at which a name belongs, the name, the colour of what it names."""

_READABLE = ("hot", "cold", "limit", "muted")
"""Tones in which names are written; others are too pale for letters, and mark the name by the line that leads to it."""


def _names(page: Page, box: Box, panel: Curves) -> tuple[list[_Name], float, float]:
    """Return the names to the right of a panel, wrapped; the size of their letters; the room they take [in]."""
    names: list[_Name] = [(level.y, level.text, page.theme.tones["limit"]) for level in panel.levels if level.text]
    for line in panel.lines:
        known = [v for v in line.y if v is not None]
        if line.text and known:
            names.append((known[-1], line.text, page.colour(line.tone)))
    if not names:
        return [], page.look.letters, 0.15
    height, widest = box.height - 0.5, 0.36 * box.width
    sizes = np.arange(page.look.letters, page.look.least - 0.01, -1.0).tolist()
    for size in [*sizes, page.look.least]:
        wrapped = [(y, page.wrapped(text, widest, size, most=4), colour) for y, text, colour in names]
        if sum(page.height_of(text, size) + 0.04 for _, text, _ in wrapped) <= height:
            break
    while len(wrapped) > 1 and sum(page.height_of(text, size) + 0.04 for _, text, _ in wrapped) > height:
        y = wrapped.pop()[0]
        wrapped[-1] = y, f"and {len(names) - len(wrapped) + 1} more", page.theme.muted
    return wrapped, size, max(page.width_of(text, size) for _, text, _ in wrapped) + 0.34


def _write_names(page: Page, axes: "Axes", frame: Box, names: Sequence[_Name], size: float) -> None:
    low, high = axes.get_ylim()
    ordered = sorted(names, key=lambda name: -name[0])
    wanted = [frame.bottom + frame.height * (y - low) / (high - low) for y, _, _ in ordered]
    room = np.array([page.height_of(text, size) + 0.04 for _, text, _ in ordered])
    half = 0.5 * room[[0, -1]] if len(room) else np.zeros(2)
    heights = spread(wanted, room, frame.bottom + half[1] - 0.1, frame.top - half[0] + 0.15)
    for at, place, (_, text, colour) in zip(wanted, heights.tolist(), ordered, strict=True):
        ends = np.array([[frame.right + 0.03, frame.right + 0.22], [at, place]])
        _leader(page, ends, colour)
        ink = colour if colour in {page.colour(tone) for tone in _READABLE} else page.theme.ink
        page.write(frame.right + 0.27, place, text, size, va="center", color=ink)


def _leader(page: Page, ends: Array, colour: str) -> None:
    from matplotlib.lines import Line2D

    across, up = ends[0] / page.width, ends[1] / page.height
    page.figure.add_artist(Line2D(across.tolist(), up.tolist(), color=colour, linewidth=1.6))


# --- small panels -------------------------------------------------------------------------------------------------


def draw_grid(page: Page, box: Box, grid: Grid) -> None:
    """Draw small panels with common axes; numbers stand at the outer edge alone."""
    box = page.panel_title(box, grid.title)
    small = max(0.85 * page.look.letters * (1.0 if len(grid.cells) <= 12 else 0.8), page.look.least)
    box = page.y_label(box, grid.y_label, small, 0.06)
    across = _across(len(grid.cells), box)
    down = math.ceil(len(grid.cells) / across)
    whole = _joined(grid)
    room = box.inside(left=_left_room(page, whole) + 0.04, bottom=page.tick_room(), right=0.12)
    lines = 2 if any(cell.note for cell in grid.cells) else 1
    title = lines * small * LEADING * POINT + 0.03
    for row, strip in enumerate(room.stacked([1.0] * down, 0.08)):
        for column, cell in enumerate(strip.columns([1.0] * across, 0.14)):
            number = row * across + column
            if number >= len(grid.cells):
                continue
            is_lowest = number + across >= len(grid.cells)
            _draw_cell(page, cell, grid.cells[number], whole, (title, small), is_lowest=is_lowest, is_first=column == 0)
    page.x_label(room, grid.x_label)


def _across(count: int, box: Box) -> int:
    """Return the number of columns at which panels are nearest to half again as wide as high; many are wider."""
    wanted = 1.5 if count <= 12 else 2.2

    def misfit(across: int) -> float:
        down = math.ceil(count / across)
        shape = (box.width / across) / (box.height / down)
        return abs(math.log(shape / wanted)) + 1.5 * (across * down - count) / (across * down)

    return min(range(1, count + 1), key=misfit)


def _joined(grid: Grid) -> Curves:
    """Return one panel with all that is in the small ones."""
    lines = tuple(line for cell in grid.cells for line in cell.lines)
    levels = tuple(level for cell in grid.cells for level in cell.levels)
    return Curves.model_construct(lines=lines, levels=levels, dots=(), ticks=(), y_span=None, starts_at_zero=True)


def _draw_cell(
    page: Page,
    cell: Box,
    panel: Curves,
    whole: Curves,
    letters: tuple[float, float],
    *,
    is_lowest: bool,
    is_first: bool,
) -> None:
    from matplotlib.ticker import MaxNLocator

    title, small = letters
    name = page.shortened(panel.title, cell.width, small, is_name=True)
    height = page.write(cell.left, cell.top, name, small)
    if panel.note:
        note = page.shortened(panel.note, cell.width, small)
        page.write(cell.left, cell.top - height, note, small, color=page.theme.muted)
    frame = cell.inside(top=title)
    axes = page.axes(frame)
    _draw_all(page, axes, panel, _x_end(whole), is_small=True)
    _set_axes(page, axes, frame, whole)
    axes.yaxis.set_major_locator(MaxNLocator(nbins=max(1, min(3, int(frame.height / (2.2 * small * POINT))))))
    # Without the last number, which would lie beside the first of the next panel.
    most = max(2, min(4, int(frame.width / (4.5 * small * POINT))))
    axes.xaxis.set_major_locator(MaxNLocator(nbins=most, steps=[1, 2, 5, 10], prune="upper"))
    axes.tick_params(axis="x", pad=6.0)
    axes.tick_params(labelleft=is_first, labelbottom=is_lowest, labelsize=small)
