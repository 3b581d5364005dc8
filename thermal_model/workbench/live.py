"""What the page shows while somebody types: drawing, curve and hold time; the best guess first, the band after it."""

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.container import Container
from geometries.errors import told_of
from geometries.quantities import Dimension, parse_quantity
from geometries.validation import validated
from thermal_model.follow import DEFAULT_HORIZON, follow
from thermal_model.prediction import CURVE_POINTS, Curve, Prediction, check_fill, check_limits, predict
from thermal_model.reasons.pair import Contender, explain_pair
from thermal_model.report.drawing import Drawn, drawn_volume
from thermal_model.report.explain_pair_text import signed_text
from thermal_model.report.results import path_label
from thermal_model.report.safety import brief_cautions, cautions
from thermal_model.report.section_svg import section_svg
from thermal_model.report.summary import held_text, least_certain_line, limit_text
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import draw_sample
from thermal_model.words.numbers import Scale, duration_text, percent, scale_of
from thermal_model.work_done import ShareDone

CONDITIONS = ("start", "room", "until", "fill", "ice")
"""What is asked about a run; what is left empty is as the command takes it."""

DEFAULT_UNTIL = {True: 333.15, False: 283.15}
"""Limit of hot and of cold contents, where none is given [K]."""


class SupersededError(Exception):
    """A newer change has come in; this one is not wanted any more."""


class Latest:
    """Which request of each window is its newest: older ones give way."""

    def __init__(self) -> None:
        self._newest: dict[str, int] = {}
        self._lock = threading.Lock()

    def note(self, window: str, number: int) -> ShareDone:
        """Note a request, and return what ends it once a newer one has come."""
        with self._lock:
            if len(self._newest) > 200:
                self._newest.clear()
            self._newest[window] = max(number, self._newest.get(window, 0))

        def check(_: float) -> None:
            if self._newest.get(window, number) > number:
                raise SupersededError

        return check


@dataclass(frozen=True)
class Wish:
    """A container under conditions.

    Attributes
    ----------
    container : Container
    scenario : Scenario
    limit : float
        [K]
    scale : Scale
        Of the temperatures that were typed.
    """

    container: Container
    scenario: Scenario
    limit: float
    scale: Scale

    @property
    def is_hot(self) -> bool:
        """Whether the contents are warmer than the room."""
        return float(self.scenario.start) > float(self.scenario.room)


def read_conditions(given: Mapping[str, str]) -> tuple[Scenario, float, Scale]:
    """Return a scenario, a limit and the scale they were typed in.

    Raises
    ------
    InputError
        By field.
    """
    texts = {name: given.get(name, "").strip() for name in CONDITIONS}
    fields = {name: text for name, text in texts.items() if text and name != "until"}
    scenario = validated(Scenario, fields, "")
    usual = DEFAULT_UNTIL[float(scenario.start) > float(scenario.room)]
    limit = read_temperature(texts["until"], "until") if texts["until"] else usual
    check_limits(scenario, [limit])
    return scenario, limit, scale_of(texts["until"], texts["start"], texts["room"])


def read_temperature(text: str, field: str) -> float:
    """Return a temperature that was typed; an InputError names its field. [K]"""
    with told_of(field):
        return parse_quantity(text, Dimension.TEMPERATURE)


def best_guess(wish: Wish, unit: str = "mm") -> dict[str, Any]:
    """Return drawing, curve and hold time with every unknown at its best guess.

    Raises
    ------
    InputError
        If the contents do not fit, or the run can't be computed.
    """
    check_fill(wish.container, wish.scenario)
    sample = draw_sample(wish.container, wish.scenario, 0, 1)
    found = follow(sample, [wish.limit], horizon=DEFAULT_HORIZON, record=True)
    if not found.is_good[0]:
        raise found.failure(0)
    end = float(found.end_time[0])
    time = end * np.linspace(0.0, 1.0, CURVE_POINTS // 2) ** 1.5
    kelvin = found.temperature(0, time)
    held = float(found.hold_times[0, 0])
    text = duration_text(held) if np.isfinite(held) else f"longer than {duration_text(end)}"
    drawn = Drawn(wish.container, drawn_volume(wish.container, wish.scenario), wish.is_hot)
    return {
        "drawing": section_svg(drawn, unit=unit),
        "curve": _curve(Curve(time, kelvin, kelvin, kelvin), wish),
        "held": f"{_holds(wish)} for about {text}",
    }


def with_band(wish: Wish, draws: int, progress: ShareDone) -> dict[str, Any]:
    """Return what `best_guess` does, but for the drawing, with the interval and where the heat goes."""
    found = predict(wish.container, wish.scenario, [wish.limit], draws=draws, progress=progress)
    applying = cautions(found)
    return {
        "curve": _curve(found.curve, wish),
        "held": f"{_holds(wish)} {held_text(found.hold_times[0], found, wish.scale)}",
        "paths": _paths(found),
        "least": least_certain_line(found),
        "cautions": brief_cautions(applying),
        "all_cautions": [caution.text for caution in applying],
    }


def why(mine: Wish, theirs: Wish) -> list[str]:
    """Return what each part adds to the hold time of one container over another's, the most first.

    Raises
    ------
    InputError
        If one of them does not reach the limit.
    """
    first, second = (Contender(each.container, each.scenario) for each in (mine, theirs))
    found = explain_pair(first, second, mine.limit, draws=0, seed=1)
    shares = sorted(found.shares(), key=lambda share: -abs(share.seconds.nominal))
    whole = found.first_time.nominal - found.second_time.nominal
    lines = [f"{share.group.value.replace('_', ' ')}: {signed_text(share.seconds.nominal)}" for share in shares]
    return [*lines, f"together: {signed_text(whole)}"] if lines else ["They are alike in every part."]


def _holds(wish: Wish) -> str:
    return f"stays {limit_text(wish.limit, wish.scenario, wish.scale)}"


def _paths(found: Prediction) -> list[dict[str, str]]:
    total = found.heat_loss_coefficient
    if total <= 0.0:
        return []
    ordered = sorted(found.heat_paths.items(), key=lambda item: -abs(item[1]))
    return [
        {"name": path_label(path, found.container), "share": percent(value / total)}
        for path, value in ordered
        if abs(value) >= 0.005 * total
    ]


def _curve(curve: Curve, wish: Wish) -> dict[str, Any]:
    room = round(wish.scale.number(wish.scenario.room), 2)
    return chart_document(curve, wish.limit, wish.scale, is_hot=wish.is_hot) | {"room": room}


def chart_document(curve: Curve, limit: float, scale: Scale, *, is_hot: bool) -> dict[str, Any]:
    """Return a curve as the chart takes it: hours, and temperatures on the scale that was typed; a limit. [K]"""

    def shown(kelvin: Any) -> list[float]:
        return [round(scale.number(value), 2) for value in np.asarray(kelvin).tolist()]

    return {
        "hours": [round(value / 3600.0, 4) for value in curve.time.tolist()],
        "middle": shown(curve.nominal),
        "low": shown(curve.low),
        "high": shown(curve.high),
        "limit": round(scale.number(limit), 2),
        "unit": scale.sign,
        "hot": is_hot,
    }
