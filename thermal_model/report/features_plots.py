"""The picture of which features go with hold time in a set of containers."""

from thermal_model.reasons.features import FeatureStudy
from thermal_model.report.headings import made_by
from thermal_model.report.pictures.numbers import number
from thermal_model.report.pictures.record import Mark, Picture, Row, RowsPanel, Track

TITLE = "What goes with hold time"


def features_picture(study: FeatureStudy, given: str) -> Picture:
    """Return the picture: a bar a feature, the strongest on top."""
    rows = [
        Row(
            name=_label(association.feature.name, study),
            tracks=(
                (
                    Mark(
                        at=number(association.correlation),
                        base=0.0,
                        low=number(association.low),
                        high=number(association.high),
                        tone="more" if association.correlation >= 0.0 else "less",
                    ),
                ),
            ),
        )
        for association in study.associations
    ]
    label = "+1: always longer with more of it, −1: always shorter, 0: no link [-]"
    beside = "* not to be told apart from another feature here" if study.aliases else ""
    return Picture(
        subject=TITLE,
        title=TITLE,
        given=f"{len(study.names)} containers; {given}",
        made_by=made_by(beside, "nine in ten within the thin lines"),
        panels=(RowsPanel(tracks=(Track(label=label, line=0.0, low=-1.05, high=1.05),), rows=tuple(rows)),),
    )


def _label(name: str, study: FeatureStudy) -> str:
    shares_credit = any(name in (alias.one.name, alias.other.name) for alias in study.aliases)
    return f"{name} *" if shares_credit else name
