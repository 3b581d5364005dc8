"""Pictures of a sweep: contours over two numbers, lines over one, bars over kinds, points of a sample.

What a picture can't show of a grid is held, and the heading says where.
"""

import math
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.report.plots import (
    CURVE,
    INK,
    LIMIT,
    MUTED,
    MUTED_TEXT,
    blank_figure,
    house_style,
    save_figure,
    with_point,
)
from thermal_model.study.axes import Axis, axis_name
from thermal_model.study.journal import Journal
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import Sweep
from thermal_model.version import version
from thermal_model.words.numbers import HOUR, MINUTE, Scale, duration_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PANELS, MOST_LINES, MOST_BARS = 6, 8, 24
MOST_VECTORS = 5000
"""More points than this are drawn as an image, also in a vector file."""

_LEVELS = 10
_NOTHING = "#e9ecee"
"""Ground of a contour map, where no design is possible or the limit is not reached."""

_COLOURS = (CURVE, "#d9822b", "#5b7083", LIMIT, "#7a5c99", "#a7b8a0", "#2c4a6e", "#c2a33b")


def draw_sweep(sweep: Sweep, journal: Journal, path: Path, scale: Scale = Scale.CELSIUS) -> None:
    """Draw the hold times of a finished sweep into a file, whole or not at all.

    Parameters
    ----------
    sweep : Sweep
    journal : Journal
    path : Path
        Its ending, one of `plots.FORMATS`, chooses the format.
    scale : Scale
        Of the limit temperatures.

    Raises
    ------
    InputError
        If the file can't be written.
    """
    with house_style():
        save_figure(sweep_figure(sweep, journal, scale), path, f"{sweep.container.name}, swept")


def sweep_figure(sweep: Sweep, journal: Journal, scale: Scale = Scale.CELSIUS) -> "Figure":
    """Return the figure that `draw_sweep` writes."""
    picture = _Picture(sweep, journal, scale)
    if sweep.plan.sampling is not Sampling.GRID:
        return picture.by_axis()
    numbers = [axis for axis in sweep.plan.axes if axis.is_number and len(axis.points) > 1]
    kinds = [axis for axis in sweep.plan.axes if not axis.is_number]
    if len(numbers) >= 2:
        return picture.contours(numbers[0], numbers[1])
    if numbers:
        return picture.lines(numbers[0], kinds[0] if kinds else None)
    return picture.bars()


@dataclass(frozen=True)
class _Unit:
    """Of the times in a picture."""

    seconds: float
    name: str

    @classmethod
    def of(cls, times: Array) -> "_Unit":
        longest = float(np.max(times, initial=0.0, where=np.isfinite(times)))
        return cls(HOUR, "h") if longest >= 3.0 * HOUR else cls(MINUTE, "min")


