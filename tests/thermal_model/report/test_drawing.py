"""Drawings: no text over another or beyond the edge, one scale, arrows as wide as their share."""

import re
from itertools import combinations
from pathlib import Path
from typing import cast

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from matplotlib.path import Path as Path2D
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from geometries.container import closed_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.section import cross_section
from thermal_model.prediction import predict
from thermal_model.report.drawing import Drawn, draw_containers, drawing_figure, drawn_prediction
from thermal_model.report.pictures.look import PLAIN, Appearance, Shape
from thermal_model.report.pictures.page import Page
from thermal_model.report.pictures.spread import spread
from thermal_model.report.section_svg import section_svg
from thermal_model.scenario import Scenario


def drawn(name: str) -> Drawn:
    container = load_container(name)
    return Drawn(container, 0.7 * float(closed_capacity(container)))


def text_boxes(figure: Figure) -> dict[str, Bbox]:
    renderer = FigureCanvasAgg(figure).get_renderer()
    found = figure.findobj(Text)
    return {t.get_text(): t.get_window_extent(renderer) for t in found if isinstance(t, Text) and t.get_text()}


def overlaps(boxes: dict[str, Bbox]) -> list[tuple[str, str]]:
    return [(a, b) for (a, first), (b, second) in combinations(boxes.items(), 2) if Bbox.intersection(first, second)]


@pytest.mark.parametrize("name", catalogue_names())
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_no_text_lies_over_another_or_is_cut(name: str, unit: str) -> None:
    with PLAIN.style():
        figure = drawing_figure([drawn(name)], unit)
        boxes = text_boxes(figure)
    assert len(boxes) >= 5
    assert overlaps(boxes) == []
    edge = figure.bbox
    assert [
        t for t, box in boxes.items() if box.x0 < edge.x0 or box.x1 > edge.x1 or box.y0 < 0 or box.y1 > edge.y1
    ] == []


def test_two_side_by_side_share_one_scale() -> None:
    with PLAIN.style():
        figure = drawing_figure([drawn("slim_neck_double_seal"), drawn("foam_jug"), drawn("stoneware_cup")])
        assert len(overlaps(text_boxes(figure))) == 0
    scales = []
    for axes in figure.axes:
        box = axes.get_window_extent()
        scales += [box.width / np.ptp(axes.get_xlim()), box.height / np.ptp(axes.get_ylim())]
    assert scales == pytest.approx([scales[0]] * len(scales), rel=1e-9)


def test_arrows_are_as_wide_as_their_share() -> None:
    prediction = predict(
        load_container("handled_tumbler_straw"), Scenario.model_validate({"start": "4 C"}), [285.15], draws=0
    )
    with PLAIN.style():
        figure = drawing_figure([drawn_prediction(prediction)])
        assert overlaps(text_boxes(figure)) == []
    shares = {k: v / prediction.heat_loss_coefficient for k, v in prediction.heat_paths.items()}
    texts = [text.get_text() for text in figure.axes[0].texts]
    assert f"lid {100.0 * shares['lid']:.0f} %" in texts
    assert f"side {100.0 * shares['gap_side']:.0f} %" in texts
    assert len(texts) == 1 + sum(share >= 0.005 for share in shares.values())


@pytest.mark.parametrize("name", ["stoneware_cup", "handled_tumbler_straw", "air_gap_mug", "slim_neck_double_seal"])
def test_arrows_of_heat_start_at_the_outline(name: str) -> None:
    """Also where the wall slants; and no text is cut at the edge."""
    prediction = predict(load_container(name), Scenario(), [333.15], draws=0)
    with PLAIN.style():
        figure = drawing_figure([drawn_prediction(prediction)])
        boxes = text_boxes(figure)
    assert all(box.y0 >= 0 and box.y1 <= figure.bbox.y1 for box in boxes.values())
    cut = cross_section(prediction.container, None)
    regions = [outline for region in cut.regions for outline in region.outlines]
    axes = figure.axes[0]
    # A title, and a text an arrow.
    arrows = [cast("Polygon", patch).get_xy() for patch in axes.patches[1 - len(axes.texts) :]]
    sideways = [each for each in arrows if abs(each[0, 0] - each[6, 0]) < 1e-9]
    assert len(sideways) == 2
    for arrow in sideways:
        x, y = 0.5 * (arrow[0] + arrow[6])
        is_part = [any(Path2D(outline).contains_point((x + off, y)) for outline in regions) for off in (-3e-4, 3e-4)]
        assert sorted(is_part) == [False, True]


