"""The picture of why one container holds longer than another."""

from thermal_model.reasons.pair import PairExplanation, Share
from thermal_model.report.explain_pair_text import gain_text
from thermal_model.report.headings import made_by
from thermal_model.report.part_words import part_text
from thermal_model.report.pictures.numbers import hours
from thermal_model.report.pictures.record import Mark, Picture, Row, RowsPanel, Track
from thermal_model.words.numbers import duration_text


def pair_picture(found: PairExplanation, given: str) -> Picture:
    """Return the picture: a bar a part, the largest on top, with what A and B have."""
    shares = sorted(found.shares(), key=lambda share: -abs(share.log_ratio.nominal))
    first, second = (c.container.called for c in (found.first, found.second))
    held = f"A {duration_text(found.first_time.nominal)}, B {duration_text(found.second_time.nominal)}"
    sample = f"{found.draws} samples, seed {found.seed}; nine in ten within the thin lines"
    label = "hours that A gains (right) or loses (left) against B [h]"
    return Picture(
        subject=f"{found.first.container.name} against {found.second.container.name}",
        title=f"{first} (A) against {second} (B)",
        given=f"{given}\n{held}: {gain_text(found.seconds.nominal, found.seconds.nominal)}",
        made_by=made_by(sample if found.draws else "best guess"),
        panels=(RowsPanel(tracks=(Track(label=label, line=0.0),), rows=tuple(_row(share, found) for share in shares)),),
    )


def _row(share: Share, found: PairExplanation) -> Row:
    first, second = (part_text(share.group, c.container, c.scenario) for c in (found.first, found.second))
    name, seconds = share.group.value, share.seconds
    mark = Mark(
        at=hours(seconds.nominal),
        base=0.0,
        low=hours(seconds.low),
        high=hours(seconds.high),
        tone="more" if seconds.nominal >= 0.0 else "less",
        text=gain_text(seconds.nominal, found.seconds.nominal),
    )
    return Row(name=f"{name[:1].upper()}{name[1:]}", note=f"A: {first}\nB: {second}", tracks=((mark,),))
