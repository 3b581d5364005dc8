"""Picture of which features go with hold time in a set of containers."""

from pathlib import Path
from typing import TYPE_CHECKING

from thermal_model.reasons.features import FeatureStudy
from thermal_model.report.headings import subtitle_of, write_heading
from thermal_model.report.plots import CURVE, INK, LIMIT, blank_figure, check_format, house_style, save_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TITLE = "What goes with hold time"


def draw_features(study: FeatureStudy, path: Path, given: str) -> None:
    """Draw rank correlations with their intervals into a file; an InputError says why it can't be."""
    check_format(path)
    with house_style():
        save_figure(features_figure(study, given), path, TITLE)


def features_figure(study: FeatureStudy, given: str) -> "Figure":
    """Return the figure that `draw_features` writes: a bar a feature, the strongest on top."""
    shown = study.associations[::-1]
    figure = blank_figure(9.0, 2.3 + 0.36 * max(len(shown), 1))
    axes = figure.subplots()
    for row, association in enumerate(shown):
        colour = CURVE if association.correlation >= 0.0 else LIMIT
        axes.barh(row, association.correlation, height=0.6, color=colour, alpha=0.85)
        axes.plot([association.low, association.high], [row, row], color=INK, linewidth=1.4, solid_capstyle="butt")
    axes.axvline(0.0, color=INK, linewidth=1.0)
    axes.set_yticks(range(len(shown)), [_label(association.feature.name, study) for association in shown])
    axes.set_xlim(-1.05, 1.05)
    axes.set_xlabel("+1: always longer with more of it, −1: always shorter, 0: no link")
    beside = "* not to be told apart from another feature here; the lines hold nine in ten"
    write_heading(axes, TITLE, subtitle_of(f"{len(study.names)} containers; {given}", beside))
    return figure


def _label(name: str, study: FeatureStudy) -> str:
    shares_credit = any(name in (alias.one.name, alias.other.name) for alias in study.aliases)
    return f"{name} *" if shares_credit else name