def test_no_text_lies_over_a_handle() -> None:
    prediction = predict(load_container("stoneware_cup"), Scenario(), [333.15], draws=0)
    with PLAIN.style():
        figure = drawing_figure([drawn_prediction(prediction)])
        boxes = text_boxes(figure)
        axes = figure.axes[0]
        assert {text.rsplit(" ", 2)[0] for text in boxes} == {"Galley", "open mouth", "lip", "side", "base"}
        (handle,) = (each for each in cross_section(prediction.container, None).regions if each.part == "handle")
        for outline in handle.outlines:
            corners = axes.transData.transform(outline)
            shown = Bbox([corners.min(axis=0), corners.max(axis=0)])
            assert [text for text, box in boxes.items() if Bbox.intersection(shown, box)] == []
        assert all(box.x0 >= 0 and box.x1 <= figure.bbox.x1 for box in boxes.values())


@pytest.mark.parametrize("shape", Shape)
@pytest.mark.parametrize("names", [("foam_jug",), ("slim_neck_double_seal", "stoneware_cup")], ids="-".join)
def test_looks_keep_texts_apart(names: tuple[str, ...], shape: Shape) -> None:
    look = Appearance(shape, is_dark=True, is_large=True)
    with look.style():
        figure = drawing_figure([drawn(name) for name in names], look=look)
        boxes = text_boxes(figure)
    assert overlaps(boxes) == []
    edge = figure.bbox
    assert all(box.x0 >= 0 and box.x1 <= edge.x1 and box.y0 >= 0 and box.y1 <= edge.y1 for box in boxes.values())
    assert edge.width / edge.height == pytest.approx({"wide": 16 / 9, "square": 1.0, "tall": 9 / 16}[shape.value])


@pytest.mark.parametrize("name", ["a.svg", "a.png", "a.pdf"])
def test_same_drawing_same_file(tmp_path: Path, name: str) -> None:
    draw_containers([drawn("foam_jug")], tmp_path / name)
    draw_containers([drawn("foam_jug")], tmp_path / f"again_{name}")
    assert (tmp_path / name).read_bytes() == (tmp_path / f"again_{name}").read_bytes()


def test_texts_keep_their_order_and_their_distance() -> None:
    heights = spread([5.0, 4.9, 4.8, 1.0], np.full(4, 0.5), 0.0, 6.0)
    assert (np.diff(heights) <= -0.5 + 1e-12).all()
    assert heights[3] == pytest.approx(1.0)
    assert heights[:3].mean() == pytest.approx(4.9)
    crowded = spread([0.1, 0.05], np.full(2, 0.5), 0.0, 6.0)
    assert crowded.min() == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("name", catalogue_names())
def test_no_text_of_the_live_drawing_is_cut_off(name: str, unit: str) -> None:
    svg = section_svg(drawn(name), unit=unit)
    whole = float(re.search(r'viewBox="0 0 (\d+)', svg)[1])
    texts = re.findall(r'<text x="([\d.]+)" y="[\d.]+" text-anchor="start" [^>]*>([^<]*)</text>', svg)
    assert len(texts) >= 2
    for x, text in texts:
        assert float(x) + 72.0 * Page.width_of(text, 11.0) <= whole, text  # a letter as matplotlib's own font has it
