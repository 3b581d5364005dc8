"""Pictures of a screening, of the inverse question, and of production."""

import numpy as np

from geometries.numeric import Array
from thermal_model.report.headings import made_by, title_of
from thermal_model.report.pictures.numbers import gaps, hours, known, number, with_point
from thermal_model.report.pictures.record import (
    Curves,
    LimitLine,
    Line,
    Mark,
    Panel,
    Picture,
    RowsPanel,
    Tone,
    Track,
    row_of,
)
from thermal_model.report.screen_text import Intervals
from thermal_model.study.axes import Axis
from thermal_model.study.inverse import Inverse
from thermal_model.study.question import Question
from thermal_model.study.screen import Screening
from thermal_model.study.tolerance import Production
from thermal_model.words.dimensions import dimension_words
from thermal_model.words.numbers import HOUR, duration_text, percent


def screening_picture(found: Screening, intervals: Intervals, question: Question, given: str) -> Picture:
    """Return the picture of all designs and those that none beats; designs that never get there are left out."""
    against = np.array([found.against.shown(value) for value in found.measures[found.against.name].tolist()])
    held = np.where(np.isfinite(found.hold_times), found.hold_times, np.nan) / HOUR
    is_shown = np.isfinite(held) & np.isfinite(against)
    others = found.meets & is_shown
    others[found.front] = False
    misses = ~found.meets & is_shown
    lines: list[Line] = []
    key: list[tuple[Tone, str]] = [("more", "the best" + ("; nine in ten within the bars" if intervals else ""))]
    for chosen, is_hollow, words in ((misses, True, "misses a constraint"), (others, False, "beaten by another")):
        if chosen.any():
            x, y = known(against[chosen]), known(held[chosen])
            lines.append(Line(x=x, y=y, tone="muted", has_line=False, has_dots=True, is_hollow=is_hollow))
            key.append(("muted", f"{'hollow: ' if is_hollow else ''}{words}"))
    front = found.front[is_shown[found.front]]
    lines.append(Line(x=known(against[front]), y=known(held[front]), tone="more", has_dots=True))
    lines += _bands(against, intervals)
    label = f"{found.against.label} [{found.against.unit or '-'}]"
    return Picture(
        subject=f"{question.container.name}, screened",
        title=title_of(question, f"hold time against {found.against.label}"),
        given=given,
        made_by=made_by(f"{found.plan.count} designs, {found.plan.sampling.value}, seed {found.plan.seed}"),
        panels=(Curves(x_label=label, y_label="hold time [h]", lines=tuple(lines), key=tuple(key)),),
    )


def _bands(against: Array, intervals: Intervals) -> list[Line]:
    """Return an upright bar for each design that has an interval."""
    return [
        Line(x=known([against[row]] * 2), y=known([low / HOUR, high / HOUR]), tone="more", is_wide=True)
        for row, (low, high) in intervals.items()
        if np.isfinite([low, high, against[row]]).all()
    ]


def inverse_picture(found: Inverse, question: Question, given: str) -> Picture:
    """Return the picture of hold time over a dimension, and the answer."""
    axis = Axis(found.wanted.path, found.wanted)
    held = np.where(np.isfinite(found.held), found.held, np.nan) / HOUR
    tried, goal = axis.shown(found.tried), found.hold / HOUR
    answer = float(axis.shown(np.array([found.nominal]))[0]) if np.isfinite(found.nominal) else np.nan
    x, y = with_point(tried, held, answer, goal)
    noun, _ = dimension_words(found.wanted.path, question.container)
    unit = {"C": "°C", "F": "°F"}.get(axis.unit, axis.unit) or "-"
    ends = axis.shown(np.clip([found.low, found.high], found.wanted.low, found.wanted.high))
    low, high = np.sort(ends).tolist() if found.draws and not np.isnan(ends).any() else (None, None)
    level = LimitLine(
        y=hours(found.hold) or 0.0,
        text=f"wanted: {duration_text(found.hold)}" + ("; nine in ten within the bar" if low is not None else ""),
        at=number(answer),
        low=number(low),
        high=number(high),
    )
    curve = Line(x=known(x), y=gaps(y), tone="first")
    dots = Line(x=known(tried), y=gaps(held), tone="first", has_line=False, has_dots=True)
    return Picture(
        subject=f"{question.container.name}, inverse",
        title=title_of(question, f"which {noun} holds {duration_text(found.hold)}?"),
        given=given,
        made_by=made_by(f"{found.draws} samples, seed {found.seed}"),
        panels=(Curves(x_label=f"{noun} [{unit}]", y_label="hold time [h]", lines=(curve, dots), levels=(level,)),),
    )


MOST_POINTS = 400
"""Of the curve of pieces: of more, evenly spread ones."""


def production_picture(found: Production, question: Question, given: str) -> Picture:
    """Return the picture: what share of the pieces holds how long, and which dimension spreads them."""
    finite = found.times[np.isfinite(found.times)]
    left = 100.0 * (1.0 - np.arange(len(finite)) / found.pieces)
    picked = np.unique(np.linspace(0, max(len(finite) - 1, 0), MOST_POINTS).astype(int))[: len(finite)]
    curve = Line(x=known(finite[picked] / HOUR), y=gaps(left[picked]), tone="first")
    share, wanted = 100.0 * found.share, duration_text(found.hold)
    level = LimitLine(y=share, text=f"{share:.1f} % hold {wanted}", at=hours(found.hold))
    panels: list[Panel] = [
        Curves(
            x_label="hold time [h]",
            y_label="pieces that hold so long [%]",
            lines=(curve,),
            levels=(level,),
            y_span=(0.0, 100.0),
        )
    ]
    if found.causes:
        rows = tuple(
            row_of(
                dimension_words(path, question.container)[0],
                Mark(at=100.0 * cause, base=0.0, tone="plain", text=percent(cause)),
            )
            for path, cause in found.causes
        )
        track = Track(label="share of the spread [%]", low=0.0)
        panels.append(RowsPanel(title="What spreads the pieces", tracks=(track,), rows=rows))
    return Picture(
        subject=f"{question.container.name}, production",
        title=title_of(question, f"how many pieces hold {wanted}?"),
        given=given,
        made_by=made_by(f"{found.pieces} pieces, seed {found.seed}"),
        panels=tuple(panels),
        shares=(0.62, 0.38) if len(panels) > 1 else (),
    )
