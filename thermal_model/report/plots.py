"""Pictures of a prediction. matplotlib is imported when a picture is made, not before."""

import io
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.errors import InputError, InputProblem
from geometries.files import write_bytes
from geometries.numeric import Array
from thermal_model.report.results import path_label
from thermal_model.report.summary import excess_over_room, given_line, warms
from thermal_model.version import version
from thermal_model.words.numbers import Scale, duration_text, interval_texts

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermal_model.prediction import HoldTime, Prediction

FORMATS = (".png", ".svg", ".pdf")

INK, MUTED, MUTED_TEXT, CURVE, LIMIT = "#22303c", "#8a959e", "#5d6973", "#3f7d5a", "#8c4a73"
HOT, COLD = "#c2491d", "#2470a8"
"""Of hot contents and of cold ones, in every picture; no other thing has a colour so warm or so cool."""

PATH_COLOURS = {
    "lid": "#d9822b",
    "steel_bridge": "#5b7083",
    "gap_side": "#2f8f8b",
    "base": "#a7b8a0",
    "vent": "#b5481f",
}
LEAST_SHARE_NAMED = 0.03
"""A slice of the bar narrower than this share carries no text."""

LETTERS_ACROSS, SUBTITLE_WIDTH = 95, 105
"""Letters that fit across the picture, under the bar and over the curve."""

_STYLE = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 10.0,
    "text.color": INK,
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "svg.hashsalt": "holdtime",
}


def check_format(path: Path) -> None:
    """Refuse a file whose ending names no picture format.

    Raises
    ------
    InputError
    """
    if path.suffix.lower() not in FORMATS:
        message = f"can't draw a '{path.suffix or 'nameless'}' file; end the name in {', '.join(FORMATS)}"
        raise InputError(InputProblem(message, source=str(path)))


def draw_prediction(prediction: "Prediction", path: Path, scale: Scale = Scale.CELSIUS) -> None:
    """Draw cooling curve, interval, limits and heat paths into a file, whole or not at all.

    Parameters
    ----------
    prediction : Prediction
    path : Path
        Its ending, one of FORMATS, chooses the format.
    scale : Scale
        Of the temperatures.

    Raises
    ------
    InputError
        If the ending is not known or the file can't be written.
    """
    check_format(path)
    with house_style():
        save_figure(prediction_figure(prediction, scale), path, prediction.container.name)


def save_figure(figure: "Figure", path: Path, subject: str) -> None:
    """Write a figure to a file, whole or not at all; the same figure gives the same bytes.

    Raises
    ------
    InputError
        If the file can't be written.
    """
    picture, ending = io.BytesIO(), path.suffix.lower()
    metadata: dict[str, str | None] = {"Title": f"{subject}, holdtime {version()}"}
    if ending != ".png":
        metadata |= {"Date": None} if ending == ".svg" else {"CreationDate": None}
    figure.savefig(picture, format=ending[1:], dpi=160, metadata=metadata)
    write_bytes(path, picture.getvalue())


def with_point(x: Array, y: Array, at: float, value: float) -> tuple[Array, Array]:
    """Return a curve led through one more point, so that a dot there lies on it.

    Parameters
    ----------
    x, y : (n,) array
        x rising.
    at, value : float
        Not beyond the ends of x, or the curve stays as it is.

    Examples
    --------
    >>> with_point(np.array([0.0, 2.0]), np.array([1.0, 3.0]), 1.0, 5.0)[1].tolist()
    [1.0, 5.0, 3.0]
    """
    if not len(x) or not x[0] <= at <= x[-1] or not np.isfinite(value):
        return x, y
    place = int(np.searchsorted(x, at))
    if x[place] == at:
        return x, y
    return np.insert(x, place, at), np.insert(y, place, value)


def house_style() -> Any:
    """Return a context in which pictures are drawn alike."""
    from matplotlib import rc_context

    return rc_context(_STYLE)  # type: ignore[arg-type]


