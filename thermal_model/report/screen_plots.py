"""Pictures of a screening, of the inverse question and of production."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from thermal_model.report.headings import subtitle_of, title_of, write_heading
from thermal_model.report.plots import (
    CURVE,
    LIMIT,
    MUTED,
    blank_figure,
    check_format,
    house_style,
    save_figure,
    with_point,
)
from thermal_model.report.screen_text import Intervals
from thermal_model.study.axes import Axis
from thermal_model.study.inverse import Inverse
from thermal_model.study.question import Question
from thermal_model.study.screen import Screening
from thermal_model.words.dimensions import dimension_words
from thermal_model.words.numbers import duration_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

HOUR = 3600.0


def draw_screening(found: Screening, intervals: Intervals, question: Question, path: Path, subtitle: str) -> None:
    """Draw all designs and their front into a file; an InputError says why it can't be."""
    check_format(path)
    with house_style():
        figure = screening_figure(found, intervals, question, subtitle)
        save_figure(figure, path, f"{question.container.name}, screened")


def draw_inverse(found: Inverse, question: Question, path: Path, subtitle: str) -> None:
    """Draw hold time over the dimension, and the answer, into a file; an InputError says why it can't be."""
    check_format(path)
    with house_style():
        save_figure(inverse_figure(found, question, subtitle), path, f"{question.container.name}, inverse")


def screening_figure(found: Screening, intervals: Intervals, question: Question, subtitle: str) -> "Figure":
    """Return the figure that `draw_screening` writes; designs that never get there are left out."""
    figure = blank_figure(8.0, 5.4)
    axes = figure.subplots()
    against = np.array([found.against.shown(value) for value in found.measures[found.against.name].tolist()])
    hours = np.where(np.isfinite(found.hold_times), found.hold_times, np.nan) / HOUR
    others = found.meets.copy()
    others[found.front] = False
    misses = ~found.meets & np.isfinite(hours)
    axes.scatter(against[misses], hours[misses], s=14, facecolors="none", edgecolors=MUTED, label="misses a constraint")
    axes.scatter(against[others], hours[others], s=14, color=MUTED, label="beaten by another")
    axes.plot(against[found.front], hours[found.front], color=CURVE, marker="o", markersize=5.0, label="the best")
    for row, (low, high) in intervals.items():
        ends = [low / HOUR, high / HOUR]
        axes.plot([against[row]] * 2, ends, color=CURVE, linewidth=4.0, alpha=0.25, solid_capstyle="butt")
    if intervals:
        axes.plot([], [], color=CURVE, linewidth=4.0, alpha=0.25, label="nine in ten")
    if not misses.any():
        axes.collections[0].set_label("_none")
    unit = f" [{found.against.unit}]" if found.against.unit else ""
    axes.set_xlabel(f"{found.against.label}{unit}")
    axes.set_ylabel("hold time [h]")
    axes.legend(frameon=False, fontsize=9.0)
    made = f"{found.plan.count} designs, {found.plan.sampling.value}, seed {found.plan.seed}"
    title = title_of(question, f"hold time against {found.against.label}")
    write_heading(axes, title, subtitle_of(subtitle, made), grid="both")
    return figure


def inverse_figure(found: Inverse, question: Question, subtitle: str) -> "Figure":
    """Return the figure that `draw_inverse` writes."""
    figure = blank_figure(8.0, 4.8)
    axes = figure.subplots()
    axis = Axis(found.wanted.path, found.wanted)
    hours = np.where(np.isfinite(found.held), found.held, np.nan) / HOUR
    tried, goal = axis.shown(found.tried), found.hold / HOUR
    answer = float(axis.shown(np.array([found.nominal]))[0]) if np.isfinite(found.nominal) else np.nan
    axes.plot(*with_point(tried, hours, answer, goal), color=CURVE, label="best guess")
    axes.plot(tried, hours, color=CURVE, marker="o", markersize=4.0, linestyle="none")
    axes.axhline(goal, color=LIMIT, linewidth=1.0, linestyle=(0, (6, 3)))
    ends = axis.shown(np.clip([found.low, found.high], found.wanted.low, found.wanted.high))
    if found.draws and not np.isnan(ends).any():
        reach = {"color": LIMIT, "linewidth": 5.0, "alpha": 0.35, "solid_capstyle": "butt"}
        axes.plot(ends, [goal] * 2, label="nine in ten", **reach)  # type: ignore[arg-type]
    if np.isfinite(answer):
        axes.plot([answer], [goal], color=LIMIT, marker="o", markersize=6.0, linestyle="none")
    noun, _ = dimension_words(found.wanted.path, question.container)
    axes.set_xlabel(f"{noun} [{axis.unit}]" if axis.unit else noun)
    axes.set_ylabel("hold time [h]")
    axes.legend(frameon=False, fontsize=9.0)
    what = f"which {noun} holds {duration_text(found.hold)}?"
    made = f"{found.draws} samples, seed {found.seed}"
    write_heading(axes, title_of(question, what), subtitle_of(subtitle, made), grid="both")
    return figure
