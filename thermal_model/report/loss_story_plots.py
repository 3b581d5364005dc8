"""The picture of one container in two conditions: what parts their temperatures, and the paths the heat took."""

from thermal_model.reasons.loss_story import LossStory
from thermal_model.report.headings import made_by
from thermal_model.report.loss_story_text import LEAST_PATH, LEAST_TOLD
from thermal_model.report.pictures.numbers import number
from thermal_model.report.pictures.record import Mark, Picture, Row, RowsPanel, Track
from thermal_model.report.prediction_plots import path_tone
from thermal_model.report.results import path_label
from thermal_model.solver.network import PATHS
from thermal_model.words.numbers import Scale, duration_text


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
    rows = [
        Row(name=name, tracks=((Mark(at=number(kelvin), base=0.0, tone=tone, text=text),),))
        for name, kelvin in told
        for tone, text in (("hot" if kelvin > 0.0 else "cold", f"{kelvin:+.1f} K".replace("-", "−")),)
    ]
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