def blank_figure(width: float, height: float) -> "Figure":
    """Return an empty figure of a size [in]."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def prediction_figure(prediction: "Prediction", scale: Scale = Scale.CELSIUS) -> "Figure":
    """Return the figure that `draw_prediction` writes."""
    figure = blank_figure(8.0, 6.4)
    curve_axes, path_axes = figure.subplots(2, 1, height_ratios=(5.0, 1.3))
    _draw_curve(curve_axes, prediction, scale)
    _draw_paths(path_axes, prediction, scale)
    return figure


def _title(prediction: "Prediction") -> str:
    return prediction.container.called


# --- the curve ------------------------------------------------------------------------------------------------


def _draw_curve(axes: "Axes", prediction: "Prediction", scale: Scale) -> None:
    curve, colour = prediction.curve, COLD if warms(prediction) else HOT
    per_unit, time_unit = (60.0, "min") if curve.time[-1] < 3.0 * 3600.0 else (3600.0, "h")
    time = curve.time / per_unit
    if prediction.draws:
        low, high = _shown(curve.low, scale), _shown(curve.high, scale)
        axes.fill_between(time, low, high, color=colour, alpha=0.18, linewidth=0.0, label="nine in ten")
    axes.plot(time, _shown(curve.nominal, scale), color=colour, linewidth=2.0, label="contents, best guess")
    axes.plot(time, _shown(_room(prediction), scale), color=MUTED, linewidth=1.2, linestyle=(0, (1, 2)), label="room")
    axes.set_xlim(0.0, time[-1])
    axes.margins(y=0.08)
    for hold_time in prediction.hold_times:
        _draw_limit(axes, prediction, hold_time, per_unit, scale)
    _write_heading(axes, prediction, scale)
    axes.set_xlabel(f"time since filling [{time_unit}]")
    axes.set_ylabel(f"temperature [{scale.sign}]")
    axes.grid(axis="y", color=MUTED, alpha=0.25, linewidth=0.6)
    axes.legend(frameon=False, loc="best", fontsize=9.0)


def _write_heading(axes: "Axes", prediction: "Prediction", scale: Scale) -> None:
    subtitle = _subtitle(prediction, scale)
    room = 12.0 + 13.0 * len(subtitle.splitlines())
    axes.set_title(_title(prediction), loc="left", fontsize=12.0, fontweight="bold", pad=room)
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


def _subtitle(prediction: "Prediction", scale: Scale) -> str:
    """Return what was given, and what made the picture."""
    given = given_line(prediction, frozenset(), scale).partition(": ")[2]
    sample = f"{prediction.draws} samples, seed {prediction.seed}; " if prediction.draws else ""
    return f"{fill(given, SUBTITLE_WIDTH)}\n{sample}holdtime {version()}"


def _shown(kelvin: Array, scale: Scale) -> Array:
    return np.array([scale.number(float(value)) for value in kelvin])


def _room(prediction: "Prediction") -> Array:
    """Return the room temperature along the curve. [K]"""
    profile = prediction.scenario.room_profile
    if profile is None:
        return np.full(len(prediction.curve.time), float(prediction.scenario.room))
    return np.interp(prediction.curve.time, *profile.corners()) + float(profile.shift)


def _draw_limit(axes: "Axes", prediction: "Prediction", hold_time: "HoldTime", per_unit: float, scale: Scale) -> None:
    """Draw a dashed line, the interval of the crossing as a thick stretch of it, and a dot where the curve crosses."""
    level, text = scale.number(hold_time.limit), scale.text(hold_time.limit)
    end, crossed = float(prediction.curve.time[-1]), hold_time.nominal
    axes.axhline(level, color=LIMIT, linewidth=1.0, linestyle=(0, (6, 3)), alpha=0.7)
    if hold_time.low is not None:
        reach = np.minimum([hold_time.low, hold_time.high or end], end) / per_unit
        axes.plot(reach, [level, level], color=LIMIT, linewidth=5.0, alpha=0.35, solid_capstyle="butt")
    if crossed is None or crossed > end:
        _label(axes, f"{text}: not reached", (0.0, level), (6.0, 5.0), "left")
        return
    axes.plot([crossed / per_unit], [level], marker="o", markersize=6.0, color=LIMIT)
    is_late, is_warming = crossed > 0.55 * end, hold_time.limit > prediction.scenario.start
    # On the side of the dot where the curve is not.
    is_above = is_late == is_warming
    offset = (-8.0 if is_late else 8.0, 8.0 if is_above else -17.0)
    moment = (crossed / per_unit, level)
    _label(axes, f"{text}: {_crossing_text(hold_time)}", moment, offset, "right" if is_late else "left")


def _crossing_text(hold_time: "HoldTime") -> str:
    """Return what the text says of a hold time: the middle of the interval, or the best guess alone."""
    if hold_time.median is None or hold_time.low is None or hold_time.high is None:
        return duration_text(hold_time.nominal or 0.0)
    low, middle, high = interval_texts(hold_time.low, hold_time.median, hold_time.high)
    return f"{middle} ({low} to {high})"


def _label(axes: "Axes", text: str, at: tuple[float, float], offset: tuple[float, float], side: str) -> None:
    from matplotlib.patheffects import withStroke

    halo = [withStroke(linewidth=3.0, foreground="white")]
    axes.annotate(
        text,
        at,
        offset,
        textcoords="offset points",
        ha=side,
        color=LIMIT,
        fontweight="bold",
        path_effects=halo,
    )


# --- the heat paths -------------------------------------------------------------------------------------------


def _draw_paths(axes: "Axes", prediction: "Prediction", scale: Scale) -> None:
    """One bar, a slice a path, the largest first; paths that carry heat the other way are left out."""
    total, left = prediction.heat_loss_coefficient, 0.0
    shares = {path: value / total for path, value in prediction.heat_paths.items() if value / total > 0.0}
    for path, share in sorted(shares.items(), key=lambda item: -item[1]):
        axes.barh(0.0, share, left=left, height=0.7, color=PATH_COLOURS[path], edgecolor="white", linewidth=1.5)
        if share >= LEAST_SHARE_NAMED:
            name = fill(path_label(path, prediction.container), max(5, int(LETTERS_ACROSS * share)))
            axes.text(left + 0.5 * share, -0.45, f"{100.0 * share:.0f} %\n{name}", ha="center", va="top", fontsize=9.0)
        left += share
    axes.set_xlim(0.0, max(left, 1e-9))
    axes.set_ylim(-2.0, 0.4)
    axes.set_axis_off()
    at = scale.text(prediction.reference_temperature)
    if total > 0.0:
        title = f"Heat paths: {total:.3g} W/K in all at {at}"
    else:
        flow = total * excess_over_room(prediction)
        title = f"Heat paths: {abs(flow):.2g} W {'out' if flow > 0.0 else 'in'} at {at}, against the room"
    axes.set_title(title, loc="left", fontsize=10.0)
