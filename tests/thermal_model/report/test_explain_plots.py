"""Pictures of explanations draw the numbers they were given."""

import pytest

from geometries.design_file import load_container
from tests.thermal_model.runs import scenario
from thermal_model.reasons.features import study_features
from thermal_model.reasons.loss_story import LossStory, loss_story
from thermal_model.report.features_plots import features_figure
from thermal_model.report.loss_story_plots import story_figure


@pytest.fixture(scope="module")
def story() -> LossStory:
    container = load_container("single_wall_steel")
    first, second = scenario(fill="400 mL"), scenario(fill="200 mL")
    return loss_story(container, first, second, 1200.0)


def test_causes_and_paths_are_drawn_to_length(story: LossStory) -> None:
    causes, paths = story_figure(story, ("400 mL", "200 mL")).axes
    drawn = sorted(patch.get_width() for patch in causes.patches)  # type: ignore[attr-defined]
    told = (story.by_heat_capacity, story.by_coefficient, story.by_walls, story.by_conditions)
    assert drawn == pytest.approx(sorted(k for k in told if abs(k) >= 0.05))
    for row, account in enumerate((story.second, story.first)):
        bar = [patch for patch in paths.patches if abs(patch.get_y() + 0.5 * patch.get_height() - row) < 1e-9]  # type: ignore[attr-defined]
        assert sum(patch.get_width() for patch in bar) == pytest.approx(1e3 * account.heat_loss_coefficient, rel=0.02)  # type: ignore[attr-defined]


def test_correlations_are_drawn_with_their_intervals() -> None:
    names = ("single_wall_steel", "stoneware_cup", "air_gap_mug", "foam_jug")
    study = study_features({name: load_container(name) for name in names}, [3.0, 1.0, 2.0, 4.0])
    axes = features_figure(study, "invented hold times").axes[0]
    assert [patch.get_width() for patch in axes.patches][::-1] == [a.correlation for a in study.associations]  # type: ignore[attr-defined]
    assert [list(line.get_xdata()) for line in axes.lines[:-1]][::-1] == [[a.low, a.high] for a in study.associations]
