"""A front of two wishes as a picture."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from thermal_model.report.headings import write_heading
from thermal_model.report.plots import CURVE, blank_figure, check_format, house_style, save_figure
from thermal_model.study.measures import Measure
from thermal_model.study.optimum.optimise import Optimum

if TYPE_CHECKING:
    from matplotlib.figure import Figure

HOUR = 3600.0


def draw_optimum(found: Optimum, path: Path, subtitle: str) -> None:
    """Draw the front of the first two wishes.

    Raises
    ------
    InputError
        If the file can't be written.
    """
    check_format(path)
    with house_style():
        save_figure(optimum_figure(found, subtitle), path, f"{found.space.questions[0].container.name}, best designs")


def optimum_figure(found: Optimum, subtitle: str) -> "Figure":
    """Return the figure that `draw_optimum` writes."""
    figure = blank_figure(8.0, 5.0)
    axes = figure.subplots()
    first, second = found.space.objectives[:2]
    values = np.array([chosen.values.objectives[0] for chosen in found.designs])
    x, y = (_shown(measure, values[:, k]) for k, measure in ((1, second), (0, first)))
    order = np.argsort(x)
    axes.plot(x[order], y[order], color=CURVE, marker="o", markersize=5.0, linewidth=1.0)
    axes.set_xlabel(_label(second))
    axes.set_ylabel(_label(first))
    name = found.space.questions[0].container.called
    write_heading(axes, f"{name}: {first.label} against {second.label}, best designs", subtitle, grid="both")
    return figure


def _shown(measure: Measure, values: np.ndarray) -> np.ndarray:
    signed = values if measure.less_is_better else -values
    if _is_time(measure):
        return np.asarray(signed / HOUR)
    return np.array([measure.shown(float(value)) for value in signed])


def _label(measure: Measure) -> str:
    unit = "h" if _is_time(measure) else measure.unit
    return f"{measure.label} [{unit}]" if unit else measure.label


def _is_time(measure: Measure) -> bool:
    return measure.name.startswith("hold")
