"""A picture of the hold times of a container in other conditions."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from thermal_model.judge.carry import Carried
from thermal_model.prediction import HoldTime, Prediction
from thermal_model.report.headings import subtitle_of, write_heading
from thermal_model.report.plots import COLD, HOT, MUTED_TEXT, blank_figure, check_format, house_style, save_figure
from thermal_model.words.numbers import Scale, duration_text, sensible_step

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HOUR = 3600.0
WARMS, COOLS = COLD, HOT


def draw_carried(bench: Prediction, found: Sequence[Carried], path: Path, given: str, scale: Scale) -> None:
    """Draw the hold times into a file; an InputError says why it can't be."""
    check_format(path)
    with house_style():
        save_figure(carried_figure(bench, found, given, scale), path, f"{bench.container.name}, carried over")


def carried_figure(bench: Prediction, found: Sequence[Carried], given: str, scale: Scale) -> "Figure":
    """Return the figure that `draw_carried` writes: a line for each limit of each scenario."""
    rows = [("on the bench", bench, hold_time, "") for hold_time in bench.hold_times]
    for entry in found:
        if entry.prediction is not None:
            pairs = zip(entry.prediction.hold_times, entry.wanted.limits, strict=True)
            name = entry.name.replace("_", " ")
            rows += [(name, entry.prediction, hold_time, limit.purpose) for hold_time, limit in pairs]
    figure = blank_figure(9.0, 1.8 + 0.34 * len(rows))
    axes = figure.subplots()
    labels = []
    for row, (name, prediction, hold_time, purpose) in enumerate(rows):
        side = "below" if hold_time.limit > prediction.scenario.start else "above"
        is_first = row == 0 or rows[row - 1][0] != name
        labels.append(f"{name if is_first else ''}   {side} {scale.text(hold_time.limit)}")
        _draw_row(axes, row, hold_time, COOLS if side == "above" else WARMS, purpose)
    axes.set_yticks(range(len(rows)), labels, fontsize=8.5)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(left=0.0)
    axes.margins(x=0.25)
    axes.set_xlabel("hold time [h]")
    name = bench.container.called
    sample = f"{bench.draws} samples, seed {bench.seed}; the bars hold nine in ten" if bench.draws else "best guess"
    write_heading(axes, f"{name} elsewhere", subtitle_of(f"on the bench: {given}", sample))
    return figure


def _draw_row(axes: "Axes", row: int, hold_time: HoldTime, colour: str, purpose: str) -> None:
    middle = hold_time.median if hold_time.median is not None else hold_time.nominal
    if middle is None:
        axes.annotate("not reached", (0.0, row), (4.0, 0.0), textcoords="offset points", va="center", fontsize=8.0)
        return
    ends, step = [middle, middle], 60.0
    if hold_time.low is not None and hold_time.high is not None:
        ends, step = [hold_time.low, hold_time.high], sensible_step(hold_time.high - hold_time.low)
        axes.plot(
            [end / HOUR for end in ends], [row, row], color=colour, linewidth=6.0, alpha=0.35, solid_capstyle="butt"
        )
    axes.plot([middle / HOUR], [row], marker="o", markersize=5.0, color=colour)
    text = f"{duration_text(middle, step)}  {purpose}".rstrip()
    place = (ends[1] / HOUR, row)
    axes.annotate(text, place, (8.0, 0.0), textcoords="offset points", va="center", fontsize=8.0, color=MUTED_TEXT)
