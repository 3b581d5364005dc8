"""Rows: a name, and what belongs to it as dots and bars on one axis or on several."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from thermal_model.report.pictures.page import LEADING, POINT, Box, Page
from thermal_model.report.pictures.record import Mark, Row, RowsPanel

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SPACE = 0.3
"""Between columns, and between tracks. [in]"""

HIGHEST = 2.6
"""Of a row, however few there are. [in]"""

SIZES = (1.3, 1.15, 1.0, 0.9, 0.8)
"""Sizes of letters, as shares of the usual one, that are tried before the smallest."""

NOTE, VALUE = 0.82, 0.9
"""Sizes of a note and of what is written beside an axis, as shares of the name's."""

ROOMY = 1.5
"""How much higher a row must be than it needs to be for letters larger than usual."""

NARROW = 6.5
"""Width of a column, at the usual size of letters, under which names stand over their marks. [in]"""


@dataclass(frozen=True)
class _Plan:
    """How rows are set.

    Attributes
    ----------
    columns, deep, shown : int
        Columns; rows in each; rows of all.
    size : float
        Of the names. [pt]
    names : float
        Width of the names. [in]
    is_stacked : bool
        Whether names stand over their marks.
    """

    columns: int
    deep: int
    shown: int
    size: float
    names: float
    is_stacked: bool


def draw_rows(page: Page, box: Box, panel: RowsPanel) -> None:
    """Draw rows into a box; those for which there is no room are counted under the others."""
    box = page.panel_title(box, panel.title)
    has_titles = any(track.title for track in panel.tracks)
    head = page.look.letters * LEADING * POINT + 0.05 if has_titles else 0.0
    plan, lines = _planned(page, box.inside(top=head, bottom=page.tick_room()), panel), 1
    track = _track_width(box, panel, plan)
    if any(page.label_lines(each.label, track) > 1 for each in panel.tracks):
        plan, lines = _planned(page, box.inside(top=head, bottom=page.tick_room(lines=2)), panel), 2
    room = box.inside(top=head, bottom=page.tick_room(lines=lines))
    for place, column in enumerate(room.columns([1.0] * plan.columns, SPACE)):
        rows = panel.rows[place * plan.deep : min((place + 1) * plan.deep, plan.shown)]
        if rows:
            _draw_column(page, column, rows, panel, plan, lines)
    if more := _more(panel, plan):
        page.write(box.left, box.bottom + 0.17, more, _small(page, plan), color=page.theme.muted)
    if not panel.rows:
        page.write(room.left, room.top, "nothing to show", page.look.letters, color=page.theme.muted)


# --- how ----------------------------------------------------------------------------------------------------------


def _planned(page: Page, room: Box, panel: RowsPanel) -> _Plan:
    """Return the plan with the fewest columns whose letters are large enough; else the one that shows most."""
    usual, least = page.look.letters, page.look.least
    count = max(len(panel.rows), 1)
    usable = [usual * share for share in SIZES if usual * share >= least]
    smaller = [size for size in np.arange(math.floor(0.8 * usual), least, -1.0).tolist() if size < usable[-1]]
    best: _Plan | None = None
    for columns, size in [*product((1, 2, 3), usable), *product((1, 2, 3), (*smaller, least))]:
        wide = (room.width - SPACE * (columns - 1)) / columns
        if columns > 1 and (wide < (1.6 + 1.1 * len(panel.tracks)) * size / 12.0 or count < 2 * columns):
            continue
        plan, is_roomy = _tried(page, Box(0.0, 0.0, wide, room.height), panel, columns, size)
        is_least = columns == 1 and size == usable[-1]
        is_cut = size in usable and not is_least and _median_name(page, panel, size) > plan.names
        if plan.shown == len(panel.rows) and (size <= usual or is_roomy) and not is_cut:
            return plan
        best = plan if best is None or plan.shown > best.shown else best
    assert best is not None
    return best