class _Picture:
    """One sweep and how its times are fetched."""

    def __init__(self, sweep: Sweep, journal: Journal, scale: Scale) -> None:
        self.sweep, self.journal, self.scale = sweep, journal, scale

    # --- what is drawn ---------------------------------------------------------------------------------------

    def contours(self, across: Axis, up: Axis) -> "Figure":
        """Draw a filled map for each limit, the other axes held."""
        x, y = _ascending(across), _ascending(up)
        held = self._held(across, up)
        places = held | {across.path: x[None, :], up.path: y[:, None]}
        times = self._times(self._rows(places, (len(y), len(x))))
        figure, panels = self._panels(len(self.sweep.limits), 6.4, 5.2)
        for axes, limit, values in zip(panels, self.sweep.limits, times, strict=False):
            _draw_map(axes, across.shown(across.points[x]), up.shown(up.points[y]), values)
            axes.set_title(self._until(limit), loc="left", fontsize=10.0)
            axes.set_xlabel(self._axis_label(across))
            axes.set_ylabel(self._axis_label(up))
        self._write_heading(figure, self._held_text(across, up))
        return figure

    def lines(self, across: Axis, family: Axis | None) -> "Figure":
        """Draw a line for each kind of the family and each limit's panel."""
        x = _ascending(across)
        kinds = np.arange(len(family.points))[:MOST_LINES] if family is not None else np.zeros(1, dtype=np.intp)
        shown = () if family is None else (family,)
        places = self._held(across, *shown) | {across.path: x[None, :]}
        if family is not None:
            places[family.path] = kinds[:, None]
        times = self._times(self._rows(places, (len(kinds), len(x))))
        figure, panels = self._panels(len(self.sweep.limits), 6.4, 4.8)
        unit = _Unit.of(times)
        for axes, limit, values in zip(panels, self.sweep.limits, times, strict=False):
            for number, line in enumerate(values):
                label = (
                    None
                    if family is None
                    else f"{axis_name(family.path, self.sweep.plan.axes)} {family.text(kinds[number])}"
                )
                _draw_line(axes, across.shown(across.points[x]), line / unit.seconds, _COLOURS[number], label)
            _finish(axes, self._axis_label(across), f"hold time [{unit.name}]", self._until(limit))
            if family is not None:
                axes.legend(frameon=False, fontsize=9.0)
        more = (
            "" if family is None or len(family.points) <= MOST_LINES else f"first {MOST_LINES} of {family.path} shown"
        )
        self._write_heading(figure, self._held_text(across, *shown), more)
        return figure

    def bars(self) -> "Figure":
        """Draw a bar for each combination of kinds, the longest hold time first."""
        plan = self.sweep.plan
        count = min(plan.count, 10_000)
        times = self._times(np.arange(count))[0]
        order = np.argsort(np.where(np.isfinite(times), -times, np.inf), kind="stable")[:MOST_BARS]
        order = order[np.isfinite(times[order])]
        unit, figure = _Unit.of(times), blank_figure(7.4, 1.8 + 0.34 * max(len(order), 3))
        axes, rows = figure.subplots(), plan.rows(0, count)
        names = [
            ", ".join(
                f"{axis_name(axis.path, plan.axes)} {axis.text(float(rows.values[axis.path][row]))}"
                for axis in plan.axes
            )
            for row in order.tolist()
        ]
        bars = axes.barh(np.arange(len(order)), times[order] / unit.seconds, color=CURVE, height=0.65)
        texts = [duration_text(time) for time in times[order].tolist()]
        axes.bar_label(bars, texts, padding=4.0, fontsize=9.0, color=INK)
        axes.set_xlim(0.0, 1.15 * float(times[order].max(initial=MINUTE)) / unit.seconds)
        axes.set_yticks(np.arange(len(order)), names)
        axes.invert_yaxis()
        axes.tick_params(axis="y", length=0.0)
        _finish(axes, f"hold time [{unit.name}]", "", self._until(self.sweep.limits[0]), grid="x")
        left = plan.count - len(order)
        self._write_heading(figure, f"{left} more are shorter or not possible" if left else "")
        return figure

    def by_axis(self) -> "Figure":
        """Draw the hold time of the first limit over each axis: points of a sample, lines of one at a time."""
        plan = self.sweep.plan
        rows = plan.rows(0, plan.count)
        times = self._times(np.arange(plan.count))[0]
        unit = _Unit.of(times)
        figure, panels = self._panels(len(plan.axes), 4.4, 4.0, share=True)
        for k, (axes, axis) in enumerate(zip(panels, plan.axes, strict=False)):
            own = np.ones(plan.count, dtype=bool) if rows.varied is None else rows.varied == k
            values, label = rows.values[axis.path][own], self._axis_label(axis)
            if rows.varied is None:
                _draw_points(axes, _positions(axis, values), times[own] / unit.seconds)
            else:
                _draw_one_at_a_time(axes, axis, values, times[own] / unit.seconds, times[0] / unit.seconds)
            place = axes.get_subplotspec()
            is_first = place is not None and place.is_first_col()
            _finish(axes, label, f"hold time [{unit.name}]" if is_first else "", "")
            if not axis.is_number:
                axes.set_xticks(axis.points, axis.labels)
        what = "dot: the design itself" if rows.varied is not None else f"{plan.count} designs, seed {plan.seed}"
        left_out = len(plan.axes) - len(panels)
        self._write_heading(
            figure, self._until(self.sweep.limits[0]), what, f"{left_out} axes not shown" if left_out > 0 else ""
        )
        return figure

    # --- where the times come from ----------------------------------------------------------------------------

    def _held(self, *shown: Axis) -> dict[str, Any]:
        """Return the places at which the other axes are held: numbers at their middle, kinds at their first."""
        return {axis.path: _middle(axis) for axis in self.sweep.plan.axes if axis not in shown}

    def _rows(self, places: dict[str, Any], shape: tuple[int, ...]) -> NDArray[np.int64]:
        """Return the numbers of the designs at places of the axes."""
        plan = self.sweep.plan
        each = [np.broadcast_to(places[axis.path], shape) for axis in plan.nested]
        return np.asarray(np.ravel_multi_index(each, plan.shape), dtype=np.int64)

    def _times(self, rows: NDArray[np.int64]) -> Array:
        """Return the times of each limit of designs by number, (m, *rows.shape). [s]"""
        wanted = rows.ravel()
        order = np.argsort(wanted, kind="stable")
        found = np.full((len(self.sweep.limits), len(wanted)), np.nan)
        for start, results in self.journal.pieces():
            stop = start + len(results.outcome)
            here = order[slice(*np.searchsorted(wanted, [start, stop], sorter=order))]
            found[:, here] = results.hold_times[:, wanted[here] - start]
        return found.reshape(-1, *rows.shape)

    # --- words ------------------------------------------------------------------------------------------------

    def _axis_label(self, axis: Axis) -> str:
        unit = {"C": "°C", "F": "°F"}.get(axis.unit, axis.unit)
        return f"{axis_name(axis.path, self.sweep.plan.axes)}{f' [{unit}]' if unit else ''}"

    def _until(self, limit: float) -> str:
        side = "below" if limit > float(self.sweep.scenario.start) else "above"
        return f"time {side} {self.scale.text(limit)}"

    def _held_text(self, *shown: Axis) -> str:
        axes = self.sweep.plan.axes
        held = [
            f"{axis_name(axis.path, axes)} {axis.text(float(axis.points[_middle(axis)]))}"
            for axis in axes
            if axis not in shown
        ]
        return f"held: {', '.join(held)}" if held else ""

    def _panels(self, count: int, width: float, height: float, *, share: bool = False) -> "tuple[Figure, list[Axes]]":
        count = min(count, MOST_PANELS)
        across = 2 if count in (2, 4) else min(count, 3)
        down = math.ceil(count / across)
        figure = blank_figure(max(width * across, 6.4), height * down + 0.4)
        panels = figure.subplots(down, across, squeeze=False, sharey=share).ravel().tolist()
        for axes in panels[count:]:
            axes.set_axis_off()
        return figure, panels[:count]

    def _write_heading(self, figure: "Figure", *notes: str) -> None:
        name = self.sweep.container.called
        scenario, plan = self.sweep.scenario, self.sweep.plan
        varied = {axis.path for axis in plan.axes}
        given = [
            f"{word} {self.scale.text(value)}"
            for word, path, value in (
                ("start", "scenario.start", scenario.start),
                ("room", "scenario.room", scenario.room),
            )
            if path not in varied and not (word == "room" and scenario.room_profile is not None)
        ]
        parts = [scenario.contents.replace("_", " ") if "scenario.contents" not in varied else "", *given, *notes]
        line = ", ".join(part for part in parts[: 1 + len(given)] if part)
        text = "; ".join(part for part in (line, *notes, f"holdtime {version()}") if part)
        width = int(15.5 * figure.get_figwidth())
        figure.suptitle(name, x=0.02, ha="left", fontsize=12.0, fontweight="bold")
        figure.supxlabel(fill(text, width), x=0.02, ha="left", fontsize=9.0, color=MUTED_TEXT)


