"""A picture of a bench: what the displays showed, and the hold times that follow."""

import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from thermal_model.bench.reduce.evidence import points_of
from thermal_model.bench.reduce.hold_times import MeasuredHoldTime
from thermal_model.bench.reduce.reduction import Reduction
from thermal_model.report.headings import subtitle_of, write_heading
from thermal_model.report.plots import MUTED_TEXT, blank_figure, check_format, house_style, save_figure
from thermal_model.words.numbers import HOUR, Scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = ("#0b6e6e", "#d9822b", "#5b7083", "#8c4a73", "#7a9a3a", "#2f6fb0", "#a0522d", "#444444")
"""One for each container, again from the first if there are more."""


def draw_reduction(reduction: Reduction, path: Path, scale: Scale = Scale.CELSIUS) -> None:
    """Draw readings and hold times into a file; an InputError says why it can't be."""
    check_format(path)
    with house_style():
        save_figure(reduction_figure(reduction, scale), path, f"{reduction.bench.name}, reduced")


def reduction_figure(reduction: Reduction, scale: Scale = Scale.CELSIUS) -> "Figure":
    """Return the figure that `draw_reduction` writes."""
    rows = sum(len(held) for held in reduction.hold_times.values())
    figure = blank_figure(8.5, 5.0 + 0.26 * max(rows, 3))
    curves, bars = figure.subplots(2, 1, height_ratios=(4.0, 1.0 + 0.26 * max(rows, 3)))
    colours = dict(zip(reduction.bench.containers, COLOURS * len(reduction.bench.containers), strict=False))
    _draw_curves(curves, reduction, colours, scale)
    _draw_hold_times(bars, reduction, colours, scale)
    flagged = "; dashed: flagged" if reduction.flags else ""
    subtitle = subtitle_of(f"Readings with the probes' offsets taken off{flagged}", "no model behind them")
    write_heading(curves, f"{reduction.bench.name}: what the displays showed", subtitle, grid="both")
    return figure


def _draw_curves(axes: "Axes", reduction: Reduction, colours: dict[str, str], scale: Scale) -> None:
    flagged = {flag.run for flag in reduction.flags}
    named: set[str] = set()
    for run in reduction.bench.runs:
        points = points_of(run, reduction.bench.probes, reduction.offsets)
        shown = np.array([scale.number(value) for value in points.temperature.tolist()])
        label = "_none" if run.container in named else run.container.replace("_", " ")
        named.add(run.container)
        style = (0, (3, 2)) if run.name in flagged else "-"
        marker = "o" if len(points) < 30 else ""
        axes.plot(
            points.time / HOUR,
            shown,
            color=colours[run.container],
            linewidth=1.1,
            linestyle=style,
            marker=marker,
            markersize=3.0,
            label=label,
        )
    axes.set_xlabel("time since pouring [h]")
    axes.set_ylabel(f"temperature [{scale.sign}]")
    axes.set_xlim(left=0.0)
    axes.legend(frameon=False, fontsize=9.0)


def _draw_hold_times(axes: "Axes", reduction: Reduction, colours: dict[str, str], scale: Scale) -> None:
    flagged = {flag.run for flag in reduction.flags}
    # Containers together, in the order of the bench.
    order = list(reduction.bench.containers)
    runs = sorted(reduction.bench.runs, key=lambda run: order.index(run.container))
    rows = [(run, held) for run in runs for held in reduction.hold_times[run.name]]
    ends = [t for _, held in rows for t in (held.low, held.high, held.time or 0.0) if math.isfinite(t)]
    end = 1.08 * max(ends, default=HOUR) / HOUR
    labels = []
    for place, (run, held) in enumerate(rows):
        _draw_hold_time(axes, held, place, colours[run.container], end)
        star = " *" if run.name in flagged else ""
        labels.append(f"{run.name}{star}, {scale.text(held.limit)}")
    axes.set_yticks(range(len(rows)), labels, fontsize=8.5)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(0.0, end)
    axes.set_xlabel("hold time [h]: best value and nine in ten; arrow: at least")
    axes.grid(axis="x", color=MUTED_TEXT, alpha=0.2, linewidth=0.6)


def _draw_hold_time(axes: "Axes", held: MeasuredHoldTime, place: int, colour: str, end: float) -> None:
    if math.isinf(held.high):
        arrow = {"arrowstyle": "->", "color": colour, "linewidth": 1.6}
        axes.annotate("", (end, place), (held.low / HOUR, place), arrowprops=arrow)
        axes.plot([held.low / HOUR], [place], marker="|", markersize=9.0, color=colour)
        return
    # An interval between two looks is a bare line: no value in it is better than another.
    width = 5.0 if held.time is not None else 2.0
    axes.plot(
        [held.low / HOUR, held.high / HOUR],
        [place, place],
        color=colour,
        linewidth=width,
        alpha=0.4 if held.time is not None else 1.0,
        solid_capstyle="butt",
    )
    if held.time is not None:
        axes.plot([held.time / HOUR], [place], marker="o", markersize=5.0, color=colour)