def _tried(page: Page, column: Box, panel: RowsPanel, columns: int, size: float) -> tuple[_Plan, bool]:
    """Return a plan with letters of a size, and whether its rows have room to spare."""
    deep = max(math.ceil(len(panel.rows) / columns), 1)
    is_narrow = column.width < NARROW * size / 12.0
    names = column.width if is_narrow else _name_width(page, column.width, panel, size)
    needed = _least_height(page, panel, size, names) + (1.6 * size * POINT if is_narrow else 0.0)
    if is_narrow and needed * deep > column.height:
        is_narrow, names = False, _name_width(page, column.width, panel, size)
        needed = _least_height(page, panel, size, names)
    fits = max(1, int(column.height / needed + 1e-9))
    shown = min(len(panel.rows), min(fits, deep) * columns)
    is_roomy = ROOMY * needed * deep <= column.height
    return _Plan(columns, min(fits, deep), shown, size, names, is_narrow), is_roomy


def _track_width(box: Box, panel: RowsPanel, plan: _Plan) -> float:
    """Return the width of a track with the texts beside it. [in]"""
    column = (box.width - SPACE * (plan.columns - 1)) / plan.columns - (0.0 if plan.is_stacked else plan.names)
    return (column - SPACE * (len(panel.tracks) - 1)) / len(panel.tracks)


def _name_width(page: Page, column: float, panel: RowsPanel, size: float) -> float:
    most = (0.52 if len(panel.tracks) == 1 else 0.42) * column
    wanted = [page.width_of(row.name, size) for row in panel.rows]
    wanted += [page.width_of(row.note, NOTE * size) for row in panel.rows if row.note]
    return min(max(wanted, default=0.0) + 0.15, most)


