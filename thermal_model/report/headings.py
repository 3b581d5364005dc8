"""Title and subtitle over a picture that answers a question."""

from typing import TYPE_CHECKING

from thermal_model.report.plots import INK, MUTED, MUTED_TEXT
from thermal_model.study.question import Question
from thermal_model.version import version

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def title_of(question: Question, what: str) -> str:
    """Return the container's name and what the picture shows.

    Parameters
    ----------
    question : Question
    what : str
        Begins in lower case.
    """
    return f"{question.container.called}: {what}"


def subtitle_of(given: str, *made_by: str) -> str:
    """Return what was given, and in a line of its own what made the picture."""
    return "\n".join(filter(None, (given, "; ".join((*made_by, f"holdtime {version()}")))))


def write_heading(axes: "Axes", title: str, subtitle: str, grid: str = "x") -> None:
    """Write a title over axes, and what was given in smaller letters under it; draw grid lines across an axis."""
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
    axes.grid(axis=grid, color=MUTED, alpha=0.25, linewidth=0.6)  # type: ignore[arg-type]
    axes.set_axisbelow(True)
