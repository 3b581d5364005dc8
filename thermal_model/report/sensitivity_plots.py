"""Pictures of a sensitivity: bars, the largest on top."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from thermal_model.report.headings import subtitle_of, title_of, write_heading
from thermal_model.report.plots import CURVE, LIMIT, MUTED, blank_figure, check_format, house_style, save_figure
from thermal_model.report.sensitivity_text import LEAST_SHARE, input_label
from thermal_model.study.question import Question
from thermal_model.study.sensitivity import CONFIDENCE, GlobalSensitivity, LocalSensitivity
from thermal_model.uncertainty import PRIORS
from thermal_model.words.dimensions import dimension_words
from thermal_model.words.numbers import duration_text, percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_BARS = 14
_ROW, _MARGINS = 0.33, 1.7
"""Heights of a bar with its space, and of what is around them. [inch]"""


def draw_sensitivity(
    found: LocalSensitivity | GlobalSensitivity, question: Question, path: Path, subtitle: str
) -> None:
    """Draw bars into a file.

    Parameters
    ----------
    found : LocalSensitivity or GlobalSensitivity
    question : Question
    path : Path
        Its ending chooses the format.
    subtitle : str
        What was given.

    Raises
    ------
    InputError
        If the ending is not known or the file can't be written.
    """
    check_format(path)
    with house_style():
        save_figure(sensitivity_figure(found, question, subtitle), path, f"{question.container.name}, sensitivity")


def sensitivity_figure(found: LocalSensitivity | GlobalSensitivity, question: Question, subtitle: str) -> "Figure":
    """Return the figure that `draw_sensitivity` writes."""
    if isinstance(found, GlobalSensitivity):
        return _global_figure(found, question, subtitle)
    parts = [part for part in (found.elasticities, found.unknowns) if part]
    rows = [min(len(part), MOST_BARS) for part in parts]
    figure = blank_figure(8.0, sum(_MARGINS + _ROW * n for n in rows))
    panels = np.atleast_1d(figure.subplots(len(parts), 1, height_ratios=[n + 2 for n in rows])).tolist()
    if found.elasticities:
        _draw_elasticities(panels.pop(0), found, question, subtitle)
    if found.unknowns:
        _draw_unknowns(panels[0], found, "" if found.elasticities else subtitle)
    return figure


def _draw_elasticities(axes: "Axes", found: LocalSensitivity, question: Question, subtitle: str) -> None:
    shown = found.elasticities[:MOST_BARS]
    values = [e.value for e in shown]
    labels = []
    for effect in shown:
        noun, more = dimension_words(effect.field.path, question.container)
        labels.append(f"{noun}, {more}")
    _bars(axes, labels, values, [LIMIT if v < 0.0 else CURVE for v in values])
    axes.axvline(0.0, color=MUTED, linewidth=1.0)
    for row, value in enumerate(values):
        _number(axes, f"{value:+.2g}", value, row)
    axes.margins(x=0.12)
    axes.set_xlabel("percent of hold time per percent of the dimension")
    held = f"holds {duration_text(found.hold_time)} as it is"
    write_heading(axes, title_of(question, "what each dimension does"), subtitle_of(subtitle, held))


def _draw_unknowns(axes: "Axes", found: LocalSensitivity, subtitle: str) -> None:
    shown = found.unknowns[:MOST_BARS]
    labels = [PRIORS[e.name].label for e in shown]
    reach = np.array([[e.lower, e.upper] for e in shown]) / 3600.0
    axes.barh(np.arange(len(shown)), reach[:, 1] - reach[:, 0], left=reach[:, 0], height=0.6, color=CURVE, alpha=0.8)
    _name_rows(axes, labels)
    axes.axvline(found.hold_time / 3600.0, color=LIMIT, linewidth=1.2)
    axes.set_xlabel("hold time [h]")
    axes.margins(x=0.05)
    title = "What is not known, a standard deviation down and up"
    write_heading(axes, title, subtitle_of(subtitle) if subtitle else "")


def _global_figure(found: GlobalSensitivity, question: Question, subtitle: str) -> "Figure":
    shown = [index for index in found.indices if index.total >= LEAST_SHARE][:MOST_BARS]
    figure = blank_figure(8.0, _MARGINS + 1.3 * _ROW * len(shown))
    axes = figure.subplots()
    rows = np.arange(len(shown))
    for offset, colour, name, label in ((-0.19, CURVE, "first", "alone"), (0.19, MUTED, "total", "with others")):
        values = [getattr(index, name) for index in shown]
        margins = [getattr(index, f"{name}_margin") for index in shown]
        axes.barh(rows + offset, values, height=0.36, color=colour, label=f"{label} ({name} index)")
        axes.errorbar(values, rows + offset, xerr=margins, fmt="none", ecolor="black", elinewidth=0.9, capsize=2.0)
    _name_rows(axes, [input_label(index.name, question) for index in shown])
    axes.axvline(0.0, color=MUTED, linewidth=1.0)
    axes.set_xlabel(f"share of the variance of the hold time, {percent(CONFIDENCE)} intervals")
    axes.legend(frameon=False, loc="lower right", fontsize=9.0)
    sample = f"{found.runs} designs, seed {found.seed}"
    write_heading(axes, title_of(question, "where the spread comes from"), subtitle_of(subtitle, sample))
    return figure


def _bars(axes: "Axes", labels: list[str], values: list[float], colours: list[str]) -> None:
    axes.barh(np.arange(len(values)), values, height=0.6, color=colours)
    _name_rows(axes, labels)


def _name_rows(axes: "Axes", labels: list[str]) -> None:
    axes.set_yticks(np.arange(len(labels)), labels)
    axes.set_ylim(len(labels) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0.0)
    axes.spines["left"].set_visible(False)


def _number(axes: "Axes", text: str, value: float, row: int) -> None:
    side = "left" if value >= 0.0 else "right"
    axes.annotate(
        text,
        (value, row),
        (4.0 if value >= 0.0 else -4.0, 0.0),
        textcoords="offset points",
        ha=side,
        va="center",
        fontsize=8.5,
    )