def _median_name(page: Page, panel: RowsPanel, size: float) -> float:
    widths = sorted(page.width_of(row.name, size) for row in panel.rows) or [0.0]
    return widths[len(widths) // 2] + 0.1


def _texts(page: Page, row: Row, size: float, names: float, *, lines: int = 2) -> tuple[str, str]:
    is_bold = bool(row.note)
    name = page.wrapped(row.name, names - 0.1, size, most=lines, is_bold=is_bold, is_name=True)
    return name, page.wrapped(row.note, names - 0.1, NOTE * size, most=7) if row.note else ""


def _least_height(page: Page, panel: RowsPanel, size: float, names: float) -> float:
    """Return what the highest row needs. [in]"""
    heights = [size * (LEADING + 0.2) * POINT]
    for row in panel.rows:
        name, note = _texts(page, row, size, names, lines=1)
        heights.append(page.height_of(name, size) + page.height_of(note, NOTE * size) + 0.3 * size * POINT)
    return max(heights)


# --- axes ---------------------------------------------------------------------------------------------------------


def _marks(rows: Sequence[Row], track: int) -> Iterator[Mark]:
    for row in rows:
        yield from row.tracks[track]


def _span(panel: RowsPanel, number: int) -> tuple[float, float]:
    """Return the ends of a track's axis: all that is drawn, and zero."""
    track = panel.tracks[number]
    values = [v for m in _marks(panel.rows, number) for v in (m.at, m.base, m.low, m.high) if v is not None]
    values += [] if track.line is None else [track.line]
    low, high = (min(*values, 0.0), max(*values, 0.0)) if values else (0.0, 1.0)
    low, high = (low if track.low is None else track.low), (high if track.high is None else track.high)
    high = high if high > low else low + (abs(low) or 1.0)
    slack = 0.04 * (high - low)
    return low if low == 0.0 or track.low is not None else low - slack, high if track.high is not None else high + slack


_Values = tuple[list[str], float, float]
"""What is written beside a track, row by row; the size of its letters [pt]; the room it takes. [in]"""


def _values(page: Page, panel: RowsPanel, width: float, size: float) -> list[_Values]:
    """Return what is written beside each track: as long and as large in all of them that have room for any.

    The axis keeps two fifths of the width: long texts give way to smaller letters, to short texts, to none.
    """
    ways = list(product((False, True), (VALUE * size, 0.8 * VALUE * size)))
    tracks = [[_beside(page, panel, number, *way) for way in ways] for number in range(len(panel.tracks))]

    def fits(found: _Values) -> bool:
        return found[2] <= 0.6 * width and found[1] >= 0.85 * page.look.least

    nothing: _Values = ([""] * len(panel.rows), size, 0.1)
    shown = [own for own in tracks if any(map(fits, own))]
    way = next((way for way in range(len(ways)) if all(fits(own[way]) for own in shown)), None)
    return [own[way] if way is not None and any(map(fits, own)) else nothing for own in tracks]


def _beside(page: Page, panel: RowsPanel, number: int, is_short: bool, letters: float) -> _Values:
    firsts = [next((mark for mark in row.tracks[number] if mark.text), None) for row in panel.rows]
    texts = ["" if mark is None else (mark.short if is_short else "") or mark.text for mark in firsts]
    room = max((page.width_of(text, letters) for text in texts), default=0.0) + 0.18
    return texts, letters, room if any(texts) else 0.1


def _more(panel: RowsPanel, plan: _Plan) -> str:
    """Return what is said of the rows for which there is no room."""
    left = len(panel.rows) - plan.shown
    return f"and {left} more" if left else ""


def _small(page: Page, plan: _Plan) -> float:
    return max(0.8 * plan.size, page.look.least)


def _spare(page: Page, panel: RowsPanel, plan: _Plan) -> float:
    """Return the room under the names that a label may take. [in]"""
    more = _more(panel, plan)
    taken = page.width_of(more, _small(page, plan)) + 0.15 if more else 0.0
    return 0.0 if plan.is_stacked else max(plan.names - taken, 0.0)


# --- marks --------------------------------------------------------------------------------------------------------


def _draw_column(page: Page, column: Box, rows: Sequence[Row], panel: RowsPanel, plan: _Plan, lines: int) -> None:
    pitch = min(column.height / plan.deep, max(HIGHEST, _least_height(page, panel, plan.size, plan.names)))
    body = column.inside(bottom=column.height - pitch * len(rows))
    over = _least_height(page, panel, plan.size, plan.names) if plan.is_stacked else 0.0
    for place, row in enumerate(rows):
        top = body.top - place * pitch
        _write_name(page, Box(body.left, top - (over or pitch), plan.names, over or pitch), row, plan)
    tracks = body.inside(left=0.0 if plan.is_stacked else plan.names).columns([1.0] * len(panel.tracks), SPACE)
    beside = _values(page, panel, tracks[0].width, plan.size)
    for number, (box, (texts, letters, width)) in enumerate(zip(tracks, beside, strict=True)):
        frame = box.inside(right=width)
        axes = _track_axes(page, frame, panel, number, len(rows))
        _draw_track(page, axes, rows, panel, number, plan.size, (pitch, over))
        first = next(place for place, row in enumerate(panel.rows) if row is rows[0])
        for place in range(len(rows)):
            at = box.top - (place + 0.5) * pitch - 0.5 * over
            page.write(frame.right + 0.14, at, texts[first + place], letters, va="center")
        spare = _spare(page, panel, plan) if number == 0 else 0.0
        page.x_label(box, panel.tracks[number].label, lines=lines, is_centred=False, spare=spare)
        _write_title(page, box, panel.tracks[number].title)


def _write_title(page: Page, box: Box, title: str) -> None:
    if title:
        usual = page.look.letters
        sizes = [usual, 0.9 * usual, 0.8 * usual]
        size = next((s for s in sizes if page.width_of(title, s, is_bold=True) <= box.width), sizes[-1])
        text = page.shortened(title, box.width, size, is_bold=True)
        page.write(box.left, box.top + usual * LEADING * POINT + 0.02, text, size, weight="bold")


def _track_axes(page: Page, frame: Box, panel: RowsPanel, number: int, count: int) -> "Axes":
    axes = page.axes(frame)
    axes.set_xlim(*_span(panel, number))
    axes.set_ylim(count - 0.5, -0.5)
    page.few_ticks(axes, frame, across=True)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.tick_params(length=0)
    return axes


def _draw_track(
    page: Page, axes: "Axes", rows: Sequence[Row], panel: RowsPanel, number: int, size: float, step: tuple[float, float]
) -> None:
    """Draw the marks of a track; step is the height of a row, and how much of it a name over the marks takes. [in]"""
    (pitch, over), line = step, panel.tracks[number].line
    free = 1.0 - over / pitch
    low, high = axes.get_xlim()
    ticks = [tick for tick in axes.get_xticks() if low <= tick <= high]
    for place, row in enumerate(rows):
        bottom = place + 0.5
        # Lines end under a name: nothing crosses a text.
        axes.vlines(ticks, bottom - free, bottom, color=page.theme.faint, linewidth=0.8, zorder=0.5)
        if line is not None:
            axes.vlines([line], bottom - free, bottom, color=page.theme.muted, linewidth=1.2, zorder=0.6)
        if row.is_parted and place:
            axes.axhline(place - 0.5, color=page.theme.muted, linewidth=1.2, linestyle=(0, (1, 3)))
        _draw_marks(page, axes, bottom - 0.5 * free, row.tracks[number], size, pitch * free)


def _write_name(page: Page, box: Box, row: Row, plan: _Plan) -> None:
    """Write name and note in the middle of a box."""
    name, note = _texts(page, row, plan.size, plan.names)
    if page.height_of(name, plan.size) + page.height_of(note, NOTE * plan.size) > box.height:
        name, note = _texts(page, row, plan.size, plan.names, lines=1)
    heights = page.height_of(name, plan.size), page.height_of(note, NOTE * plan.size)
    top = box.bottom + 0.5 * (box.height + sum(heights))
    page.write(box.left, top - 0.5 * heights[0], name, plan.size, va="center", weight="bold" if note else "normal")
    if note:
        at = top - heights[0] - 0.5 * heights[1]
        page.write(box.left, at, note, NOTE * plan.size, va="center", color=page.theme.muted)


def _draw_marks(page: Page, axes: "Axes", row: float, marks: Sequence[Mark], size: float, pitch: float) -> None:
    """Draw the marks of a row, several under each other; pitch is the room there is. [in]"""
    step = 0.7 / len(marks) if len(marks) > 1 else 0.0
    thick = min(pitch / POINT * (0.55 if step == 0.0 else 0.6 * step), 1.4 * size)
    for number, mark in enumerate(marks):
        _draw_mark(page, axes, row + step * (number - 0.5 * (len(marks) - 1)), mark, thick)


def _draw_mark(page: Page, axes: "Axes", y: float, mark: Mark, thick: float) -> None:
    colour = page.colour(mark.tone)
    if mark.base is not None and mark.at is not None:
        axes.plot([mark.base, mark.at], [y, y], color=colour, linewidth=thick, solid_capstyle="butt")
    if mark.low is not None:
        _draw_interval(page, axes, y, mark, mark.low, thick)
    if mark.at is not None and mark.base is None:
        face = page.theme.ground if mark.is_hollow else colour
        size = max(0.75 * thick, 3.0)
        # Whole also where it stands on the end of the axis.
        axes.plot([mark.at], [y], "o", color=colour, markerfacecolor=face, markersize=size, clip_on=False)


def _draw_interval(page: Page, axes: "Axes", y: float, mark: Mark, low: float, thick: float) -> None:
    colour, end = page.colour(mark.tone), mark.high if mark.high is not None else axes.get_xlim()[1]
    if mark.base is not None:
        axes.plot([low, end], [y, y], color=page.theme.ink, linewidth=1.6, solid_capstyle="butt")
    else:
        axes.plot([low, end], [y, y], color=colour, linewidth=0.7 * thick, alpha=0.35, solid_capstyle="butt")
    if mark.high is None:
        # With its tip at the end of the axis: a text begins right after it.
        axes.plot([end], [y], marker=5, color=colour, markersize=max(0.6 * thick, 3.0), clip_on=False)
