"""What a page's scripts read: rankings, curves, reasons and the reduced model, as plain numbers and texts."""

import math
from typing import Any

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.numeric import Array
from thermal_model.judge.compare import CLEAR, Standing
from thermal_model.judge.what_if.model import PERIODS, SHORT
from thermal_model.prediction import Prediction
from thermal_model.reasons.pair import PairExplanation
from thermal_model.reasons.parts import OF_CONTAINER
from thermal_model.report.compare_text import NEVER
from thermal_model.report.page.contents import PageContents, RunCurve
from thermal_model.report.page.drawing import drawings
from thermal_model.report.page.packing import Packer, side_document
from thermal_model.report.part_words import part_text
from thermal_model.report.results import path_label
from thermal_model.version import version
from thermal_model.words.documents import entries
from thermal_model.words.numbers import SENSIBLE_STEPS, Scale, duration_text, interval_texts, quantity_text

MOST_READINGS = 120
"""Of a run, in its picture and its table; of more, evenly spread ones."""


def page_document(contents: PageContents) -> dict[str, Any]:
    """Return all that the scripts of a page read; keys carry their units."""
    packer, asked = Packer(), contents.asked
    sides = {side.side.name: side_document(side, packer) for side in (contents.what_if.hot, contents.what_if.cold)}
    named = {entry.name: entry.container for entry in contents.known.entries}
    fills = {s.entry.name: s.fill for s in contents.rankings["hot"].standings}
    fitting = {name: container for name, container in named.items() if name in fills}
    return {
        "version": version(),
        "told_apart_from": CLEAR,
        "duration_steps_s": SENSIBLE_STEPS,
        "asked": {
            "start_K": float(asked.scenario.start),
            "room_K": float(asked.scenario.room),
            "limit_K": asked.limit,
            "fill_m3": asked.scenario.fill,
            **entries(asked, "cold_start_K", "cold_limit_K"),
        },
        "called": {name: container.called for name, container in named.items()},
        "rankings": {name: [_row(s) for s in ranking.standings] for name, ranking in contents.rankings.items()},
        "curves": {name: _curve(prediction) for name, prediction in contents.predictions.items()},
        "runs": [_run(curve) for curve in contents.runs],
        "drawings": drawings(fitting, fills),
        "parts": {
            name: {group.value: part_text(group, container, asked.scenario) for group in OF_CONTAINER}
            for name, container in fitting.items()
        },
        "paths": {
            s.entry.name: {path_label(path, s.entry.container): round(share, 4) for path, share in s.paths.items()}
            for s in contents.rankings["hot"].standings
        },
        "pairs": [_pair(*names, found) for names, found in contents.pairs.items()],
        "what_if": {
            "sides": sides,
            "periods_s": PERIODS,
            "short_s": SHORT,
            "draws": contents.what_if.draws,
            "packed": packer.text(),
        },
    }


def _row(standing: Standing) -> dict[str, Any]:
    low, high = standing.interval
    return {
        "name": standing.entry.name,
        "tier": standing.tier,
        "low_s": _finite(low),
        "middle_s": _finite(standing.centre),
        "high_s": _finite(high),
        "told": interval_texts(low, standing.centre, high, NEVER)[1],
        "beats_next": _finite(standing.beats_next),
        "fill_m3": standing.fill,
    }


def _finite(value: float) -> float | None:
    return round(float(value), 3) if math.isfinite(value) else None


def _celsius(values: Any) -> list[float]:
    return [round(float(value) - ZERO_CELSIUS, 2) for value in np.asarray(values)]


def _curve(prediction: Prediction) -> dict[str, list[float]]:
    curve = prediction.curve
    return _band(*(part[::4] for part in (curve.time, curve.nominal, curve.low, curve.high)))


def _band(time: Array, best: Array, low: Array, high: Array) -> dict[str, list[float]]:
    return {
        "h": [round(float(t) / 3600.0, 4) for t in time],
        "best": _celsius(best),
        "low": _celsius(low),
        "high": _celsius(high),
    }


def _run(curve: RunCurve) -> dict[str, Any]:
    run = curve.run
    readings = run.readings[:: max(1, math.ceil(len(run.readings) / MOST_READINGS))]
    return {
        "run": run.name,
        "container": run.container,
        "wrong": curve.is_wrong,
        "conditions": _conditions(curve),
        "readings": [[round(r.time / 3600.0, 4), *_celsius([r.temperature])] for r in readings],
        "passings": [[_hours(p.earliest), _hours(p.latest), *_celsius([p.mark])] for p in run.passings],
        **_band(curve.time, curve.best, curve.low, curve.high),
    }


def _hours(seconds: float) -> float | None:
    return round(seconds / 3600.0, 4) if math.isfinite(seconds) else None


def _conditions(curve: RunCurve) -> str:
    run, scenario = curve.run, curve.run.scenario
    fill = "full" if scenario.fill is None else quantity_text(scenario.fill, "mL", 4)
    start = Scale.CELSIUS.text(scenario.start, 3) if math.isfinite(run.start_spread) else "not measured"
    room = Scale.CELSIUS.text(scenario.room, 3) if math.isfinite(run.room_spread) else "not measured"
    return f"{fill}, start {start}, room {room}"


def _pair(first: str, second: str, found: PairExplanation) -> dict[str, Any]:
    return {
        "names": [first, second],
        "times_s": [round(found.first_time.nominal, 1), round(found.second_time.nominal, 1)],
        "times": [duration_text(found.first_time.nominal), duration_text(found.second_time.nominal)],
        "shares": [
            {"part": share.group.value, "s": round(share.seconds.nominal, 1)}
            for share in sorted(found.shares(), key=lambda share: -abs(share.seconds.nominal))
        ],
        "same": [group.value for group in found.identical],
    }
