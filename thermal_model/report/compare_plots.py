"""A picture of a ranking: a line with a dot for each container, the tiers set apart."""

import math
from pathlib import Path
from typing import TYPE_CHECKING

from thermal_model.judge.compare import Ranking, Standing
from thermal_model.report.headings import subtitle_of, write_heading
from thermal_model.report.plots import COLD, HOT, INK, MUTED, blank_figure, check_format, house_style, save_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HOUR = 3600.0
ROW_HEIGHT = 0.34
"""Of a container. [in]"""


def draw_rankings(first: Ranking, second: Ranking | None, path: Path, given: str) -> None:
    """Draw a ranking, and a second one as hollow dots, into a file; an InputError says why it can't be."""
    check_format(path)
    with house_style():
        save_figure(rankings_figure(first, second, given), path, "containers compared")


def is_cold(ranking: Ranking) -> bool:
    """Tell whether a ranking is of cold contents."""
    return bool(ranking.limit > ranking.scenario.start)


def rankings_figure(first: Ranking, second: Ranking | None, given: str) -> "Figure":
    """Return the figure that `draw_rankings` writes, the best on top."""
    figure = blank_figure(9.0, 1.9 + ROW_HEIGHT * max(len(first.standings), 1))
    axes = figure.subplots()
    cold = {} if second is None else {s.entry.name: s for s in second.standings}
    for row, standing in enumerate(first.standings):
        _draw(axes, -row, standing, COLD if is_cold(first) else HOT, is_filled=True)
        if standing.entry.name in cold:
            _draw(axes, -row - 0.25, cold[standing.entry.name], COLD, is_filled=False)
        if row and standing.tier != first.standings[row - 1].tier:
            axes.axhline(0.5 - row, color=MUTED, linewidth=0.8, linestyle=(0, (1, 3)))
    axes.set_yticks([-row for row in range(len(first.standings))], [s.entry.name for s in first.standings])
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.set_xlim(left=0.0)
    axes.set_xlabel("hours" if second is None else "hours; filled dots: hot, hollow dots: cold")
    sample = f"{first.draws} samples, seed {first.seed}; the lines hold nine in ten" if first.draws else "best guess"
    write_heading(axes, "How long each holds; dotted lines part what can be told apart", subtitle_of(given, sample))
    return figure


def _draw(axes: "Axes", y: float, standing: Standing, colour: str, *, is_filled: bool) -> None:
    if not math.isfinite(standing.centre):
        axes.annotate("never reached", (0.0, y), color=INK, va="center", fontsize=8.5)
        return
    low, high = (t / HOUR for t in standing.interval)
    if math.isfinite(low):
        end = high if math.isfinite(high) else max(axes.get_xlim()[1], standing.centre / HOUR)
        axes.plot([low, end], [y, y], color=colour, linewidth=1.8, solid_capstyle="butt", alpha=0.7)
    face = colour if is_filled else "white"
    axes.plot([standing.centre / HOUR], [y], "o", color=colour, markerfacecolor=face, markersize=5.5)
