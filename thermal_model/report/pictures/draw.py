"""From a picture as data to a figure and to a file."""

import io
import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geometries.files import write_bytes
from thermal_model.report.pictures.curves import draw_curves, draw_grid
from thermal_model.report.pictures.look import PLAIN, Appearance, Shape, check_format
from thermal_model.report.pictures.maps import draw_map
from thermal_model.report.pictures.page import Box, Page
from thermal_model.report.pictures.record import Picture
from thermal_model.report.pictures.rows import draw_rows
from thermal_model.version import version

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_BETWEEN = 0.35
"""Panels. [in]"""

_DRAW: dict[str, Callable[[Page, Box, Any], None]] = {
    "rows": draw_rows,
    "curves": draw_curves,
    "grid": draw_grid,
    "map": draw_map,
}
"""What draws a panel of a kind."""


def draw(picture: Picture, path: Path, look: Appearance = PLAIN) -> None:
    """Draw a picture into a file, whole or not at all; the same picture gives the same bytes.

    Parameters
    ----------
    picture : Picture
    path : Path
        Its ending, one of `look.FORMATS`, chooses the format.
    look : Appearance

    Raises
    ------
    InputError
        If the ending is not known or the file can't be written.
    """
    check_format(path)
    with look.style():
        save_figure(figure_of(picture, look), path, picture.subject)


def save_figure(figure: "Figure", path: Path, subject: str) -> None:
    """Write a figure to a file, whole or not at all.

    Raises
    ------
    InputError
        If the file can't be written.
    """
    write_bytes(path, picture_bytes(figure, path.suffix.lower(), subject))


def picture_bytes(figure: "Figure", ending: str, subject: str) -> bytes:
    """Return a figure in a format, without the time at which it was made."""
    stream = io.BytesIO()
    metadata: dict[str, str | None] = {"Title": f"{subject}, holdtime {version()}"}
    if ending != ".png":
        metadata |= {"Date": None} if ending == ".svg" else {"CreationDate": None}
    figure.savefig(stream, format=ending[1:], dpi=figure.dpi, metadata=metadata)
    return stream.getvalue()


def png_of(picture: Picture) -> bytes:
    """Return a picture as a PNG."""
    with PLAIN.style():
        return picture_bytes(figure_of(picture), ".png", picture.subject)


def figure_of(picture: Picture, look: Appearance = PLAIN) -> "Figure":
    """Return the figure that `draw` writes. To be called inside `look.style()`."""
    page = Page(look)
    room = page.heading(picture.title, picture.given, picture.made_by)
    for box, panel in zip(_boxes(room, picture, look), picture.panels, strict=True):
        _DRAW[panel.kind](page, box, panel)
    return page.figure


def _boxes(room: Box, picture: Picture, look: Appearance) -> list[Box]:
    """Return a box for each panel: side by side where there is room, else under each other."""
    count = len(picture.panels)
    shares = picture.shares if len(picture.shares) == count else (1.0,) * count
    shape = look.shape or Shape.WIDE
    if count <= 2:
        return room.columns(shares, 1.3 * _BETWEEN) if shape is Shape.WIDE else room.stacked(shares, _BETWEEN)
    across = {Shape.WIDE: 3, Shape.SQUARE: 2, Shape.TALL: 2 if count > 4 else 1}[shape]
    strips = room.stacked([1.0] * math.ceil(count / across), _BETWEEN)
    return [box for strip in strips for box in strip.columns([1.0] * across, 1.3 * _BETWEEN)][:count]
