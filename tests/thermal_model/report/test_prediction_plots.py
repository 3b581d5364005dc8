"""The picture of a prediction: what is drawn, in which units, and that the same prediction gives the same file."""

import re
from pathlib import Path

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from thermal_model.prediction import Prediction, predict
from thermal_model.report.pictures.draw import draw, figure_of
from thermal_model.report.pictures.look import DARK, LIGHT, PLAIN, Appearance, Shape
from thermal_model.report.pictures.record import Curves, Picture, RowsPanel
from thermal_model.report.prediction_plots import prediction_picture
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale


@pytest.fixture(scope="module")
def prediction() -> Prediction:
    container = load_container("wide_mouth_disc")
    return predict(container, Scenario.model_validate({"contents": "tea"}), [348.15, 293.16], draws=30)


def parts(picture: Picture) -> tuple[Curves, RowsPanel]:
    curves, paths = picture.panels
    assert isinstance(curves, Curves)
    assert isinstance(paths, RowsPanel)
    return curves, paths


def test_axes_carry_units_and_the_limits_their_times(prediction: Prediction) -> None:
    picture = prediction_picture(prediction, Scale.FAHRENHEIT)
    curve, paths = parts(picture)
    assert (curve.x_label, curve.y_label) == ("time since filling [h]", "temperature [°F]")
    assert re.match(r"167 °F: \d.*\n\(\d.* to \d.*\)$", curve.levels[0].text)
    assert curve.levels[1].text.startswith("68.02 °F: ")
    assert "tea, start 194 °F, room 68 °F" in picture.given
    assert "30 samples, seed 1" in picture.made_by
    assert [line.text for line in curve.lines] == ["room", "tea; nine in ten in the band"]
    assert "W/K in all" in paths.title
    assert picture.title == load_container("wide_mouth_disc").title


@pytest.mark.parametrize(
    ("scenario", "limit", "tone"),
    [
        ({"start": "90 C"}, 333.15, "hot"),
        ({"start": "4 C"}, 283.15, "cold"),
        ({"start": "0 C", "ice": "100 g"}, 283.15, "cold"),
    ],
)
@pytest.mark.parametrize("is_dark", [False, True])
def test_a_dot_lies_on_its_curve_and_hot_is_warm_coloured(
    scenario: dict[str, str], limit: float, tone: str, is_dark: bool
) -> None:
    found = predict(
        load_container("slim_neck_double_seal"),
        Scenario.model_validate({"fill": "300 mL"} | scenario),
        [limit],
        draws=12,
    )
    look = Appearance(is_dark=is_dark)
    with look.style():
        axes = figure_of(prediction_picture(found), look).axes[0]
    (dot,) = [line for line in axes.lines if line.get_marker() == "o"]
    colour = (DARK if is_dark else LIGHT).tones[tone]
    line = next(line for line in axes.lines if line.get_color() == colour)
    at, level = float(np.asarray(dot.get_xdata())[0]), float(np.asarray(dot.get_ydata())[0])
    on_curve = np.interp(at, np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float))
    assert level == pytest.approx(limit - 273.15)
    assert on_curve == pytest.approx(level, abs=0.05)


def test_curve_is_drawn_as_computed(prediction: Prediction) -> None:
    with PLAIN.style():
        axes = figure_of(prediction_picture(prediction)).axes[0]
    line = next(line for line in axes.lines if line.get_color() == LIGHT.tones["hot"])
    assert line.get_ydata() == pytest.approx(prediction.curve.nominal - 273.15, abs=1e-4)
    assert line.get_xdata() == pytest.approx(prediction.curve.time / 3600.0, rel=1e-5)


def test_shares_add_up_and_fall(prediction: Prediction) -> None:
    _, paths = parts(prediction_picture(prediction))
    shares = [row.tracks[0][0].at or 0.0 for row in paths.rows]
    assert sum(shares) == pytest.approx(100.0, abs=1e-3)
    assert shares == sorted(shares, reverse=True)
    assert "lid" in {row.name for row in paths.rows}


@pytest.mark.parametrize("name", ["curve.svg", "curve.png", "curve.pdf"])
def test_same_prediction_same_file(prediction: Prediction, tmp_path: Path, name: str) -> None:
    picture, look = prediction_picture(prediction), Appearance(Shape.SQUARE)
    draw(picture, tmp_path / name, look)
    # Once more from the numbers alone, as a result file keeps them.
    draw(Picture.model_validate(picture.document()), tmp_path / f"again_{name}", look)
    assert (tmp_path / name).read_bytes() == (tmp_path / f"again_{name}").read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([name, f"again_{name}"])


def test_unknown_ending(prediction: Prediction, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"can't draw a '\.bmp' file; end the name in \.png, \.svg, \.pdf"):
        draw(prediction_picture(prediction), tmp_path / "curve.bmp")
    assert list(tmp_path.iterdir()) == []