def _middle(axis: Axis) -> int:
    return (len(axis.points) - 1) // 2 if axis.is_number else 0


def _ascending(axis: Axis) -> NDArray[np.intp]:
    return np.argsort(axis.points, kind="stable")


def _positions(axis: Axis, values: Array) -> Array:
    return axis.shown(values) if axis.is_number else values


# --- the marks ------------------------------------------------------------------------------------------------


def _draw_map(axes: "Axes", x: Array, y: Array, times: Array) -> None:
    """Fill between contours, and write the time on each."""
    from matplotlib.patheffects import withStroke
    from matplotlib.ticker import MaxNLocator

    unit = _Unit.of(times)
    values = np.ma.masked_invalid(times / unit.seconds)
    axes.set_facecolor(_NOTHING)
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(y[0], y[-1])
    low, high = (float(values.min()), float(values.max())) if values.count() else (0.0, 0.0)
    if not values.count() or high - low < 1e-3 * high:
        words = f"everywhere {low:.3g} {unit.name}" if values.count() else "no design here gets there"
        axes.text(0.5, 0.5, words, transform=axes.transAxes, ha="center", color=MUTED_TEXT)
        return
    levels = MaxNLocator(_LEVELS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    filled = axes.contourf(x, y, values, levels=levels, cmap="YlGnBu", alpha=0.9)
    lines = axes.contour(x, y, values, levels=levels, colors=INK, linewidths=0.7)
    for text in axes.clabel(lines, fmt=lambda value: f"{value:g} {unit.name}", fontsize=8.5):
        text.set_path_effects([withStroke(linewidth=2.5, foreground="white")])
    bar = axes.figure.colorbar(filled, ax=axes, pad=0.02)
    bar.set_label(f"hold time [{unit.name}]")
    bar.outline.set_visible(False)
    if np.ma.is_masked(values):
        axes.text(0.99, 1.01, "grey: not possible or not reached", transform=axes.transAxes, ha="right", fontsize=8.0)


def _draw_line(axes: "Axes", x: Array, times: Array, colour: str, label: str | None) -> None:
    axes.plot(x, times, color=colour, linewidth=2.0, marker="o", markersize=4.0, label=label)


def _draw_points(axes: "Axes", x: Array, times: Array) -> None:
    size = float(np.clip(4000.0 / max(len(x), 1), 2.0, 22.0))
    axes.scatter(x, times, s=size, color=CURVE, alpha=0.55, linewidths=0.0, rasterized=len(x) > MOST_VECTORS)


def _draw_one_at_a_time(axes: "Axes", axis: Axis, values: Array, times: Array, own: float) -> None:
    """Draw one axis with the design itself as a dot, on a thin line across all panels."""
    axes.axhline(own, color=MUTED, linewidth=1.0, linestyle=(0, (1, 2)))
    order = np.argsort(values, kind="stable")
    x, held = _positions(axis, values)[order], times[order]
    if not axis.is_number:
        axes.plot(x, held, color=CURVE, linestyle="none", marker="o", markersize=4.0)
        return
    if math.isnan(axis.base):
        axes.plot(x, held, color=CURVE, linewidth=2.0, marker="o", markersize=4.0)
        return
    base = float(axis.shown(np.array([axis.base]))[0])
    line = with_point(x, held, base, own)
    axes.plot(*line, color=CURVE, linewidth=2.0)
    axes.plot(x, held, color=CURVE, linestyle="none", marker="o", markersize=4.0)
    axes.plot([base], [own], marker="o", markersize=8.0, color=LIMIT)


def _finish(axes: "Axes", across: str, up: str, title: str, grid: str = "y") -> None:
    axes.set_xlabel(across)
    axes.set_ylabel(up)
    axes.set_title(title, loc="left", fontsize=10.0)
    axes.grid(axis=grid, color=MUTED, alpha=0.25, linewidth=0.6)  # type: ignore[arg-type]
    axes.set_axisbelow(True)
    if grid == "y":
        axes.margins(x=0.04, y=0.1)
