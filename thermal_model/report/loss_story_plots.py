"""Picture of one container in two conditions: what parts their temperatures, and the paths the heat took."""

from pathlib import Path
from typing import TYPE_CHECKING

from thermal_model.reasons.loss_story import LossStory
from thermal_model.report.headings import subtitle_of, write_heading
from thermal_model.report.loss_story_text import LEAST_PATH, LEAST_TOLD
from thermal_model.report.plots import (
    COLD,
    HOT,
    INK,
    MUTED_TEXT,
    PATH_COLOURS,
    blank_figure,
    check_format,
    house_style,
    save_figure,
)
from thermal_model.report.results import path_label
from thermal_model.solver.network import PATHS
from thermal_model.words.numbers import Scale, duration_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FEWEST_LETTERS = 0.12
"""A slice narrower than this share of the longer bar carries no figure."""


def draw_story(story: LossStory, path: Path, given: tuple[str, str], scale: Scale = Scale.CELSIUS) -> None:
    """Draw causes and paths into a file; an InputError says why it can't be.

    Parameters
    ----------
    story : LossStory
    path : Path
    given : pair of str
        What is known of A and of B, in a line each.
    scale : Scale
        Of the temperatures.
    """
    check_format(path)
    with house_style():
        save_figure(story_figure(story, given, scale), path, f"{story.container.name} in two conditions")


def story_figure(story: LossStory, given: tuple[str, str], scale: Scale = Scale.CELSIUS) -> "Figure":
    """Return the figure that `draw_story` writes."""
    causes = _causes(story)
    figure = blank_figure(9.0, 4.6 + 0.42 * len(causes))
    above, below = figure.subplots(2, 1, height_ratios=(max(len(causes), 1), 1.9))
    _draw_causes(above, causes)
    _draw_paths(below, story)
    name = story.container.called
    after = duration_text(story.first.duration)
    ends = f"after {after}: A {scale.text(story.first.end, 3)}, B {scale.text(story.second.end, 3)}"
    write_heading(
        above,
        f"{name} in two conditions",
        subtitle_of(f"A: {given[0]}\nB: {given[1]}\n{ends}"),
    )
    return figure


def _causes(story: LossStory) -> list[tuple[str, float]]:
    """Return causes and how much warmer they leave B [K], the largest last."""
    causes = {
        "heat the contents hold": story.by_heat_capacity,
        "heat passed for each degree": story.by_coefficient,
        "heat that walls and lid took": story.by_walls,
        "start and room": story.by_conditions,
    }
    return sorted(((k, v) for k, v in causes.items() if abs(v) >= LEAST_TOLD), key=lambda pair: abs(pair[1]))


def _draw_causes(axes: "Axes", causes: list[tuple[str, float]]) -> None:
    values = [kelvin for _, kelvin in causes]
    axes.barh(range(len(causes)), values, height=0.6, color=[HOT if k > 0.0 else COLD for k in values], alpha=0.85)
    for row, kelvin in enumerate(values):
        axes.annotate(
            f"{kelvin:+.1f} K".replace("-", "−"),
            (kelvin, row),
            (5.0 if kelvin > 0.0 else -5.0, 0.0),
            textcoords="offset points",
            ha="left" if kelvin > 0.0 else "right",
            va="center",
            fontsize=9.0,
            color=MUTED_TEXT,
        )
    axes.axvline(0.0, color=INK, linewidth=1.0)
    axes.set_yticks(range(len(causes)), [name for name, _ in causes])
    axes.margins(x=0.14)
    axes.set_xlabel("B warmer than A at the end (right) or colder (left) for it [K]")


def _draw_paths(axes: "Axes", story: LossStory) -> None:
    accounts = (story.second, story.first)
    longest = max(account.heat_loss_coefficient for account in accounts)
    for row, account in enumerate(accounts):
        left = 0.0
        for path in PATHS:
            width = account.heat_paths[path]
            if width < LEAST_PATH:
                continue
            label = path_label(path, story.container) if row == 1 else None
            axes.barh(row, 1e3 * width, left=1e3 * left, height=0.6, color=PATH_COLOURS[path], label=label)
            if width > FEWEST_LETTERS * longest:
                axes.annotate(
                    f"{1e3 * width:.1f}", (1e3 * (left + 0.5 * width), row), ha="center", va="center", color="white"
                )
            left += width
    axes.set_yticks((0, 1), ("B", "A"))
    axes.set_ylim(-0.5, 1.5)
    axes.set_xlabel("heat passed for each degree, halfway between start and end [mW/K]")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.42), ncols=len(PATHS), frameon=False, fontsize=9.0)
