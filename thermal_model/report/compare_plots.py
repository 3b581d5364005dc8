"""The picture of a ranking: a row for each container, hot and cold side by side, the tiers set apart."""

import math
from collections import Counter

from thermal_model.judge.compare import Ranking, Standing
from thermal_model.report.headings import made_by, sample_words
from thermal_model.report.pictures.numbers import hours
from thermal_model.report.pictures.record import Mark, Picture, Row, RowsPanel, Tone, Track
from thermal_model.words.numbers import Scale, interval_texts


def ranking_picture(
    first: Ranking, second: Ranking | None = None, given: str = "", scale: Scale = Scale.CELSIUS
) -> Picture:
    """Return the picture of a ranking, the best on top, with the places of the same containers in a second one beside.

    Parameters
    ----------
    first : Ranking
    second : Ranking, optional
        In other conditions: cold ones.
    given : str
        The conditions in words.
    scale : Scale
        Of the limits.
    """
    rankings = [first] if second is None else [first, second]
    others = {} if second is None else {s.entry.name: s for s in second.standings}
    names = _names(first)
    rows = []
    for place, standing in enumerate(first.standings):
        marks = [_marks(standing, first)]
        if second is not None:
            other = others.get(standing.entry.name)
            marks.append(() if other is None else _marks(other, second))
        is_parted = bool(place) and standing.tier != first.standings[place - 1].tier
        rows.append(Row(name=names[standing.entry.name], tracks=tuple(marks), is_parted=is_parted))
    parted = "dotted lines part what can be told apart" if any(row.is_parted for row in rows) else ""
    return Picture(
        subject="containers compared",
        title="How long each holds",
        given=given,
        made_by=made_by(parted, sample_words(first.draws, first.seed)),
        panels=(RowsPanel(tracks=tuple(_track(ranking, scale) for ranking in rankings), rows=tuple(rows)),),
    )


def is_cold(ranking: Ranking) -> bool:
    """Tell whether a ranking is of cold contents."""
    return bool(ranking.limit > ranking.scenario.start)


def _names(ranking: Ranking) -> dict[str, str]:
    """Return each container's title, or the name it goes under where that is another, or where two have one title."""
    titles = {
        s.entry.name: s.entry.container.called if s.entry.name == s.entry.container.name else s.entry.name
        for s in ranking.standings
    }
    counts = Counter(titles.values())
    return {name: title if counts[title] == 1 else name for name, title in titles.items()}


def _track(ranking: Ranking, scale: Scale) -> Track:
    side, name = ("below", "Cold") if is_cold(ranking) else ("above", "Hot")
    return Track(label=f"time {side} {scale.text(ranking.limit)} [h]", title=name)


def _marks(standing: Standing, ranking: Ranking) -> tuple[Mark, ...]:
    tone: Tone = "cold" if is_cold(ranking) else "hot"
    low, high = standing.interval
    least, middle, most = interval_texts(low, standing.centre, high)
    if not math.isfinite(standing.centre):
        if not math.isfinite(low):
            return (Mark(tone=tone, text="never reached"),)
        return (Mark(low=hours(low), tone=tone, text=f"at least {least}"),)
    at = hours(standing.centre)
    if not math.isfinite(low):
        return (Mark(at=at, tone=tone, text=middle),)
    text = f"{middle} ({least} to {most})"
    return (Mark(at=at, low=hours(low), high=hours(high), tone=tone, text=text, short=middle),)
