"""The picture of the hold times of a container in other conditions."""

from collections.abc import Sequence

from thermal_model.judge.carry import Carried
from thermal_model.prediction import HoldTime, Prediction
from thermal_model.report.headings import made_by, sample_words
from thermal_model.report.pictures.numbers import hours
from thermal_model.report.pictures.record import Mark, Picture, Row, RowsPanel, Tone, Track, row_of
from thermal_model.report.summary import limit_text
from thermal_model.words.numbers import Scale, duration_text, sensible_step


def carried_picture(bench: Prediction, found: Sequence[Carried], given: str, scale: Scale) -> Picture:
    """Return the picture: a row for each limit of each scenario."""
    rows = [_row("on the bench", bench, hold_time, "", scale) for hold_time in bench.hold_times]
    for entry in found:
        if entry.prediction is not None:
            pairs = zip(entry.prediction.hold_times, entry.wanted.limits, strict=True)
            name = entry.name.replace("_", " ")
            rows += [_row(name, entry.prediction, hold_time, limit.purpose, scale) for hold_time, limit in pairs]
    return Picture(
        subject=f"{bench.container.name}, carried over",
        title=f"{bench.container.called} elsewhere",
        given=f"on the bench: {given}",
        made_by=made_by(sample_words(bench.draws, bench.seed)),
        panels=(RowsPanel(tracks=(Track(label="hold time [h]"),), rows=tuple(rows)),),
    )


def _row(name: str, prediction: Prediction, hold_time: HoldTime, purpose: str, scale: Scale) -> Row:
    note = limit_text(hold_time.limit, prediction.scenario, scale) + (f": {purpose}" if purpose else "")
    mark = _mark(hold_time, "hot" if hold_time.limit <= prediction.scenario.start else "cold")
    return row_of(f"{name[:1].upper()}{name[1:]}", mark, note=note)


def _mark(hold_time: HoldTime, tone: Tone) -> Mark:
    middle = hold_time.median if hold_time.median is not None else hold_time.nominal
    if middle is None:
        return Mark(tone=tone, text="not reached")
    if hold_time.low is None or hold_time.high is None:
        return Mark(at=hours(middle), tone=tone, text=duration_text(middle))
    text = duration_text(middle, sensible_step(hold_time.high - hold_time.low))
    return Mark(at=hours(middle), low=hours(hold_time.low), high=hours(hold_time.high), tone=tone, text=text)
