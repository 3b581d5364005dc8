"""Pictures of explanations hold the numbers they were given."""

import pytest

from geometries.design_file import load_container
from tests.thermal_model.runs import scenario
from thermal_model.reasons.features import study_features
from thermal_model.reasons.loss_story import LossStory, loss_story
from thermal_model.report.explain_plots import features_picture, story_picture
from thermal_model.report.pictures.record import RowsPanel


@pytest.fixture(scope="module")
def story() -> LossStory:
    container = load_container("single_wall_steel")
    first, second = scenario(fill="400 mL"), scenario(fill="200 mL")
    return loss_story(container, first, second, 1200.0)


def test_causes_and_paths_are_drawn_to_length(story: LossStory) -> None:
    causes, paths = story_picture(story, ("400 mL", "200 mL")).panels
    assert isinstance(causes, RowsPanel)
    assert isinstance(paths, RowsPanel)
    drawn = sorted(row.tracks[0][0].at or 0.0 for row in causes.rows)
    told = (story.by_heat_capacity, story.by_coefficient, story.by_walls, story.by_conditions)
    assert drawn == pytest.approx(sorted(k for k in told if abs(k) >= 0.05), rel=1e-5)
    assert all((row.tracks[0][0].tone == "hot") == ((row.tracks[0][0].at or 0.0) > 0.0) for row in causes.rows)
    for track, account in enumerate((story.first, story.second)):
        total = sum(row.tracks[track][0].at or 0.0 for row in paths.rows)
        assert total == pytest.approx(1e3 * account.heat_loss_coefficient, rel=0.02)


def test_correlations_are_drawn_with_their_intervals() -> None:
    names = ("single_wall_steel", "stoneware_cup", "air_gap_mug", "foam_jug")
    study = study_features({name: load_container(name) for name in names}, [3.0, 1.0, 2.0, 4.0])
    (panel,) = features_picture(study, "invented hold times").panels
    assert isinstance(panel, RowsPanel)
    marks = [row.tracks[0][0] for row in panel.rows]
    assert [mark.at for mark in marks] == pytest.approx([a.correlation for a in study.associations], rel=1e-5)
    assert [mark.low for mark in marks] == pytest.approx([a.low for a in study.associations], rel=1e-5)
    assert [mark.high for mark in marks] == pytest.approx([a.high for a in study.associations], rel=1e-5)
