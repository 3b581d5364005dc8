"""Pictures of a calibration: readings with bands, residuals, prior against posterior, what goes together."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.constants import ZERO_CELSIUS
from thermal_model.bench.calibration.calibration import Calibration
from thermal_model.bench.calibration.coordinates import Coordinate, Owner
from thermal_model.bench.calibration.fit import NORMAL_90
from thermal_model.bench.calibration.posterior import Finding, correlation, shown_of_run
from thermal_model.report.calibration_text import listed_findings
from thermal_model.report.plots import CURVE, INK, LIMIT, MUTED, MUTED_TEXT, blank_figure, check_format, house_style
from thermal_model.report.plots import save_figure as save

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PANELS, ACROSS = 8, 4
"""Containers whose readings are drawn, and panels side by side."""

MOST_UNKNOWNS = 14
"""Unknowns that are drawn: those the readings moved or narrowed most."""

_COLOURS = (CURVE, LIMIT, "#5b7083", "#d9822b", "#6b4e8f", "#4d7c3a", "#a05a7a", "#2f6db0")


def draw_calibration(found: Calibration, path: Path) -> None:
    """Draw a calibration into a file, whole or not at all.

    Raises
    ------
    InputError
        If the ending is not known or the file can't be written.
    """
    check_format(path)
    with house_style():
        save(calibration_figure(found), path, found.fit.problem.bench.name)


def calibration_figure(found: Calibration) -> "Figure":
    """Return the figure that `draw_calibration` writes."""
    names = list(found.fit.problem.bench.containers)[:MOST_PANELS]
    rows = -(-len(names) // ACROSS)
    heights = (3.2 * rows, 2.6, 5.6)
    figure = blank_figure(13.0, sum(heights))
    top, middle, bottom = figure.subfigures(3, 1, height_ratios=heights)  # type: ignore[misc]
    panels = top.subplots(rows, min(len(names), ACROSS), squeeze=False).ravel()
    for axes, name in zip(panels, names, strict=False):
        _draw_readings(axes, found, name)
    for axes in panels[len(names) :]:
        axes.set_axis_off()
    _draw_residuals(middle.subplots(1, 1), found)
    left, right = bottom.subfigures(1, 2)
    listed = _most_informed(found)
    _draw_moves(left.subplots(1, 1), listed)
    _draw_correlations(right.subplots(1, 1), found, [finding.coordinate for finding in listed], right)
    return figure


def _most_informed(found: Calibration) -> list[Finding]:
    listed = sorted(listed_findings(found), key=lambda finding: finding.spread - abs(finding.moved))[:MOST_UNKNOWNS]
    order = {id(finding): place for place, finding in enumerate(listed_findings(found))}
    return sorted(listed, key=lambda finding: (finding.coordinate.owner, order.get(id(finding), 0)))


def _draw_readings(axes: "Axes", found: Calibration, container: str) -> None:
    """Draw the readings of a container's runs over what the fitted model shows, with 90 % bands."""
    evidence, bench = found.fit.evidence, found.fit.problem.bench
    numbers = [n for n, run in enumerate(bench.runs) if run.container == container]
    for place, number in enumerate(numbers):
        shown, colour = shown_of_run(found.fit, number), _COLOURS[place % len(_COLOURS)]
        order = np.argsort(evidence.time[shown.rows], kind="stable")
        rows = shown.rows[order]
        hours, middle = evidence.time[rows] / 3600.0, shown.predicted[order] - ZERO_CELSIUS
        wide = NORMAL_90 * np.hypot(shown.deviation[order], found.fit.linearised.scale[rows])
        axes.fill_between(hours, middle - wide, middle + wide, color=colour, alpha=0.18, linewidth=0.0)
        axes.plot(hours, middle, color=colour, linewidth=0.9)
        axes.plot(
            hours, evidence.shown[rows] - ZERO_CELSIUS, ".", color=colour, markersize=3.0, label=bench.runs[number].name
        )
    axes.set_title(container.replace("_", " "), loc="left", fontsize=10.0, color=INK)
    axes.set_xlabel("time [h]")
    axes.set_ylabel("display [°C]")
    axes.margins(x=0.02)
    if 0 < len(numbers) <= len(_COLOURS):
        axes.legend(frameon=False, fontsize=7.5, ncols=2, handletextpad=0.1)


