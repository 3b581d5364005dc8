"""Dimensions that were not measured: their ranges, read and refused."""

import numpy as np
import pytest

from geometries.container import Container
from geometries.design_file import container_text, parse_container
from geometries.errors import InputError
from geometries.unsure import log_width, unsure_ranges, with_unsure
from geometries.validation import validated
from tests.geometries.designs import bottle_document


def unsure(**ranges: str) -> Container:
    named = {path.replace("__", "."): text for path, text in ranges.items()}
    return validated(Container, {**bottle_document(), "unsure": named}, "mine.toml")


def test_a_range_is_read_with_its_unit_and_written_back() -> None:
    container = unsure(body__gap__width="3..6 mm", lid__layers__1__depth="5 mm .. 2 cm")
    ranges = unsure_ranges(container)
    assert (ranges["body.gap.width"].low, ranges["body.gap.width"].high) == pytest.approx((0.003, 0.006))
    assert ranges["lid.layers.1.depth"].high == pytest.approx(0.02)
    assert parse_container(container_text(container)) == container


@pytest.mark.parametrize(
    ("path", "text", "message"),
    [
        ("body.gap.widht", "3..6 mm", "mine.toml: unsure.body.gap.widht: unknown path; did you mean 'body.gap.width'?"),
        ("body.gap.width", "3 mm", "unsure.body.gap.width = '3 mm': is no range; write low..high"),
        ("body.gap.width", "6..3 mm", "is reversed; write '3 mm..6 mm'"),
        ("body.gap.width", "5..6 mm", "must hold the design's own value"),
        ("body.gap.width", "3..6 mL", "not a length"),
        ("body.gap.width", "-1..6 mm", "must be above zero"),
        ("lid.skirt_length", "0..6 mm", "lie above zero"),
        ("body.lip.thickness", "1..2 mm", "has no value in this design"),
    ],
)
def test_refused(path: str, text: str, message: str) -> None:
    with pytest.raises(InputError) as refused:
        validated(Container, {**bottle_document(), "unsure": {path: text}}, "mine.toml")
    assert message in str(refused.value)


def test_nine_in_ten_lie_in_the_range() -> None:
    container = unsure(body__gap__width="2..8 mm")  # its centre, 4 mm, is the best guess
    width = log_width(unsure_ranges(container)["body.gap.width"])
    drawn = np.exp(width * np.random.default_rng(0).standard_normal(100_000))
    values = with_unsure(container, {"body.gap.width": drawn}).body.gap.width
    assert np.mean((values > 0.002) & (values < 0.008)) == pytest.approx(0.9, abs=0.004)
