"""Pictures of why one container holds longer than another."""

import math
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from thermal_model.reasons.pair import PairExplanation, Share
from thermal_model.report.explain_pair_text import gain_text
from thermal_model.report.headings import subtitle_of, write_heading
from thermal_model.report.part_words import part_text
from thermal_model.report.plots import (
    CURVE,
    INK,
    LIMIT,
    MUTED_TEXT,
    blank_figure,
    check_format,
    house_style,
    save_figure,
)
from thermal_model.words.numbers import duration_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HOUR = 3600.0
LABEL_WIDTH = 125
"""Letters of a line over a bar."""

ROW_HEIGHT = 0.72
"""Of a bar and what is written over it. [in]"""


def draw_pair(found: PairExplanation, path: Path, given: str) -> None:
    """Draw the shares as bars into a file; an InputError says why it can't be."""
    check_format(path)
    with house_style():
        save_figure(pair_figure(found, given), path, f"{_names(found)[0]} against {_names(found)[1]}")


def _names(found: PairExplanation) -> tuple[str, str]:
    first, second = (c.container.name.replace("_", " ") for c in (found.first, found.second))
    return f"{first[:1].upper()}{first[1:]}", second


def pair_figure(found: PairExplanation, given: str) -> "Figure":
    """Return the figure that `draw_pair` writes: one bar a part, the largest on top."""
    shares = sorted(found.shares(), key=lambda share: abs(share.log_ratio.nominal))
    figure = blank_figure(9.0, 2.1 + ROW_HEIGHT * max(len(shares), 1))
    axes = figure.subplots()
    for row, share in enumerate(shares):
        _draw_share(axes, row, share, found.seconds.nominal)
        _write_label(axes, row, share, found)
    axes.axvline(0.0, color=INK, linewidth=1.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_ylim(-0.5, len(shares) - 0.1)
    axes.set_xlabel("hours that A gains (right) or loses (left) against B")
    axes.margins(x=0.14)
    title = f"{_names(found)[0]} (A) against {_names(found)[1]} (B)"
    sample = f"{found.draws} samples, seed {found.seed}; the lines hold nine in ten" if found.draws else "best guess"
    held = f"A {duration_text(found.first_time.nominal)}, B {duration_text(found.second_time.nominal)}"
    write_heading(
        axes, title, subtitle_of(f"{given}\n{held}: {gain_text(found.seconds.nominal, found.seconds.nominal)}", sample)
    )
    return figure


def _write_label(axes: "Axes", row: int, share: Share, found: PairExplanation) -> None:
    """Write what A and B have, over the bar."""
    first, second = (part_text(share.group, c.container, c.scenario) for c in (found.first, found.second))
    name = share.group.value
    axes.annotate(
        fill(f"{name[:1].upper()}{name[1:]} – A: {first}; B: {second}", LABEL_WIDTH),
        (0.0, row + 0.28),
        xycoords=("axes fraction", "data"),
        va="bottom",
        fontsize=8.5,
    )


def _draw_share(axes: "Axes", row: int, share: Share, whole: float) -> None:
    hours, is_gain = share.seconds.nominal / HOUR, share.seconds.nominal >= 0.0
    axes.barh(row, hours, height=0.42, color=CURVE if is_gain else LIMIT, alpha=0.85)
    ends = [hours, hours]
    if not math.isnan(share.seconds.low):
        ends = [share.seconds.low / HOUR, share.seconds.high / HOUR]
        axes.plot(ends, [row, row], color=INK, linewidth=1.4, solid_capstyle="butt")
    beyond = max(hours, *ends, 0.0) if is_gain else min(hours, *ends, 0.0)
    axes.annotate(
        gain_text(share.seconds.nominal, whole),
        (beyond, row),
        (5.0 if is_gain else -5.0, 0.0),
        textcoords="offset points",
        ha="left" if is_gain else "right",
        va="center",
        fontsize=9.0,
        color=MUTED_TEXT,
    )