def _draw_residuals(axes: "Axes", found: Calibration) -> None:
    evidence, here = found.fit.evidence, found.fit.linearised
    rows = np.flatnonzero((evidence.run >= 0) & (evidence.side == 0))
    sizes = (evidence.shown[rows] - here.predicted[rows]) / here.scale[rows]
    names = list(found.fit.problem.bench.containers)
    owners = np.array([names.index(found.fit.problem.bench.runs[n].container) for n in evidence.run[rows]])
    for place, name in enumerate(names):
        of_it = owners == place
        axes.plot(
            evidence.time[rows][of_it] / 3600.0,
            np.clip(sizes[of_it], -6.0, 6.0),
            ".",
            color=_COLOURS[place % len(_COLOURS)],
            markersize=2.5,
            alpha=0.7,
            label=name.replace("_", " "),
        )
    for level in (-NORMAL_90, NORMAL_90):
        axes.axhline(level, color=MUTED, linewidth=0.8, linestyle="--")
    axes.set_title("Shown less predicted, in units of the noise", loc="left", fontsize=10.0)
    axes.set_xlabel("time [h]")
    axes.set_ylim(-6.3, 6.3)
    if len(names) <= ACROSS * 2:
        axes.legend(frameon=False, fontsize=7.5, ncols=4, handletextpad=0.1)


def _draw_moves(axes: "Axes", listed: list[Finding]) -> None:
    """Draw each unknown's prior as a grey bar and its posterior over it, 90 % both, in prior deviations."""
    for place, finding in enumerate(listed):
        half = NORMAL_90 * finding.spread
        axes.plot([-NORMAL_90, NORMAL_90], [place, place], color=MUTED, linewidth=7.0, alpha=0.3, solid_capstyle="butt")
        axes.plot([finding.moved - half, finding.moved + half], [place, place], color=CURVE, linewidth=2.2)
        axes.plot([finding.moved], [place], "o", color=CURVE, markersize=4.0)
    axes.axvline(0.0, color=MUTED, linewidth=0.8)
    axes.set_yticks(range(len(listed)), [_name(finding.coordinate) for finding in listed], fontsize=7.5)
    axes.invert_yaxis()
    axes.set_xlabel("standard deviations of what was assumed before")
    axes.set_title("Before (grey) and after (90 %)", loc="left", fontsize=10.0)


def _name(coordinate: Coordinate) -> str:
    if coordinate.kind is Owner.COMMON:
        return coordinate.label
    return f"{coordinate.owner.replace('_', ' ')}: {coordinate.label}"


def _draw_correlations(axes: "Axes", found: Calibration, listed: list[Coordinate], figure: Any) -> None:
    places = [found.fit.coordinates.listed.index(coordinate) for coordinate in listed]
    axes.set_title("What goes together (1: fully, −1: against each other)", loc="left", fontsize=10.0)
    if not places:
        axes.text(0.5, 0.5, "nothing was narrowed", ha="center", color=MUTED_TEXT)
        return
    table = correlation(found.fit, places)
    image = axes.imshow(table, vmin=-1.0, vmax=1.0, cmap="RdBu_r")
    numbers = [str(place + 1) for place in range(len(places))]
    axes.set_xticks(range(len(places)), numbers, fontsize=7.5)
    names = [f"{_name(one)}  {number}" for one, number in zip(listed, numbers, strict=True)]
    axes.set_yticks(range(len(places)), names, fontsize=7.5)
    axes.spines[:].set_visible(False)
    for i, row in enumerate(table):
        for j, value in enumerate(row):
            if i != j and abs(value) >= 0.3:
                colour = "white" if abs(value) > 0.6 else INK
                axes.text(j, i, f"{value:.1f}".replace("0.", "."), ha="center", va="center", fontsize=6.5, color=colour)
    figure.colorbar(image, ax=axes, shrink=0.5, location="bottom")
