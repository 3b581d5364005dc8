"""Pictures of a sweep: contours over two numbers, lines over one, bars over kinds, points of a sample.

What a picture can't show of a grid is held, and its foot says where.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.report.headings import made_by
from thermal_model.report.pictures.look import LINE_TONES
from thermal_model.report.pictures.numbers import gaps, known, number, time_unit, with_point
from thermal_model.report.pictures.record import (
    Curves,
    Dot,
    LimitLine,
    Line,
    Map,
    Mark,
    Panel,
    Picture,
    RowsPanel,
    Tone,
    Track,
    row_of,
)
from thermal_model.report.summary import limit_text
from thermal_model.study.axes import Axis, axis_name
from thermal_model.study.journal import Journal
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import Sweep
from thermal_model.study.sweep_slice import Slice
from thermal_model.words.numbers import Scale, duration_text

MOST_PANELS, MOST_LINES, MOST_BARS = 6, 8, 24


def sweep_picture(sweep: Sweep, journal: Journal, scale: Scale = Scale.CELSIUS, cut: Slice | None = None) -> Picture:
    """Return the picture of the hold times of a finished sweep.

    Parameters
    ----------
    sweep : Sweep
    journal : Journal
    scale : Scale
        Of the limit temperatures.
    cut : Slice, optional
        What of it is drawn; left out: what suits its axes.
    """
    seen = _Seen(sweep, journal, scale, {} if cut is None else cut.at)
    if cut is not None and cut.is_given:
        across, up, family = cut.across, cut.up, cut.lines
    elif sweep.plan.sampling is not Sampling.GRID:
        return seen.by_axis()
    else:
        numbers = [axis for axis in sweep.plan.axes if axis.is_number and len(axis.points) > 1]
        across, up = [*numbers, None, None][:2]
        family = next((axis for axis in sweep.plan.axes if not axis.is_number), None)
    if across is None:
        return seen.bars()
    return seen.lines(across, family) if up is None else seen.contours(across, up)


class _Seen:
    """One sweep and how its times are fetched."""

    def __init__(self, sweep: Sweep, journal: Journal, scale: Scale, at: Mapping[str, int]) -> None:
        self.sweep, self.journal, self.scale, self.at = sweep, journal, scale, at

    # --- what is seen -----------------------------------------------------------------------------------------

    def contours(self, across: Axis, up: Axis) -> Picture:
        """Return a filled map for each limit, the other axes held."""
        x, y = _ascending(across), _ascending(up)
        held = self._held(across, up)
        places = held | {across.path: x[None, :], up.path: y[:, None]}
        times = self._times(self._rows(places))
        panels = []
        for limit, values in zip(self.sweep.limits[:MOST_PANELS], times, strict=False):
            seconds, unit = time_unit(values)
            has_gaps = not np.isfinite(values).all()
            panels.append(
                Map(
                    title=self._until(limit),
                    x_label=self._axis_label(across),
                    y_label=self._axis_label(up),
                    value_label=f"[{unit}]",
                    x=known(across.shown(across.points[x])),
                    y=known(up.shown(up.points[y])),
                    values=tuple(gaps(row / seconds) for row in values),
                    note="grey: not possible or not reached" if has_gaps else "",
                )
            )
        return self._picture(panels, self._held_text(across, up))

    def lines(self, across: Axis, family: Axis | None) -> Picture:
        """Return a line for each kind of the family in each limit's panel."""
        x = _ascending(across)
        kinds = np.arange(len(family.points))[:MOST_LINES] if family is not None else np.zeros(1, dtype=np.intp)
        shown = () if family is None else (family,)
        places = self._held(across, *shown) | {across.path: x[None, :]}
        if family is not None:
            places[family.path] = kinds[:, None]
        times = self._times(self._rows(places))
        seconds, unit = time_unit(times)
        names = [""] if family is None else [self._named(family, float(family.points[kind])) for kind in kinds]
        panels = [
            Curves(
                title=self._until(limit),
                x_label=self._axis_label(across),
                y_label=f"hold time [{unit}]",
                lines=tuple(
                    _line(known(across.shown(across.points[x])), line / seconds, place, name)
                    for place, (line, name) in enumerate(zip(values, names, strict=True))
                ),
            )
            for limit, values in zip(self.sweep.limits[:MOST_PANELS], times, strict=False)
        ]
        is_cut = family is not None and len(family.points) > MOST_LINES
        more = f"first {MOST_LINES} of {family.path} shown" if family is not None and is_cut else ""
        return self._picture(panels, self._held_text(across, *shown), more)

    def bars(self) -> Picture:
        """Return a bar for each combination of kinds, the longest hold time first."""
        plan = self.sweep.plan
        count = min(plan.count, 10_000)
        times = self._times(np.arange(count))[0]
        order = np.argsort(np.where(np.isfinite(times), -times, np.inf), kind="stable")[:MOST_BARS]
        order = order[np.isfinite(times[order])]
        seconds, unit = time_unit(times[order])
        places = plan.rows(0, count)
        rows = [
            row_of(
                ", ".join(self._named(axis, float(places.values[axis.path][row])) for axis in plan.axes),
                Mark(at=number(time / seconds), base=0.0, tone="first", text=duration_text(time)),
            )
            for row, time in zip(order.tolist(), times[order].tolist(), strict=True)
        ]
        left, track = plan.count - len(order), Track(label=f"hold time [{unit}]")
        panel = RowsPanel(title=self._until(self.sweep.limits[0]), tracks=(track,), rows=tuple(rows))
        return self._picture([panel], f"{left} more are shorter or not possible" if left else "")

    def by_axis(self) -> Picture:
        """Return the hold time of the first limit over each axis: points of a sample, lines of one at a time."""
        plan = self.sweep.plan
        rows = plan.rows(0, plan.count)
        times = self._times(np.arange(plan.count))[0]
        seconds, unit = time_unit(times)
        shown = times[np.isfinite(times)] / seconds
        span = known([shown.min(), shown.max()]) if len(shown) and np.ptp(shown) > 0.0 else None
        panels = []
        for k, axis in enumerate(plan.axes[:MOST_PANELS]):
            own = np.ones(plan.count, dtype=bool) if rows.varied is None else rows.varied == k
            values, held = rows.values[axis.path][own], times[own] / seconds
            lines, dots, levels = (
                ((_points(_positions(axis, values), held),), (), ())
                if rows.varied is None
                else _one_at_a_time(axis, values, held, float(times[0] / seconds))
            )
            panels.append(
                Curves(
                    x_label=self._axis_label(axis),
                    y_label=f"hold time [{unit}]",
                    lines=lines,
                    dots=dots,
                    levels=levels,
                    y_span=None if span is None else (span[0], span[1]),
                    ticks=() if axis.is_number else tuple(axis.labels),
                )
            )
        what = "dot: the design itself" if rows.varied is not None else f"{plan.count} designs, seed {plan.seed}"
        left_out = len(plan.axes) - len(panels)
        more = f"{left_out} axes not shown" if left_out > 0 else ""
        return self._picture(panels, self._until(self.sweep.limits[0]), what, more)

    # --- where the times come from ----------------------------------------------------------------------------

    def _held(self, *shown: Axis) -> dict[str, Any]:
        """Return the places at which the other axes are held: numbers at their middle, kinds at their first."""
        return {axis.path: self._place(axis) for axis in self.sweep.plan.axes if axis not in shown}

    def _place(self, axis: Axis) -> int:
        return self.at.get(axis.path, (len(axis.points) - 1) // 2 if axis.is_number else 0)

    def _rows(self, places: dict[str, Any]) -> NDArray[np.int64]:
        """Return the numbers of the designs at places of the axes."""
        plan = self.sweep.plan
        each = np.broadcast_arrays(*(places[axis.path] for axis in plan.nested))
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

    def _name(self, axis: Axis) -> str:
        return axis_name(axis.path, self.sweep.plan.axes)

    def _named(self, axis: Axis, value: float) -> str:
        return f"{self._name(axis)} {axis.text(value)}"

    def _axis_label(self, axis: Axis) -> str:
        unit = {"C": "°C", "F": "°F"}.get(axis.unit, axis.unit)
        return f"{self._name(axis)}{f' [{unit}]' if unit else ''}"

    def _until(self, limit: float) -> str:
        return f"time {limit_text(limit, self.sweep.scenario, self.scale)}"

    def _held_text(self, *shown: Axis) -> str:
        held = [axis for axis in self.sweep.plan.axes if axis not in shown]
        texts = [self._named(axis, float(axis.points[self._place(axis)])) for axis in held]
        return f"held: {', '.join(texts)}" if held else ""

    def _picture(self, panels: Sequence[Panel], *notes: str) -> Picture:
        scenario = self.sweep.scenario
        varied = {axis.path for axis in self.sweep.plan.axes}
        told = {
            "scenario.contents": scenario.contents.replace("_", " "),
            "scenario.start": f"start {self.scale.text(scenario.start)}",
            "scenario.room": "" if scenario.room_profile is not None else f"room {self.scale.text(scenario.room)}",
        }
        given = ", ".join(text for path, text in told.items() if text and path not in varied)
        accuracy = "quick: hold times within 0.1 % or 10 s" if self.sweep.is_quick else ""
        return Picture(
            subject=f"{self.sweep.container.name}, swept",
            title=self.sweep.container.called,
            given="; ".join(part for part in (given, *notes, accuracy) if part),
            made_by=made_by(),
            panels=tuple(panels),
        )


def _ascending(axis: Axis) -> NDArray[np.intp]:
    return np.argsort(axis.points, kind="stable")


def _positions(axis: Axis, values: Array) -> Array:
    return axis.shown(values) if axis.is_number else values


def _line(x: tuple[float, ...], times: Array, place: int, name: str) -> Line:
    tone: Tone = LINE_TONES[place % len(LINE_TONES)]
    return Line(x=x, y=gaps(times), tone=tone, text=name, has_dots=True, is_dashed=place >= len(LINE_TONES))


def _points(x: Array, times: Array) -> Line:
    return Line(x=known(x), y=gaps(times), tone="first", has_line=False, has_dots=True)


def _one_at_a_time(
    axis: Axis, values: Array, times: Array, own: float
) -> tuple[tuple[Line, ...], tuple[Dot, ...], tuple[LimitLine, ...]]:
    """Return one axis with the design itself as a dot, on a limit line that all panels share."""
    order = np.argsort(values, kind="stable")
    x, held = _positions(axis, values)[order], times[order]
    levels = (LimitLine(y=number(own) or 0.0),) if math.isfinite(own) else ()
    if not axis.is_number:
        return (_points(x, held),), (), levels
    if math.isnan(axis.base) or not math.isfinite(own):
        return (_points(x, held).model_copy(update={"has_line": True}),), (), levels
    base = float(axis.shown(np.array([axis.base]))[0])
    through_x, through_y = with_point(x, held, base, own)
    curve = Line(x=known(through_x), y=gaps(through_y), tone="first")
    return (curve, _points(x, held)), (Dot(x=known([base])[0], y=known([own])[0]),), levels
