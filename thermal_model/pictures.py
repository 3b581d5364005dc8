"""A picture into a file, in the style of the house: whole or not at all, and the same each time."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from geometries.files import write_bytes
from thermal_model.plots import INK, MUTED, MUTED_TEXT, _style, check_format
from thermal_model.version import version

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def new_figure(width: float, height: float) -> "Figure":
    """Return an empty figure of a size in inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def write_heading(axes: "Axes", title: str, subtitle: str) -> None:
    """Write a title over axes, and what was given in smaller letters under it."""
    room = 12.0 + 13.0 * len(subtitle.splitlines())
    axes.set_title(title, loc="left", fontsize=12.0, fontweight="bold", pad=room, color=INK)
    axes.annotate(
        subtitle,
        (0.0, 1.0),
        (0.0, 8.0),
        xycoords="axes fraction",
        textcoords="offset points",
        va="bottom",
        fontsize=9.5,
        color=MUTED_TEXT,
    )
    axes.grid(axis="x", color=MUTED, alpha=0.25, linewidth=0.6)
    axes.set_axisbelow(True)


def save_picture(draw: Callable[[], "Figure"], path: Path, title: str) -> None:
    """Draw into a file.

    Parameters
    ----------
    draw : callable
        Returns the figure.
    path : Path
        Its ending chooses the format.
    title : str
        Goes into the file's description.

    Raises
    ------
    InputError
        If the ending is not known or the file can't be written.
    """
    check_format(path)
    picture, kind = io.BytesIO(), path.suffix.lower()[1:]
    metadata: dict[str, str | None] = {"Title": f"{title}, holdtime {version()}"}
    if kind != "png":
        metadata["Date" if kind == "svg" else "CreationDate"] = None
    with _style():
        draw().savefig(picture, format=kind, dpi=160, metadata=metadata)
    write_bytes(path, picture.getvalue())
