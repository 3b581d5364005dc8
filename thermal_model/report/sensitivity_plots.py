"""Pictures of a sensitivity: bars, the largest on top."""

from thermal_model.report.headings import made_by, title_of
from thermal_model.report.pictures.numbers import hours, number
from thermal_model.report.pictures.record import Mark, Picture, Row, RowsPanel, Track, row_of
from thermal_model.report.sensitivity_text import LEAST_SHARE, input_label
from thermal_model.study.question import Question
from thermal_model.study.sensitivity import CONFIDENCE, GlobalSensitivity, LocalSensitivity
from thermal_model.uncertainty import PRIORS
from thermal_model.words.dimensions import dimension_words
from thermal_model.words.numbers import duration_text, percent

MOST_BARS = 14


def sensitivity_picture(found: LocalSensitivity | GlobalSensitivity, question: Question, given: str) -> Picture:
    """Return the picture of a sensitivity.

    Parameters
    ----------
    found : LocalSensitivity or GlobalSensitivity
    question : Question
    given : str
        What was given.
    """
    if isinstance(found, GlobalSensitivity):
        panels, what = [_indices(found, question)], "where the spread comes from"
        sample = made_by(f"{found.runs} designs, seed {found.seed}", f"{percent(CONFIDENCE)} within the thin lines")
    else:
        panels = [_elasticities(found, question)] if found.elasticities else []
        panels += [_unknowns(found)] if found.unknowns or not panels else []
        what = "what each dimension does" if found.elasticities else "what is not known"
        sample = made_by(f"holds {duration_text(found.hold_time)} as it is")
    return Picture(
        subject=f"{question.container.name}, sensitivity",
        title=title_of(question, what),
        given=given,
        made_by=sample,
        panels=tuple(panels),
    )


def _elasticities(found: LocalSensitivity, question: Question) -> RowsPanel:
    rows = []
    for effect in found.elasticities[:MOST_BARS]:
        noun, more = dimension_words(effect.field.path, question.container)
        text = f"{effect.value:+.2g} %".replace("-", "−")
        mark = Mark(at=number(effect.value), base=0.0, tone="less" if effect.value < 0.0 else "more", text=text)
        rows.append(row_of(f"{noun}, {more}", mark))
    label = "hold time for a hundredth more of it [%]"
    return RowsPanel(tracks=(Track(label=label, line=0.0),), rows=tuple(rows))


def _unknowns(found: LocalSensitivity) -> RowsPanel:
    rows = []
    for effect in found.unknowns[:MOST_BARS]:
        low, high = sorted((effect.lower, effect.upper))
        text = f"{duration_text(low)} to {duration_text(high)}"
        mark = Mark(low=hours(low), high=hours(high), tone="plain", text=text)
        rows.append(row_of(PRIORS[effect.name].label, mark))
    ends = [t for e in found.unknowns[:MOST_BARS] for t in (e.lower, e.upper)] + [found.hold_time]
    slack = 0.05 * (max(ends) - min(ends)) or 0.05 * found.hold_time
    left, right = hours(min(ends) - slack), hours(max(ends) + slack)
    track = Track(label="hold time [h]", line=hours(found.hold_time), low=left, high=right)
    return RowsPanel(title="What is not known: from low to high", tracks=(track,), rows=tuple(rows))


def _indices(found: GlobalSensitivity, question: Question) -> RowsPanel:
    rows = []
    for index in [index for index in found.indices if index.total >= LEAST_SHARE][:MOST_BARS]:
        alone, in_all = _share(index.first, index.first_margin), _share(index.total, index.total_margin)
        rows.append(Row(name=input_label(index.name, question), tracks=((alone,), (in_all,))))
    label = "share of the spread of the hold time [%]"
    tracks = Track(label=label, title="Alone", line=0.0), Track(label=label, title="With others", line=0.0)
    return RowsPanel(tracks=tracks, rows=tuple(rows))


def _share(value: float, margin: float) -> Mark:
    ends = number(100.0 * (value - margin)), number(100.0 * (value + margin))
    return Mark(at=number(100.0 * value), base=0.0, low=ends[0], high=ends[1], tone="plain", text=percent(value))
