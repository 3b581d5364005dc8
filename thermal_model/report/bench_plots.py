"""The picture of a bench: what the displays showed, and the hold times that follow."""

import math
from collections.abc import Sequence

from thermal_model.bench.records import Bench, Run, temperature_at_start
from thermal_model.bench.reduce.evidence import Points, points_of
from thermal_model.bench.reduce.hold_times import MeasuredHoldTime
from thermal_model.bench.reduce.reduction import Reduction
from thermal_model.report.headings import made_by
from thermal_model.report.pictures.numbers import hours, known, shown
from thermal_model.report.pictures.record import Curves, Grid, LimitLine, Line, Picture, Tone
from thermal_model.words.numbers import Scale, duration_text

DOTS = 30
"""Readings of a run from which on they are a line without dots."""


def reduction_picture(reduction: Reduction, scale: Scale = Scale.CELSIUS) -> Picture:
    """Return the picture: a small panel a container, its runs with their hold times."""
    cells = [_cell(name, reduction, scale) for name in reduction.bench.containers]
    flagged = "dashed: flagged as gone wrong" if reduction.flags else ""
    return Picture(
        subject=f"{reduction.bench.name}, reduced",
        title=f"{bench_name(reduction.bench)}: what the displays showed",
        given="Readings with the probes' offsets taken off; where a run crosses a limit, nine in ten within the bar",
        made_by=made_by(flagged, "no model behind them"),
        panels=(Grid(x_label="time since pouring [h]", y_label=f"temperature [{scale.sign}]", cells=tuple(cells)),),
    )


def bench_name(bench: Bench) -> str:
    """Return a bench's name as people write it."""
    plain = bench.name.replace("_", " ")
    return f"{plain[:1].upper()}{plain[1:]}"


def tone_of(run: Run) -> Tone:
    """Return the tone of a run's contents: hotter than its room, or colder."""
    return "hot" if temperature_at_start(run) > float(run.scenario.room) else "cold"


def _cell(name: str, reduction: Reduction, scale: Scale) -> Curves:
    runs = [run for run in reduction.bench.runs if run.container == name]
    flagged = {flag.run for flag in reduction.flags}
    held = [one for run in runs for one in reduction.hold_times[run.name]]
    lines = []
    for run in runs:
        points = points_of(run, reduction.bench.probes, reduction.offsets)
        lines.append(readings_line(points, tone_of(run), scale, is_dashed=run.name in flagged))
    return Curves(
        title=reduction.bench.containers[name].called,
        note=_note(held, scale),
        lines=tuple(lines),
        levels=tuple(level_of(one, scale) for one in held),
    )


def readings_line(points: Points, tone: Tone, scale: Scale, *, text: str = "", is_dashed: bool = False) -> Line:
    """Return readings as a line, with dots where they are few."""
    return Line(
        x=known(points.time / 3600.0),
        y=shown(points.temperature, scale),
        tone=tone,
        has_dots=len(points) < DOTS,
        text=text,
        is_dashed=is_dashed,
    )


def level_of(held: MeasuredHoldTime, scale: Scale) -> LimitLine:
    """Return a limit; an interval between two looks has no dot: no value in it is better than another."""
    high = None if math.isinf(held.high) else hours(held.high)
    is_known = math.isfinite(held.low) and not (held.low <= 0.0 and high is None)
    return LimitLine(
        y=known([scale.number(held.limit)])[0],
        at=hours(held.time),
        low=hours(held.low) if is_known else None,
        high=high if is_known else None,
    )


def _note(held: Sequence[MeasuredHoldTime], scale: Scale) -> str:
    """Return the hold times of a container's runs in a line, limit by limit."""
    limits = list(dict.fromkeys(one.limit for one in held))
    return "; ".join(
        f"{scale.text(limit)}: {_together([one for one in held if one.limit == limit])}" for limit in limits
    )


def _together(held: Sequence[MeasuredHoldTime]) -> str:
    """Return some hold times one by one, of many the shortest and the longest."""
    if len(held) <= 2:
        return ", ".join(map(_held_text, held))
    ordered = sorted(held, key=lambda one: one.low if one.time is None else one.time)
    return f"{_held_text(ordered[0])} … {_held_text(ordered[-1])}, {len(held)} runs"


def _held_text(held: MeasuredHoldTime) -> str:
    if held.time is not None:
        return duration_text(held.time)
    if math.isinf(held.high):
        return f"over {duration_text(held.low)}"
    return f"{duration_text(held.low)} to {duration_text(held.high)}"
