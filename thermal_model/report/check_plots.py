"""Pictures of a check: how long, or how warm, beside what is claimed or asked for."""

import math
from collections.abc import Sequence
from typing import cast

from geometries.container import Container
from thermal_model.bench.reduce.evidence import Points
from thermal_model.judge.claims import ClaimResult, Verdict
from thermal_model.judge.food_holding import Held
from thermal_model.judge.measured_claim import MeasuredClaim
from thermal_model.judge.standards import CONDITIONS, Procedure, StandardResult
from thermal_model.report.bench_plots import level_of, readings_line
from thermal_model.report.headings import made_by, sample_words
from thermal_model.report.pictures.numbers import hours, known
from thermal_model.report.pictures.record import Curves, Line, Mark, Picture, Row, RowsPanel, Tone, Track, row_of
from thermal_model.words.numbers import Scale, duration_text, interval_texts, percent

_NEVER = "longer than followed"
_HELD = "hold time [h]"
_CALLED = {
    Procedure.JIS_HOT: "JIS S 2006, hot",
    Procedure.JIS_COLD: "JIS S 2006, cold",
    Procedure.EN_HOT: "EN 12546-1, hot",
}


def claim_picture(result: ClaimResult, container: Container, given: str, scale: Scale) -> Picture:
    """Return the picture of a claim: the hold time with its range, and the claim as an upright line."""
    side = "above" if result.claim.is_hot else "below"
    wanted = duration_text(result.claim.duration)
    mark = _held_mark((result.low, result.median, result.high), is_hot=result.claim.is_hot)
    verdict = f"{result.verdict.value}, with probability {percent(result.probability)}"
    row = row_of(f"Stays {side} {scale.text(result.limit)}", mark, note=verdict)
    track = Track(label=_HELD, title=f"Line: {wanted}", line=hours(result.claim.duration), low=0.0)
    sample = sample_words(result.draws, result.seed, "bar")
    return _picture(container, f"{side} {scale.text(result.limit)} for {wanted}?", given, sample, track, [row])


def measured_claim_picture(
    result: MeasuredClaim, container: Container, points: Points, given: str, scale: Scale
) -> Picture:
    """Return the picture of a claim judged by readings: what they showed, and the claim as a bar along its limit."""
    side, tone = ("above", "hot") if result.claim.is_hot else ("below", "cold")
    wanted, limit = duration_text(result.claim.duration), scale.number(result.limit)
    readings = readings_line(points, cast("Tone", tone), scale, text=f"readings of {result.run}")
    claimed = known([0.0, result.claim.duration / 3600.0])
    bar = Line(x=claimed, y=known([limit, limit]), tone="limit", is_wide=True, text=f"claimed: {wanted}")
    curves = Curves(
        x_label="time since pouring [h]",
        y_label=f"temperature [{scale.sign}]",
        lines=(readings, bar),
        levels=(level_of(result.held, scale),),
        starts_at_zero=True,
    )
    return Picture(
        subject=f"{container.name}, checked by {result.run}",
        title=f"{container.called}: {side} {scale.text(result.limit)} for {wanted}: {result.verdict.value}",
        given=given,
        made_by=made_by("readings with the thermometers' offsets taken off", "no model behind them"),
        panels=(curves,),
    )


def holding_picture(held: Sequence[Held], container: Container, given: str, scale: Scale, seed: int) -> Picture:
    """Return the picture of how long food keeps the limits of holding."""
    rows = [
        row_of(
            f"Stays {'above' if one.limit.is_hot else 'below'} {scale.text(one.limit.temperature)}",
            _held_mark((one.low, one.median, one.high), is_hot=one.limit.is_hot),
            note=one.limit.source,
        )
        for one in held
    ]
    sample = sample_words(held[0].draws, seed)
    return _picture(container, "how long food is held", given, sample, Track(label=_HELD, low=0.0), rows)


def standard_picture(
    results: Sequence[StandardResult], container: Container, scale: Scale, draws: int, seed: int
) -> Picture:
    """Return the picture of standard tests: the temperature at their end, beside the least that is asked for."""
    rows = [_ended(result, scale) for result in results]
    track = Track(label=f"temperature at the end [{scale.sign}]")
    return _picture(container, "in a standard's test", "filled to the lid", sample_words(draws, seed), track, rows)


def _picture(container: Container, asked: str, given: str, sample: str, track: Track, rows: Sequence[Row]) -> Picture:
    return Picture(
        subject=f"{container.name}, checked",
        title=f"{container.called}: {asked}",
        given=given,
        made_by=made_by(sample),
        panels=(RowsPanel(tracks=(track,), rows=tuple(rows)),),
    )


def _held_mark(times: tuple[float, float, float], *, is_hot: bool) -> Mark:
    """Return a hold time with its range; an end that is never reached is open. [s]"""
    tone: Tone = "hot" if is_hot else "cold"
    low, middle, high = times
    texts = interval_texts(low, middle, high, _NEVER)
    if not math.isfinite(low):
        return Mark(tone=tone, text=_NEVER)
    at, end = (hours(value) if math.isfinite(value) else None for value in (middle, high))
    return Mark(at=at, low=hours(low), high=end, tone=tone, text=texts[1] if at is not None else f"at least {texts[0]}")


def _ended(result: StandardResult, scale: Scale) -> Row:
    is_hot = result.procedure is not Procedure.JIS_COLD
    low, middle, high = (scale.number(value) for value in (result.low, result.median, result.high))
    tone: Tone = "hot" if is_hot else "cold"
    marks = [Mark(at=middle, low=low, high=high, tone=tone, text=scale.text(result.median, 3))]
    after = duration_text(CONDITIONS[result.procedure].after)
    note = f"after {after} from {scale.text(CONDITIONS[result.procedure].start)}; {result.verdict.value}"
    if result.minimum is not None and result.verdict is not Verdict.NO_LIMIT:
        marks.append(Mark(at=scale.number(result.minimum.minimum), tone="limit", is_hollow=True))
        note += f"; ring: at least {scale.text(result.minimum.minimum)}"
    return row_of(_CALLED[result.procedure], *marks, note=note)
