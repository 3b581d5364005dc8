"""A container drawn to scale as SVG, straight from its cut: fast enough to follow every keystroke."""

from collections.abc import Iterator
from html import escape

import numpy as np

from geometries.section import CrossSection, DimensionLine, cross_section
from thermal_model.report.drawing import Drawn, look
from thermal_model.report.pictures.spread import spread

WIDTH, HEIGHT = 150.0, 300.0
"""What is drawn to scale fits in here; texts come beside it."""

LEFT, ABOVE, BELOW = 74.0, 34.0, 36.0
"""Room for arrows and texts around it; to the right there is as much as the longest text takes."""

ASIDE, LEAST_RIGHT = 18.0, 176.0
"""From what is drawn to the texts on the right, and the least room there."""

LETTER = 6.5
"""Width of a letter of a text, on average at most."""

LINE = 14.0
"""Height of a line of text."""


def section_svg(drawn: Drawn, *, unit: str = "mm") -> str:
    """Return a container cut through its axis, with its dimensions, as an `svg` element.

    Parameters
    ----------
    drawn : Drawn
    unit : str
        Of the lengths in the texts.

    Returns
    -------
    str
        Without style sheet or script; its texts are escaped.
    """
    cut = cross_section(drawn.container, drawn.fill, unit)
    view = _View(cut)
    parts = [*_regions(view, drawn.is_hot), *_measures(view), *_notes(view)]
    words = escape(_description(drawn, cut))
    return (
        f'<svg class="section" viewBox="0 0 {view.width:.0f} {view.height:.0f}" width="{view.width:.0f}" '
        f'height="{view.height:.0f}" role="img" aria-label="{words}" xmlns="http://www.w3.org/2000/svg">'
        f"{''.join(parts)}</svg>"
    )


def _description(drawn: Drawn, cut: CrossSection) -> str:
    texts = [measure.text for measure in cut.measures] + [note.text for note in cut.notes]
    return f"{drawn.container.called}, cut open and drawn to scale: {'; '.join(texts)}"


class _View:
    """Places of a cut in the picture, as large as it fits."""

    def __init__(self, cut: CrossSection) -> None:
        self.cut = cut
        self.scale = scale = min(HEIGHT / (cut.top - cut.table_height), WIDTH / (cut.right - cut.left))
        longest = max((len(note.text) for note in cut.notes), default=0)
        right = max(ASIDE + LETTER * longest, LEAST_RIGHT)
        self.width = LEFT + (cut.right - cut.left) * scale + right
        self.height = ABOVE + (cut.top - cut.table_height) * scale + BELOW

    def x(self, metres: float) -> float:
        return LEFT + (metres - self.cut.left) * self.scale

    def y(self, metres: float) -> float:
        return ABOVE + (self.cut.top - metres) * self.scale


def _regions(view: _View, is_hot: bool) -> Iterator[str]:
    for region in view.cut.regions:
        face, _ = look(region.filling, is_hot)
        for outline in region.outlines:
            points = " ".join(f"{view.x(x):.2f},{view.y(y):.2f}" for x, y in outline.tolist())
            yield f'<polygon points="{points}" fill="{face}" stroke="#2b3a42" stroke-width="0.6"/>'
    table = view.y(view.cut.table_height)
    yield _line(view.x(view.cut.left) - 6, table, view.x(view.cut.right) + 6, table, 1.4)


def _measures(view: _View) -> Iterator[str]:
    lane = view.x(view.cut.left) - 14.0
    for measure in view.cut.measures:
        if measure.start[1] == measure.end[1]:
            yield from _level(view, measure)
        else:
            top, foot = view.y(measure.end[1]), view.y(measure.start[1])
            yield _line(lane, top, lane, foot, 0.8)
            yield from (_line(lane - 3, y, view.x(measure.start[0]), y, 0.4) for y in (top, foot))
            middle = 0.5 * (top + foot)
            turned = f'transform="rotate(-90 {lane - 4:.1f} {middle:.1f})"'
            yield _text(lane - 4, middle, measure.text, "middle", turned)
            lane -= 20.0


def _level(view: _View, measure: DimensionLine) -> Iterator[str]:
    left, right = view.x(measure.start[0]), view.x(measure.end[0])
    is_top = measure.start[1] > 0.0
    y = view.y(measure.start[1]) + (-12.0 if is_top else 12.0)
    yield _line(left, y, right, y, 0.8)
    yield from (_line(x, view.y(measure.start[1]), x, y, 0.4) for x in (left, right))
    yield _text(0.5 * (left + right), y + (-5.0 if is_top else LINE), measure.text, "middle")


def _notes(view: _View) -> Iterator[str]:
    ordered = sorted(view.cut.notes, key=lambda note: -note.at[1])
    room = np.full(len(ordered), LINE + 1.0)
    # `spread` counts heights upward, pictures count downward.
    wanted = [-view.y(note.at[1]) for note in ordered]
    heights = -spread(wanted, room, -view.height + LINE, -LINE)
    x = view.x(view.cut.right) + ASIDE
    for note, height in zip(ordered, heights.tolist(), strict=True):
        yield _line(view.x(note.at[0]), view.y(note.at[1]), x - 2, height, 0.5)
        yield f'<circle cx="{view.x(note.at[0]):.1f}" cy="{view.y(note.at[1]):.1f}" r="1.6" fill="#2b3a42"/>'
        yield _text(x, height + 4.0, note.text, "start")


def _line(x: float, y: float, far_x: float, far_y: float, width: float) -> str:
    return (
        f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{far_x:.1f}" y2="{far_y:.1f}" stroke="#5c6a70" stroke-width="{width}"/>'
    )


def _text(x: float, y: float, text: str, anchor: str, more: str = "") -> str:
    place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {more}'
    return f'<text {place} font-size="11" fill="#22303a">{escape(text)}</text>'
