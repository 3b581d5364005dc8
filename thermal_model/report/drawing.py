"""Containers drawn to scale: a cut through the axis with its dimensions, two side by side, and where the heat goes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill as wrapped
from typing import TYPE_CHECKING

import numpy as np

from geometries.container import Container, outside_diameter
from geometries.section import AIR, CONTENTS, VACUUM, CrossSection, DimensionLine, cross_section
from thermal_model.report.plots import (
    INK,
    MUTED_TEXT,
    PATH_COLOURS,
    blank_figure,
    check_format,
    house_style,
    save_figure,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermal_model.prediction import Prediction

HIGHEST, WIDEST = 6.0, 4.5
"""Of what is drawn to scale [in]."""

LANES, COLUMN, LINE = 1.15, 2.45, 0.2
"""Width of the arrows to the left and of the texts to the right, and the height of a line of text [in]."""

ABOVE, BELOW = 1.0, 0.6
"""Over and under what is drawn to scale: title, mouth, width [in]."""

LETTERS = 30
"""In one line of a column of texts."""

HOT, COLD = "#f3b27a", "#9cc6e6"
"""Contents above the room are warm-coloured, below it cool-coloured."""

_METALS = ("stainless", "copper", "aluminium", "silver", "titanium")
_FOAMS = ("foam", "polystyrene", "honeycomb")
_LOOKS = {
    AIR: ("#ffffff", ""),
    VACUUM: ("#eef1f4", ""),
    CONTENTS: (COLD, ""),
    "closed opening": ("#d8d2c4", "xx"),
}


@dataclass(frozen=True)
class Drawn:
    """One container of a drawing.

    Attributes
    ----------
    container : Container
    fill : float or None
        [m3]
    is_hot : bool
        Whether the contents are warmer than the room.
    heat_paths : mapping of str to float
        Heat loss by path, drawn as arrows as wide as their share; empty for none. [W K-1]
    """

    container: Container
    fill: float | None = None
    is_hot: bool = True
    heat_paths: Mapping[str, float] | None = None


def drawn_prediction(prediction: "Prediction") -> Drawn:
    """Return the container of a prediction with its contents and its heat paths."""
    from thermal_model.assemble.contents import filled_volume

    container, scenario = prediction.container, prediction.scenario
    is_hot = prediction.reference_temperature >= float(scenario.room)
    # Floating ice takes the room of the water it melts to.
    held = float(filled_volume(container, scenario)) + float(scenario.ice) / 1000.0
    return Drawn(container, held, is_hot, prediction.heat_paths)


def draw_containers(drawn: Sequence[Drawn], path: Path, unit: str = "mm") -> None:
    """Draw containers side by side at one scale into a file, whole or not at all.

    Parameters
    ----------
    drawn : sequence of Drawn
    path : Path
        Its ending, .png, .svg or .pdf, chooses the format.
    unit : str
        Of the lengths.

    Raises
    ------
    InputError
        If the ending is not known or the file can't be written.
    """
    check_format(path)
    with house_style():
        save_figure(drawing_figure(drawn, unit), path, ", ".join(each.container.name for each in drawn))


def drawing_figure(drawn: Sequence[Drawn], unit: str = "mm") -> "Figure":
    """Return the figure that `draw_containers` writes."""
    cuts = [cross_section(each.container, each.fill, unit) for each in drawn]
    scale = max(max((cut.top - cut.table_height) / HIGHEST, (cut.right - cut.left) / WIDEST) for cut in cuts)
    widths = [(cut.right - cut.left) / scale + LANES + COLUMN for cut in cuts]
    height = max((cut.top - cut.table_height) / scale for cut in cuts) + ABOVE + BELOW
    figure = blank_figure(sum(widths), height)
    figure.set_layout_engine("none")
    left = 0.0
    for each, cut, width in zip(drawn, cuts, widths, strict=True):
        axes = figure.add_axes((left / sum(widths), 0.0, width / sum(widths), 1.0))
        axes.set_xlim(cut.left - LANES * scale, cut.right + COLUMN * scale)
        axes.set_ylim(cut.table_height - BELOW * scale, cut.table_height + (height - BELOW) * scale)
        axes.set_axis_off()
        _draw(axes, each, cut, scale)
        left += width
    return figure


def _draw(axes: "Axes", each: Drawn, cut: CrossSection, per_inch: float) -> None:
    """Draw one container; per_inch is the scale. [m in-1]"""
    for region in cut.regions:
        face, hatch = look(region.filling, each.is_hot)
        for outline in region.outlines:
            axes.fill(*outline.T, facecolor=face, hatch=hatch, edgecolor=INK, linewidth=0.5)
    axes.plot([cut.left, cut.right], [cut.table_height] * 2, color=INK, linewidth=1.2)
    _write_title(axes, each.container)
    if each.heat_paths:
        _draw_heat(axes, each, cut, per_inch)
        return
    lanes = 0
    for measure in cut.measures:
        is_level = measure.start[1] == measure.end[1]
        _draw_measure(axes, measure, cut.left - (0.2 + 0.3 * lanes) * per_inch, per_inch)
        lanes += not is_level
    _draw_notes(axes, cut, per_inch)


def look(filling: str, is_hot: bool) -> tuple[str, str]:
    """Return face colour and hatching of what fills a region."""
    if filling == CONTENTS:
        return (HOT if is_hot else COLD), ""
    if filling in _LOOKS:
        return _LOOKS[filling]
    if any(word in filling for word in _METALS):
        return "#7d8b97", ""
    if any(word in filling for word in _FOAMS):
        return "#f4ecd0", "...."
    if any(word in filling for word in ("cork", "bamboo")):
        return "#d9bd92", ""
    if any(word in filling for word in ("glass", "stoneware")):
        return "#b9cfc4", ""
    if "rubber" in filling or "silicone" in filling:
        return "#a8323e", ""
    return "#c9c2b4", ""


def _write_title(axes: "Axes", container: Container) -> None:
    name = container.called
    text = wrapped(name[:1].upper() + name[1:], 34)
    axes.text(0.5, 0.985, text, ha="center", va="top", fontsize=12.0, fontweight="bold", transform=axes.transAxes)


# --- dimensions -----------------------------------------------------------------------------------------------


def _draw_measure(axes: "Axes", measure: DimensionLine, lane: float, per_inch: float) -> None:
    """Draw an arrow over, under or to the left of the outline, and thin lines to the places it measures."""
    (x, y), (far_x, far_y) = measure.start, measure.end
    if y == far_y:
        away = (0.2 if y > 0.0 else -0.2) * per_inch
        _arrow(axes, (x, y + away), (far_x, y + away))
        for end in (x, far_x):
            axes.plot([end, end], [y, y + 1.2 * away], color=MUTED_TEXT, linewidth=0.5)
        side = "bottom" if y > 0.0 else "top"
        axes.text(0.5 * (x + far_x), y + 1.3 * away, measure.text, ha="center", va=side, fontsize=9.0)
        return
    _arrow(axes, (lane, y), (lane, far_y))
    for end in (y, far_y):
        axes.plot([x, lane], [end, end], color=MUTED_TEXT, linewidth=0.5, zorder=0.5)
    at = (lane - 0.03 * per_inch, 0.5 * (y + far_y))
    axes.text(*at, measure.text, rotation=90, ha="right", va="center", fontsize=9.0)


def _arrow(axes: "Axes", start: tuple[float, float], end: tuple[float, float]) -> None:
    style = {
        "arrowstyle": "<|-|>",
        "color": MUTED_TEXT,
        "linewidth": 0.8,
        "shrinkA": 0,
        "shrinkB": 0,
        "mutation_scale": 7,
    }
    axes.annotate("", start, end, arrowprops=style)


def _draw_notes(axes: "Axes", cut: CrossSection, per_inch: float) -> None:
    """Write texts in a column to the right, in the order of the places they point at and clear of each other."""
    ordered = sorted(cut.notes, key=lambda note: -note.at[1])
    texts = [wrapped(note.text, LETTERS) for note in ordered]
    room = np.array([LINE * (0.3 + 0.8 * (1 + text.count("\n"))) * per_inch for text in texts])
    heights = spread([note.at[1] for note in ordered], room, cut.table_height, cut.top + 0.3 * per_inch)
    x = cut.right + 0.35 * per_inch
    for note, text, height in zip(ordered, texts, heights, strict=True):
        axes.plot([note.at[0], x], [note.at[1], height], color=INK, linewidth=0.5)
        axes.plot(*note.at, marker="o", markersize=2.2, color=INK)
        axes.text(x + 0.05 * per_inch, height, text, ha="left", va="center", fontsize=9.0)


def spread(wanted: Sequence[float], room: np.ndarray, low: float, high: float) -> np.ndarray:
    """Return heights as near as may be to those wanted, from the top down, each with its room.

    Parameters
    ----------
    wanted : sequence of k floats
        Falling.
    room : (k,) array
        Height of each text; neighbours are half the sum of theirs apart.
    low, high : float
        Within which they stay if there is room enough.

    Returns
    -------
    (k,) array

    Examples
    --------
    >>> spread([1.0, 0.9], np.array([0.2, 0.2]), 0.0, 2.0).round(3).tolist()
    [1.05, 0.85]
    """
    if not len(wanted):
        return np.zeros(0)
    distance = np.concatenate([[0.0], 0.5 * (room[1:] + room[:-1])]).cumsum()
    # With distances taken off, an order is kept where values do not rise: the nearest such values are block means.
    blocks: list[tuple[float, int]] = []
    for value in np.asarray(wanted, dtype=float) + distance:
        blocks.append((float(value), 1))
        while len(blocks) > 1 and blocks[-2][0] < blocks[-1][0]:
            (first, n), (second, m) = blocks[-2:]
            blocks[-2:] = [((first * n + second * m) / (n + m), n + m)]
    level = np.concatenate([np.full(count, mean) for mean, count in blocks])
    heights = np.clip(level, low + distance[-1], max(high, low + distance[-1])) - distance
    return np.asarray(heights)


# --- heat -----------------------------------------------------------------------------------------------------

_PATH_WORDS = {"lid": "lid", "vent": "openings", "gap_side": "side", "base": "base"}
_TEXT_SIDES = {
    0.0: ("left", "center"),
    90.0: ("center", "bottom"),
    180.0: ("right", "center"),
    -90.0: ("center", "top"),
}
LEAST_SHARE = 0.005


def _draw_heat(axes: "Axes", each: Drawn, cut: CrossSection, per_inch: float) -> None:
    """Draw an arrow a path, as wide as its share, outwards where the contents are the warmer."""
    assert each.heat_paths is not None
    total, body = sum(each.heat_paths.values()), each.container.body
    mouth, depth = float(body.mouth_radius), float(body.depth)
    side = 0.5 * float(outside_diameter(each.container))
    words = {**_PATH_WORDS, "steel_bridge": "rim" if body.neck is None else "neck"}
    has_vent = each.heat_paths.get("vent", 0.0) > LEAST_SHARE * total
    places = {
        "lid": ((-0.45 * mouth if has_vent else 0.0, cut.top), 90.0),
        "vent": ((0.6 * mouth, cut.top), 90.0),
        "steel_bridge": ((mouth + float(body.side_width), depth - 0.01), 0.0),
        "gap_side": ((-side, 0.4 * depth), 180.0),
        "base": ((0.0, cut.table_height), -90.0),
    }
    for path, value in each.heat_paths.items():
        share = value / total
        if share < LEAST_SHARE:
            continue
        text = f"{words[path]} {100.0 * share:.0f} %"
        _draw_heat_arrow(axes, *places[path], share, text, PATH_COLOURS[path], per_inch, is_outward=each.is_hot)


def _draw_heat_arrow(
    axes: "Axes",
    start: tuple[float, float],
    degrees: float,
    share: float,
    text: str,
    colour: str,
    per_inch: float,
    *,
    is_outward: bool,
) -> None:
    long, shaft = 0.42, 0.5 * share
    shape = [
        (0, -shaft),
        (0.24, -shaft),
        (0.24, -shaft - 0.07),
        (long, 0),
        (0.24, shaft + 0.07),
        (0.24, shaft),
        (0, shaft),
    ]
    outline = np.array(shape)
    if not is_outward:
        outline[:, 0] = long - outline[:, 0]
    angle = np.deg2rad(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    placed = np.array(start) + per_inch * (outline @ turn)
    axes.fill(*placed.T, facecolor=colour, edgecolor=INK, linewidth=0.5)
    end = np.array(start) + per_inch * (long + 0.06) * turn[0]
    ha, va = _TEXT_SIDES[degrees]
    axes.text(float(end[0]), float(end[1]), text, ha=ha, va=va, fontsize=9.5)
