"""The picture: what is drawn, in which units, and that the same prediction gives the same file."""

import re
from pathlib import Path

import numpy as np
import pytest

from geometries.design_file import load_container
from geometries.errors import InputError
from thermal_model.prediction import Prediction, predict
from thermal_model.report.plots import COLD, HOT, draw_prediction, prediction_figure
from thermal_model.scenario import Scenario
from thermal_model.words.numbers import Scale


@pytest.fixture(scope="module")
def prediction() -> Prediction:
    container = load_container("wide_mouth_disc")
    return predict(container, Scenario.model_validate({"contents": "tea"}), [348.15, 293.16], draws=30)


def test_axes_carry_units_and_the_limits_their_times(prediction: Prediction) -> None:
    curve, paths = prediction_figure(prediction, Scale.FAHRENHEIT).axes
    assert curve.get_xlabel() == "time since filling [h]"
    assert curve.get_ylabel() == "temperature [°F]"
    texts = [text.get_text() for text in curve.texts]
    assert any(re.match(r"167 °F: \d.* \(\d.* to \d.*\)$", text) for text in texts)
    assert any(text.startswith("68.02 °F: ") for text in texts)
    assert any("tea, start 194 °F, room 68 °F" in text and "30 samples, seed 1" in text for text in texts)
    assert {text.get_text() for text in curve.get_legend().get_texts()} == {
        "nine in ten",
        "contents, best guess",
        "room",
    }
    assert "W/K in all" in paths.get_title(loc="left")


@pytest.mark.parametrize(
    ("scenario", "limit", "colour"),
    [
        ({"start": "90 C"}, 333.15, HOT),
        ({"start": "4 C"}, 283.15, COLD),
        ({"start": "0 C", "ice": "100 g"}, 283.15, COLD),
    ],
)
def test_a_dot_lies_on_its_curve_and_hot_is_warm_coloured(scenario: dict[str, str], limit: float, colour: str) -> None:
    found = predict(
        load_container("slim_neck_double_seal"),
        Scenario.model_validate({"fill": "300 mL"} | scenario),
        [limit],
        draws=12,
    )
    curve = prediction_figure(found).axes[0]
    line = next(line for line in curve.lines if line.get_label() == "contents, best guess")
    (dot,) = [line for line in curve.lines if line.get_marker() == "o"]
    at, level = float(np.asarray(dot.get_xdata())[0]), float(np.asarray(dot.get_ydata())[0])
    on_curve = np.interp(at, np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float))
    assert level == pytest.approx(limit - 273.15)
    assert on_curve == pytest.approx(level, abs=0.05)
    assert line.get_color() == colour


def test_curve_is_drawn_as_computed(prediction: Prediction) -> None:
    curve = prediction_figure(prediction).axes[0]
    line = next(line for line in curve.lines if line.get_label() == "contents, best guess")
    assert line.get_ydata() == pytest.approx(prediction.curve.nominal - 273.15)
    assert line.get_xdata() == pytest.approx(prediction.curve.time / 3600.0)


def test_slices_add_up_to_the_bar(prediction: Prediction) -> None:
    paths = prediction_figure(prediction).axes[1]
    widths = [patch.get_width() for patch in paths.patches]  # type: ignore[attr-defined]
    assert sum(widths) == pytest.approx(1.0, abs=1e-9)
    assert widths == sorted(widths, reverse=True)
    named = [text.get_text() for text in paths.texts]
    assert any("%\nlid" in text for text in named)


@pytest.mark.parametrize("name", ["curve.svg", "curve.png", "curve.pdf"])
def test_same_prediction_same_file(prediction: Prediction, tmp_path: Path, name: str) -> None:
    draw_prediction(prediction, tmp_path / name)
    draw_prediction(prediction, tmp_path / f"again_{name}")
    assert (tmp_path / name).read_bytes() == (tmp_path / f"again_{name}").read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([name, f"again_{name}"])


def test_unknown_ending(prediction: Prediction, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"can't draw a '\.bmp' file; end the name in \.png, \.svg, \.pdf"):
        draw_prediction(prediction, tmp_path / "curve.bmp")
    assert list(tmp_path.iterdir()) == []
