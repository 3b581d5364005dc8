"""The picture of a prediction: cooling curve, interval, limits, heat paths."""

from typing import TYPE_CHECKING, cast

import numpy as np

from geometries.numeric import Array
from thermal_model.report.headings import made_by
from thermal_model.report.pictures.numbers import known, number, shown, time_unit
from thermal_model.report.pictures.record import Curves, LimitLine, Line, Mark, Picture, RowsPanel, Tone, Track, row_of
from thermal_model.report.results import path_label
from thermal_model.report.summary import excess_over_room, given_conditions, warms
from thermal_model.words.numbers import Scale, duration_text, interval_texts, percent

if TYPE_CHECKING:
    from thermal_model.prediction import HoldTime, Prediction


def prediction_picture(prediction: "Prediction", scale: Scale = Scale.CELSIUS) -> Picture:
    """Return the picture of a prediction.

    Parameters
    ----------
    prediction : Prediction
    scale : Scale
        Of the temperatures.
    """
    sample = f"{prediction.draws} samples, seed {prediction.seed}" if prediction.draws else "best guess"
    return Picture(
        subject=prediction.container.name,
        title=prediction.container.called,
        given=given_conditions(prediction, scale),
        made_by=made_by(sample),
        panels=(_curve(prediction, scale), _paths(prediction, scale)),
        shares=(1.7, 1.0),
    )


# --- the curve ------------------------------------------------------------------------------------------------


def _curve(prediction: "Prediction", scale: Scale) -> Curves:
    curve = prediction.curve
    per_unit, unit = time_unit(curve.time)
    time, has_band = known(curve.time / per_unit), prediction.draws > 0
    contents = Line(
        x=time,
        y=shown(curve.nominal, scale),
        low=shown(curve.low, scale) if has_band else (),
        high=shown(curve.high, scale) if has_band else (),
        tone="cold" if warms(prediction) else "hot",
        text=prediction.scenario.contents.replace("_", " ") + ("; nine in ten in the band" if has_band else ""),
    )
    room = Line(x=time, y=shown(_room(prediction), scale), tone="muted", text="room", is_dashed=True)
    return Curves(
        x_label=f"time since filling [{unit}]",
        y_label=f"temperature [{scale.sign}]",
        lines=(room, contents),
        levels=tuple(_level(prediction, hold_time, per_unit, scale) for hold_time in prediction.hold_times),
        starts_at_zero=True,
    )


def _room(prediction: "Prediction") -> Array:
    """Return the room temperature along the curve. [K]"""
    profile = prediction.scenario.room_profile
    if profile is None:
        return np.full(len(prediction.curve.time), float(prediction.scenario.room))
    return np.interp(prediction.curve.time, *profile.corners()) + float(profile.shift)


def _level(prediction: "Prediction", hold_time: "HoldTime", per_unit: float, scale: Scale) -> LimitLine:
    """Return a limit with the interval of its crossing, and the crossing if the curve goes so far."""
    level, text, end = scale.number(hold_time.limit), scale.text(hold_time.limit), float(prediction.curve.time[-1])
    crossed, low, high = hold_time.nominal, hold_time.low, hold_time.high
    is_seen = crossed is not None and crossed <= end
    says = _crossing_text(hold_time) if is_seen else "not reached"
    reach = None if low is None or low > end else number(low / per_unit)
    return LimitLine(
        y=known([level])[0],
        text=f"{text}: {says}",
        at=number(crossed / per_unit) if is_seen and crossed is not None else None,
        low=reach,
        high=None if reach is None or high is None or high > end else number(high / per_unit),
    )


def _crossing_text(hold_time: "HoldTime") -> str:
    """Return what is said of a hold time: the middle of the interval, or the best guess alone."""
    if hold_time.median is None or hold_time.low is None or hold_time.high is None:
        return duration_text(hold_time.nominal or 0.0)
    low, middle, high = interval_texts(hold_time.low, hold_time.median, hold_time.high)
    return f"{middle}\n({low} to {high})"


# --- the heat paths -------------------------------------------------------------------------------------------


def _paths(prediction: "Prediction", scale: Scale) -> RowsPanel:
    """Return a bar a path, the largest first; paths that carry heat the other way are left out."""
    total = prediction.heat_loss_coefficient
    shares = {path: value / total for path, value in prediction.heat_paths.items() if value / total > 0.0}
    rows = [
        row_of(
            path_label(path, prediction.container),
            Mark(at=number(100.0 * share), base=0.0, tone=path_tone(path), text=percent(share)),
        )
        for path, share in sorted(shares.items(), key=lambda item: -item[1])
    ]
    return RowsPanel(
        title=_heat_title(prediction, scale), tracks=(Track(label="share of the heat [%]"),), rows=tuple(rows)
    )


def path_tone(path: str) -> Tone:
    """Return the tone of a heat path, which has its name."""
    return cast("Tone", path)


def _heat_title(prediction: "Prediction", scale: Scale) -> str:
    total, at = prediction.heat_loss_coefficient, scale.text(prediction.reference_temperature)
    if total > 0.0:
        return f"Heat paths: {total:.3g} W/K in all at {at}"
    flow = total * excess_over_room(prediction)
    return f"Heat paths: {abs(flow):.2g} W {'out' if flow > 0.0 else 'in'} at {at}, against the room"
