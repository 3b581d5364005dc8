"""The picture of a validation: what was read at the end of each run, against what the other runs predict for it."""

from thermal_model.bench.calibration.fit import NORMAL_90
from thermal_model.bench.calibration.validation import LeftOut, Validation
from thermal_model.bench.records import Bench
from thermal_model.report.headings import made_by
from thermal_model.report.pictures.record import Curves, Line, Mark, Picture, Row, RowsPanel, Tone, Track
from thermal_model.words.numbers import Scale, percent

_DIFFERENCE = "read less predicted [K]"


def validation_picture(bench: Bench, found: Validation) -> Picture:
    """Return the picture: points beside the line on which they would be as predicted, and a row for each run.

    Parameters
    ----------
    bench : Bench
    found : Validation
        Of at least one run.
    """
    tones: dict[str, Tone] = {
        run.name: "hot" if float(run.scenario.start) > float(run.scenario.room) else "cold" for run in bench.runs
    }
    inside = sum(item.is_inside for item in found.runs)
    return Picture(
        subject=f"{bench.name}, each run predicted from the others",
        title="Each run predicted from all the others",
        given=f"{bench.name.replace('_', ' ')}: {inside} of {len(found.runs)} runs end within their bars, "
        f"and {percent(found.covered)} of all readings within theirs",
        made_by=made_by("nine in ten should lie within the bars"),
        panels=(_diagonal(found, tones), _differences(bench, found, tones)),
        shares=(0.45, 0.55),
    )


def _diagonal(found: Validation, tones: dict[str, Tone]) -> Curves:
    predicted = {item.run: Scale.CELSIUS.number(item.shown + item.error) for item in found.runs}
    shown = {item.run: Scale.CELSIUS.number(item.shown) for item in found.runs}
    ends = [*predicted.values(), *shown.values()]
    whole = (min(ends), max(ends))
    diagonal = Line(x=whole, y=whole, tone="muted", is_dashed=True, text="as predicted")
    bars = [
        Line(
            x=(predicted[item.run],) * 2,
            y=(predicted[item.run] - NORMAL_90 * item.deviation, predicted[item.run] + NORMAL_90 * item.deviation),
            tone=tones[item.run],
            is_wide=True,
        )
        for item in found.runs[:MOST_BARS]
    ]
    points = [
        Line(
            x=tuple(predicted[item.run] for item in chosen),
            y=tuple(shown[item.run] for item in chosen),
            tone=tone,
            has_line=False,
            has_dots=True,
            is_hollow=is_hollow,
        )
        for tone in dict.fromkeys(tones.values())
        for is_hollow in (False, True)
        if (chosen := [item for item in found.runs if tones[item.run] == tone and item.is_inside != is_hollow])
    ]
    return Curves(
        title="At the end of each run",
        x_label="predicted [°C]",
        y_label="read [°C]",
        lines=(diagonal, *bars, *points),
    )


MOST_BARS = 900
"""A panel has no more than a thousand lines."""


def _differences(bench: Bench, found: Validation, tones: dict[str, Tone]) -> RowsPanel:
    order = {name: place for place, name in enumerate(bench.containers)}
    items = sorted(found.runs, key=lambda item: order.get(item.container, len(order)))
    rows, before = [], ""
    for item in items:
        is_new = item.container != before
        called = bench.containers[item.container].called if is_new and item.container in order else ""
        tracks = ((_mark(item, tones[item.run]),),)
        rows.append(Row(name=item.run, note=called, tracks=tracks, is_parted=bool(is_new and before)))
        before = item.container
    most = 1.15 * max(max(abs(item.error), NORMAL_90 * item.deviation) for item in items)
    title = "How far off" + (", a ring outside its bar" if not all(item.is_inside for item in items) else "")
    return RowsPanel(title=title, tracks=(Track(label=_DIFFERENCE, line=0.0, low=-most, high=most),), rows=tuple(rows))


def _mark(item: LeftOut, tone: Tone) -> Mark:
    reach = NORMAL_90 * item.deviation
    text = f"{-item.error:+.1f} K".replace("-", "\N{MINUS SIGN}")
    return Mark(at=-item.error, low=-reach, high=reach, tone=tone, text=text, is_hollow=not item.is_inside)
