"""Containers drawn to scale: a cut through the axis with its dimensions, two side by side, and where the heat goes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill as wrapped
from typing import TYPE_CHECKING

import numpy as np

from geometries.container import Container
from geometries.section import AIR, CONTENTS, VACUUM, CrossSection, DimensionLine, cross_section
from thermal_model.report.pictures.draw import save_figure
from thermal_model.report.pictures.look import DARK, DPI, LIGHT, PLAIN, SIZES, Appearance, Theme, check_format
from thermal_model.report.pictures.spread import spread

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermal_model.prediction import Prediction
    from thermal_model.scenario import Scenario

HIGHEST, WIDEST = 6.0, 4.5
"""Of what is drawn to scale [in]."""

LANES, COLUMN, LINE = 1.15, 2.45, 0.2
"""Width of the arrows to the left and of the texts to the right, and the height of a line of text [in]."""

HEAT = 1.4
"""Width of an arrow of heat with its text, on either side [in]."""

ABOVE, BELOW = 1.0, 0.7
"""Over and under what is drawn to scale: title, mouth, width [in]."""

LETTERS = 30
"""In one line of a column of texts."""

HOT, COLD = "#f3b27a", "#9cc6e6"
"""Contents above the room are warm-coloured, below it cool-coloured."""

_MATERIALS = {
    "metal": ("stainless", "copper", "aluminium", "silver", "titanium"),
    "foam": ("foam", "polystyrene", "honeycomb"),
    "wood": ("cork", "bamboo"),
    "ceramic": ("glass", "stoneware"),
    "seal": ("rubber", "silicone"),
}

_FACES = {
    "hot": (HOT, "#a85a2c", ""),
    "cold": (COLD, "#2f6690", ""),
    AIR: ("#ffffff", DARK.ground, ""),
    VACUUM: ("#eef1f4", DARK.faint, ""),
    "closed opening": ("#d8d2c4", "#5a554b", "xx"),
    "metal": ("#7d8b97", "#8a97a2", ""),
    "foam": ("#f4ecd0", "#6a6347", "...."),
    "wood": ("#d9bd92", "#806a42", ""),
    "ceramic": ("#b9cfc4", "#56766a", ""),
    "seal": ("#a8323e", "#a94450", ""),
    "plastic": ("#c9c2b4", "#6f6a60", ""),
}
"""Colour of a face on light and on dark ground, and its hatching."""


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
    container, scenario = prediction.container, prediction.scenario
    is_hot = prediction.reference_temperature >= float(scenario.room)
    return Drawn(container, drawn_volume(container, scenario), is_hot, prediction.heat_paths)


def drawn_volume(container: Container, scenario: "Scenario") -> float:
    """Return how much of a container is drawn as filled. [m3]"""
    from thermal_model.assemble.contents import filled_volume

    # Floating ice takes the room of the water it melts to.
    return float(filled_volume(container, scenario)) + float(scenario.ice) / 1000.0


@dataclass(frozen=True)
class _Paper:
    """What a container is drawn on: metres to the inch, the size of letters over the usual one, colours."""

    per_inch: float
    size: float = 1.0
    theme: Theme = LIGHT

    @property
    def inch(self) -> float:
        """What an inch is to texts and arrows, which grow with the letters. [m]"""
        return self.per_inch * self.size


def draw_containers(drawn: Sequence[Drawn], path: Path, unit: str = "mm", look: Appearance = PLAIN) -> None:
    """Draw containers side by side at one scale into a file, whole or not at all.

    Parameters
    ----------
    drawn : sequence of Drawn
    path : Path
        Its ending, .png, .svg or .pdf, chooses the format.
    unit : str
        Of the lengths.
    look : Appearance
        Without a shape, a drawing is as large as it has to be.

    Raises
    ------
    InputError
        If the ending is not known or the file can't be written.
    """
    check_format(path)
    with look.style():
        save_figure(drawing_figure(drawn, unit, look), path, ", ".join(each.container.name for each in drawn))


def drawing_figure(drawn: Sequence[Drawn], unit: str = "mm", look: Appearance = PLAIN) -> "Figure":
    """Return the figure that `draw_containers` writes. To be called inside `look.style()`."""
    cuts = [cross_section(each.container, each.fill, unit) for each in drawn]
    size = look.letters / PLAIN.letters
    highest = HIGHEST if look.shape is None else min(HIGHEST, SIZES[look.shape][1] - (ABOVE + BELOW) * size)
    scale = max(max((cut.top - cut.table_height) / highest, (cut.right - cut.left) / WIDEST) for cut in cuts)
    paper = _Paper(scale, size, look.theme)
    sides = [(HEAT, HEAT) if each.heat_paths else (LANES, COLUMN) for each in drawn]
    widths = [(cut.right - cut.left) / scale + sum(side) * size for cut, side in zip(cuts, sides, strict=True)]
    height = max((cut.top - cut.table_height) / scale for cut in cuts) + (ABOVE + BELOW) * size
    figure, left, bottom = _sheet(sum(widths), height, look)
    whole = figure.get_figwidth(), figure.get_figheight()
    for each, cut, width, (before, after) in zip(drawn, cuts, widths, sides, strict=True):
        axes = figure.add_axes((left / whole[0], bottom / whole[1], width / whole[0], height / whole[1]))
        axes.set_xlim(cut.left - before * paper.inch, cut.right + after * paper.inch)
        axes.set_ylim(cut.table_height - BELOW * paper.inch, cut.table_height + height * scale - BELOW * paper.inch)
        axes.set_axis_off()
        _draw(axes, each, cut, paper)
        left += width
    return figure


def _sheet(width: float, height: float, look: Appearance) -> "tuple[Figure, float, float]":
    """Return a figure with room for so much [in], and where in it the drawing begins. [in]"""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    across, up, dots = width, height, DPI
    if look.shape is not None:
        wide, high = SIZES[look.shape]
        larger = max(width / wide, height / high)
        across, up, dots = wide * larger, high * larger, DPI / larger
    figure = Figure(figsize=(across, up), dpi=dots)
    FigureCanvasAgg(figure)
    return figure, 0.5 * (across - width), 0.5 * (up - height)


def _draw(axes: "Axes", each: Drawn, cut: CrossSection, paper: _Paper) -> None:
    """Draw one container."""
    for region in cut.regions:
        face, hatch = look(region.filling, each.is_hot, is_dark=paper.theme is DARK)
        for outline in region.outlines:
            axes.fill(*outline.T, facecolor=face, hatch=hatch, edgecolor=paper.theme.ink, linewidth=0.5)
    axes.plot([cut.left, cut.right], [cut.table_height] * 2, color=paper.theme.ink, linewidth=1.2)
    _write_title(axes, each.container.called, paper)
    if each.heat_paths:
        _draw_heat(axes, each, cut, paper)
        return
    lanes = 0
    for measure in cut.measures:
        is_level = measure.start[1] == measure.end[1]
        _draw_measure(axes, measure, cut.left - (0.2 + 0.3 * lanes) * paper.inch, paper)
        lanes += not is_level
    _draw_notes(axes, cut, paper)


def look(filling: str, is_hot: bool, *, is_dark: bool = False) -> tuple[str, str]:
    """Return face colour and hatching of what fills a region."""
    kind = ("hot" if is_hot else "cold") if filling == CONTENTS else filling
    light, dark, hatch = _FACES[kind if kind in _FACES else material_kind(filling)]
    return (dark if is_dark else light), hatch


def material_kind(material: str) -> str:
    """Return which of a few kinds a material is drawn as."""
    return next((kind for kind, words in _MATERIALS.items() if any(word in material for word in words)), "plastic")


def _write_title(axes: "Axes", name: str, paper: _Paper) -> None:
    text = wrapped(name[:1].upper() + name[1:], 34)
    axes.text(
        0.5, 0.985, text, ha="center", va="top", fontsize=12.0 * paper.size, fontweight="bold", transform=axes.transAxes
    )


# --- dimensions -----------------------------------------------------------------------------------------------


def _draw_measure(axes: "Axes", measure: DimensionLine, lane: float, paper: _Paper) -> None:
    """Draw an arrow over, under or to the left of the outline, and thin lines to the places it measures."""
    (x, y), (far_x, far_y) = measure.start, measure.end
    if y == far_y:
        away = (0.2 if y > 0.0 else -0.2) * paper.inch
        _arrow(axes, (x, y + away), (far_x, y + away), paper)
        for end in (x, far_x):
            axes.plot([end, end], [y, y + 1.2 * away], color=paper.theme.muted, linewidth=0.5)
        side = "bottom" if y > 0.0 else "top"
        axes.text(0.5 * (x + far_x), y + 1.3 * away, measure.text, ha="center", va=side, fontsize=9.0 * paper.size)
        return
    _arrow(axes, (lane, y), (lane, far_y), paper)
    for end in (y, far_y):
        axes.plot([x, lane], [end, end], color=paper.theme.muted, linewidth=0.5, zorder=0.5)
    at = (lane - 0.03 * paper.inch, 0.5 * (y + far_y))
    axes.text(*at, measure.text, rotation=90, ha="right", va="center", fontsize=9.0 * paper.size)


def _arrow(axes: "Axes", start: tuple[float, float], end: tuple[float, float], paper: _Paper) -> None:
    style = {
        "arrowstyle": "<|-|>",
        "color": paper.theme.muted,
        "linewidth": 0.8,
        "shrinkA": 0,
        "shrinkB": 0,
        "mutation_scale": 7,
    }
    axes.annotate("", start, end, arrowprops=style)


def _draw_notes(axes: "Axes", cut: CrossSection, paper: _Paper) -> None:
    """Write texts in a column to the right, in the order of the places they point at and clear of each other."""
    ordered = sorted(cut.notes, key=lambda note: -note.at[1])
    texts = [wrapped(note.text, LETTERS) for note in ordered]
    room = np.array([LINE * (0.3 + 0.8 * (1 + text.count("\n"))) * paper.inch for text in texts])
    heights = spread([note.at[1] for note in ordered], room, cut.table_height, cut.top + 0.3 * paper.inch)
    x = cut.right + 0.35 * paper.inch
    for note, text, height in zip(ordered, texts, heights, strict=True):
        axes.plot([note.at[0], x], [note.at[1], height], color=paper.theme.ink, linewidth=0.5)
        axes.plot(*note.at, marker="o", markersize=2.2, color=paper.theme.ink)
        axes.text(x + 0.05 * paper.inch, height, text, ha="left", va="center", fontsize=9.0 * paper.size)


# --- heat -----------------------------------------------------------------------------------------------------

_PATH_WORDS = {"lid": "lid", "vent": "openings", "gap_side": "side", "base": "base"}
_TEXT_SIDES = {
    0.0: ("left", "center"),
    90.0: ("center", "bottom"),
    180.0: ("right", "center"),
    -90.0: ("center", "top"),
}
LEAST_SHARE = 0.005


def _draw_heat(axes: "Axes", each: Drawn, cut: CrossSection, paper: _Paper) -> None:
    """Draw an arrow a path, as wide as its share, outwards where the contents are the warmer."""
    assert each.heat_paths is not None
    total, body = sum(each.heat_paths.values()), each.container.body
    mouth, depth = float(body.mouth_radius), float(body.depth)
    neck, side = depth - 0.01, 0.4 * depth
    words = {**_PATH_WORDS, "steel_bridge": "lip" if body.neck is None else "neck"}
    if each.container.lid is None:
        words["lid"] = "open mouth"
    has_vent = each.heat_paths.get("vent", 0.0) > LEAST_SHARE * total
    places = {
        "lid": ((-0.45 * mouth if has_vent else 0.0, cut.top), 90.0),
        "vent": ((0.6 * mouth, cut.top), 90.0),
        # A handle stands to the right.
        "steel_bridge": ((_edge(cut, neck), neck), 180.0) if body.handle else ((-_edge(cut, neck), neck), 0.0),
        "gap_side": ((_edge(cut, side), side), 180.0),
        "base": ((0.0, cut.table_height), -90.0),
    }
    for path, value in each.heat_paths.items():
        share = value / total
        if share < LEAST_SHARE:
            continue
        text = f"{words[path]} {100.0 * share:.0f} %"
        _draw_heat_arrow(axes, *places[path], share, text, paper.theme.tones[path], paper, is_outward=each.is_hot)


def _edge(cut: CrossSection, height: float) -> float:
    """Return how far left anything of a cut reaches at a height. [m]"""
    reached = []
    for outline in (outline for region in cut.regions for outline in region.outlines):
        (x, y), (far_x, far_y) = outline.T, np.roll(outline, -1, axis=0).T
        crossed = np.flatnonzero((y - height) * (far_y - height) <= 0.0)
        share = np.divide(height - y, far_y - y, out=np.zeros_like(y), where=far_y != y)
        reached += (x + share * (far_x - x))[crossed].tolist()
    return min(reached)


def _draw_heat_arrow(
    axes: "Axes",
    start: tuple[float, float],
    degrees: float,
    share: float,
    text: str,
    colour: str,
    paper: _Paper,
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
    placed = np.array(start) + paper.inch * (outline @ turn)
    axes.fill(*placed.T, facecolor=colour, edgecolor=paper.theme.ink, linewidth=0.5)
    end = np.array(start) + paper.inch * (long + 0.06) * turn[0]
    ha, va = _TEXT_SIDES[degrees]
    axes.text(float(end[0]), float(end[1]), text, ha=ha, va=va, fontsize=9.5 * paper.size)
