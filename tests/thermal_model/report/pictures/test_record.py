"""A picture as data: the same after a trip through JSON; what can't be drawn is refused in words."""

import json

import pytest

from geometries.errors import InputError
from geometries.validation import validated
from tests.thermal_model.report.pictures.samples import SAMPLES, cooling
from thermal_model.report.pictures.record import Curves, Line, Picture


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.__name__)
def test_a_picture_survives_json(sample: object) -> None:
    assert callable(sample)
    picture = sample(3)
    text = json.dumps(picture.document(), allow_nan=False)
    assert validated(Picture, json.loads(text), needs_unit=False) == picture


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"panels": []}, "panels"),
        ({"panels": [{"kind": "pie"}]}, "must be one of"),
        ({"colour": "red"}, "unknown key"),
        ({"title": "a\x1b[2Jb"}, "control character"),
        ({"panels": [{"kind": "curves", "lines": [{"x": [1.0, 2.0], "y": [1.0]}]}]}, "of one length"),
        ({"panels": [{"kind": "curves", "lines": [{"x": [1e300], "y": [1.0]}]}]}, "must be at most"),
        ({"panels": [{"kind": "rows", "tracks": [{"label": "h"}], "rows": [{"name": "a", "tracks": []}]}]}, "1 tracks"),
        ({"panels": [{"kind": "map", "x": [1, 2], "y": [1, 2], "values": [[1, 2]]}]}, "a row for each y"),
    ],
)
def test_what_is_no_picture_is_refused(change: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        validated(Picture, cooling(3).document() | change, "result.json", needs_unit=False)


def test_names_are_cut_before_units() -> None:
    from thermal_model.report.pictures.look import PLAIN
    from thermal_model.report.pictures.page import Page

    with PLAIN.style():
        page = Page(PLAIN)
        assert page.label("depth of the air pocket [mm]", 1.2, 12.0).endswith("… [mm]")
        cut = [page.shortened(f"Foam jug of the mess, two litres, {i}", 1.5, 12.0, is_name=True) for i in range(12)]
        assert len(set(cut)) == len(cut)
        assert all(text.startswith("Foam jug") and page.width_of(text, 12.0) <= 1.5 for text in cut)
        assert page.wrapped("above 60 °C", 0.6, 12.0).split("\n") == ["above", "60\N{NO-BREAK SPACE}°C"]


def test_a_line_without_values_is_drawn() -> None:
    from thermal_model.report.pictures.draw import png_of

    panel = Curves(lines=(Line(x=(1.0, 2.0), y=(None, None)),))
    assert png_of(Picture(subject="a", title="a", panels=(panel,)))[:4] == b"\x89PNG"
