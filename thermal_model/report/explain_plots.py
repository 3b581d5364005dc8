"""Pictures of reasons: why one container holds longer, what parts two conditions, which features go with hold time."""

from thermal_model.reasons.features import FeatureStudy
from thermal_model.reasons.loss_story import LossStory
from thermal_model.reasons.pair import PairExplanation, Share
from thermal_model.report.explain_pair_text import gain_text
from thermal_model.report.headings import made_by, sample_words
from thermal_model.report.loss_story_text import LEAST_PATH, LEAST_TOLD
from thermal_model.report.part_words import part_text
from thermal_model.report.pictures.numbers import hours, number
from thermal_model.report.pictures.record import Mark, Picture, Row, RowsPanel, Track, row_of
from thermal_model.report.prediction_plots import path_tone
from thermal_model.report.results import path_label
from thermal_model.solver.network import PATHS
from thermal_model.words.numbers import Scale, duration_text


def pair_picture(found: PairExplanation, given: str) -> Picture:
    """Return the picture: a bar a part, the largest on top, with what A and B have."""
    shares = sorted(found.shares(), key=lambda share: -abs(share.log_ratio.nominal))
    first, second = (c.container.called for c in (found.first, found.second))
    held = f"A {duration_text(found.first_time.nominal)}, B {duration_text(found.second_time.nominal)}"
    label = "hours that A gains (right) or loses (left) against B [h]"
    return Picture(
        subject=f"{found.first.container.name} against {found.second.container.name}",
        title=f"{first} (A) against {second} (B)",
        given=f"{given}\n{held}: {gain_text(found.seconds.nominal, found.seconds.nominal)}",
        made_by=made_by(sample_words(found.draws, found.seed, "thin lines")),
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
    return row_of(f"{name[:1].upper()}{name[1:]}", mark, note=f"A: {first}\nB: {second}")


# --- one container in two conditions ----------------------------------------------------------------------------


def story_picture(story: LossStory, given: tuple[str, str], scale: Scale = Scale.CELSIUS) -> Picture:
    """Return the picture of causes and paths.

    Parameters
    ----------
    story : LossStory
    given : pair of str
        What is known of A and of B, in a line each.
    scale : Scale
        Of the temperatures.
    """
    after = duration_text(story.first.duration)
    ends = f"after {after}: A {scale.text(story.first.end, 3)}, B {scale.text(story.second.end, 3)}"
    return Picture(
        subject=f"{story.container.name} in two conditions",
        title=f"{story.container.called} in two conditions",
        given=f"A: {given[0]}\nB: {given[1]}\n{ends}",
        made_by=made_by(),
        panels=(_causes(story), _paths(story)),
    )


def _causes(story: LossStory) -> RowsPanel:
    """Return by how much each cause leaves B warmer or colder at the end, the largest first. [K]"""
    causes = {
        "heat the contents hold": story.by_heat_capacity,
        "heat passed for each degree": story.by_coefficient,
        "heat that walls and lid took": story.by_walls,
        "start and room": story.by_conditions,
    }
    told = sorted(((k, v) for k, v in causes.items() if abs(v) >= LEAST_TOLD), key=lambda pair: -abs(pair[1]))
    rows = []
    for name, kelvin in told:
        text = f"{kelvin:+.1f} K".replace("-", "−")
        rows.append(row_of(name, Mark(at=number(kelvin), base=0.0, tone="hot" if kelvin > 0.0 else "cold", text=text)))
    label = "B warmer than A at the end (right) or colder (left) [K]"
    return RowsPanel(title="What parts them", tracks=(Track(label=label, line=0.0),), rows=tuple(rows))


def _paths(story: LossStory) -> RowsPanel:
    """Return the heat passed for each degree, by path, in A and in B."""
    accounts = (story.first, story.second)
    shown = [path for path in PATHS if any(abs(account.heat_paths[path]) >= LEAST_PATH for account in accounts)]
    rows = [
        Row(
            name=path_label(path, story.container),
            tracks=tuple(
                (Mark(at=number(1e3 * value), base=0.0, tone=path_tone(path), text=f"{1e3 * value:.1f}"),)
                for value in (account.heat_paths[path] for account in accounts)
            ),
        )
        for path in shown
    ]
    label = "heat for each degree [mW/K]"
    return RowsPanel(
        title="Where it went, halfway between start and end",
        tracks=(Track(label=label, title="A"), Track(label=label, title="B")),
        rows=tuple(rows),
    )


# --- features ---------------------------------------------------------------------------------------------------

TITLE = "What goes with hold time"


def features_picture(study: FeatureStudy, given: str) -> Picture:
    """Return the picture: a bar a feature, the strongest on top."""
    rows = [
        row_of(
            _label(association.feature.name, study),
            Mark(
                at=number(association.correlation),
                base=0.0,
                low=number(association.low),
                high=number(association.high),
                tone="more" if association.correlation >= 0.0 else "less",
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
