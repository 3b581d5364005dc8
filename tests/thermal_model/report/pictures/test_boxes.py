"""No text of any picture is cut off or lies over another: 3 and 40 containers, every shape, usual and large type."""

import pytest

from tests.thermal_model.report.pictures.boxes import faults, text_boxes
from tests.thermal_model.report.pictures.samples import COUNTS, SAMPLES
from thermal_model.report.pictures.draw import figure_of
from thermal_model.report.pictures.look import Appearance, Shape
from thermal_model.report.pictures.record import Picture

# Large type where it has least room: few and many in the narrowest, many in the lowest.
LOOKS = [(count, shape, False) for count in COUNTS for shape in Shape]
LOOKS += [(3, Shape.TALL, True), (40, Shape.TALL, True), (40, Shape.WIDE, True)]


@pytest.mark.parametrize(("count", "shape", "is_large"), LOOKS)
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.__name__)
def test_no_text_is_cut_or_covered(sample: object, count: int, shape: Shape, is_large: bool) -> None:
    assert callable(sample)
    look = Appearance(shape, is_large=is_large)
    with look.style():
        figure = figure_of(sample(count), look)
        assert faults(figure) == []
        shown = " ".join(text for text, _ in text_boxes(figure))
    # Every axis has its unit, wherever it had to be shortened.
    for unit in units(sample(count)):
        assert unit in shown


def units(picture: Picture) -> set[str]:
    labels = [label for panel in picture.panels for label in _labels(panel)]
    return {label[label.rindex("[") :] for label in labels if "[" in label}


def _labels(panel: object) -> list[str]:
    tracks = [track.label for track in getattr(panel, "tracks", ())]
    return [*tracks, getattr(panel, "x_label", ""), getattr(panel, "y_label", "")]


def test_faults_are_found() -> None:
    look = Appearance()
    with look.style():
        figure = figure_of(SAMPLES[0](3), look)
        assert faults(figure) == []
        figure.text(0.5, 0.5, "one over")
        figure.text(0.505, 0.5, "the other")
        figure.text(0.99, 0.01, "cut off at the edge")
        found = faults(figure)
    assert any(fault.startswith("cut off: 'cut off") for fault in found)
    assert "over each other: 'one over', 'the other'" in found
