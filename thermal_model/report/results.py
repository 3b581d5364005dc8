"""What a prediction writes: a JSON object, a CSV of the curve; files whole or not at all."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container
from geometries.files import write_text
from thermal_model.assemble.contents import filled_volume
from thermal_model.assemble.timeline import pour_events
from thermal_model.report.safety import cautions, headspace_pressure
from thermal_model.version import version
from thermal_model.words.cells import csv_text, json_comment
from thermal_model.words.documents import entries, plain
from thermal_model.words.numbers import MINUTE, duration_text, left_out_words

if TYPE_CHECKING:
    from thermal_model.prediction import Prediction

_PATH_LABELS = {
    "lid": "lid",
    "gap_side": "side, across the gap",
    "base": "base",
    "vent": "holes and gaps in the lid",
}


def path_label(path: str, container: Container) -> str:
    """Return the name of a heat path, one of `network.PATHS`, as it is for a container."""
    body = container.body
    if path == "lid" and container.lid is None:
        return "open mouth"
    if path == "gap_side" and body.gap is None:
        return "side wall"
    if path == "steel_bridge":
        metal = body.wall.material.replace("_", " ")
        metal = "steel" if metal.startswith("stainless") else metal
        return f"{metal} of neck and lip" if body.neck is not None else f"{metal} of the lip"
    return _PATH_LABELS[path]


def prediction_document(prediction: "Prediction", assumed: Sequence[str] = ()) -> dict[str, Any]:
    """Return a prediction as a JSON object whose keys carry their units.

    Parameters
    ----------
    prediction : Prediction
    assumed : sequence of str
        Inputs that were not given, for which a default was taken.

    Returns
    -------
    dict
        Plain numbers, text, lists and dictionaries; None where there is no value.
    """
    curve, effect = prediction.curve, prediction.millilitre
    return {
        "hold_times": [
            {"until_K": held.limit, **entries(held, "median_s", "low_s", "high_s", "nominal_s", "share_reached")}
            for held in prediction.hold_times
        ],
        **entries(prediction, "heat_loss_coefficient_W_per_K", "heat_paths_W_per_K", "reference_temperature_K"),
        "curve": {
            "time_s": _rounded(curve.time),
            "temperature_K": _rounded(curve.nominal),
            "low_K": _rounded(curve.low),
            "high_K": _rounded(curve.high),
        },
        **entries(prediction, "final_temperature_K", "final_time_s", "evaporated_kg"),
        "headspace_pressure_Pa": plain(headspace_pressure(prediction)),
        "energy_balance_error": prediction.energy_balance_error,
        "a_millilitre": {"until_K": effect.limit, "less_moves_s": effect.less, "more_moves_s": effect.more},
        "contributions": plain(prediction.contributions),
        "warnings": warning_lines(prediction),
        "correlations_outside_range": list(prediction.outside_validity),
        "inputs": {
            "design": prediction.container.model_dump(mode="json"),
            **entries(prediction, "scenario", "seed", "draws"),
            "assumed": list(assumed),
        },
        "version": version(),
    }


def _rounded(values: Any) -> list[float]:
    """Return numbers to a thousandth: finer digits only lengthen the file."""
    return [round(float(value), 3) for value in np.asarray(values)]


def warning_lines(prediction: "Prediction") -> list[str]:
    """Return all that a reader has to know besides the numbers: cautions, notes, and what leaves its range."""
    beyond = [f"Outside the range of its source: {what}." for what in prediction.outside_validity]
    return [*(caution.text for caution in cautions(prediction)), *note_lines(prediction), *beyond]


def note_lines(prediction: "Prediction") -> list[str]:
    """Return what to know of the computation itself."""
    left_out = left_out_words(prediction.failed_draws, prediction.draws)
    return list(filter(None, [_emptied(prediction), _millilitre_note(prediction), left_out]))


TELLING = 0.01
"""Part of a hold time that a millilitre has to move, beside its own heat, to be told [-]."""


def _millilitre_note(prediction: "Prediction") -> str:
    """Say by how much a millilitre moves the hold time of a full container, where that is much."""
    effect = prediction.millilitre
    if effect.limit is None or effect.beyond_contents < TELLING:
        return ""
    volume = float(filled_volume(prediction.container, prediction.scenario)) * 1e6
    changes = [(word, change) for word, change in (("less", effect.less), ("more", effect.more)) if change is not None]
    texts = [
        f"1 mL {word}{'' if k else f' than {volume:.0f} mL holds'} {_whole_minutes(abs(change))} "
        f"{'longer' if change > 0.0 else 'shorter'}"
        for k, (word, change) in enumerate(changes)
    ]
    return f"So full, every millilitre counts: {', '.join(texts)}."


def _whole_minutes(seconds: float) -> str:
    return duration_text(seconds if seconds < 3.0 * MINUTE else MINUTE * round(seconds / MINUTE), 10.0)


def _emptied(prediction: "Prediction") -> str:
    """Say so if repeated pours end before the curve does, since nothing would be left."""
    openings = prediction.scenario.openings
    events = pour_events(prediction.container, prediction.scenario)
    if not events or not any(opening.every is not None and opening.pour > 0.0 for opening in openings):
        return ""
    last = events[-1]
    if last.at + min(float(o.every) for o in openings if o.every is not None) > prediction.curve.time[-1]:
        return ""
    return (
        f"The last opening is after {duration_text(last.at)}, {last.poured * 1e6:.0f} mL poured: "
        "then too little is left for another."
    )


def json_text(document: Mapping[str, Any]) -> str:
    """Return a document as JSON, one object, with a line feed at its end."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def curve_csv(prediction: "Prediction") -> str:
    """Return the curve as a CSV with units in its headings; comment lines say what made it."""
    curve = prediction.curve
    comments = [
        f"holdtime {version()}; samples {prediction.draws}, seed {prediction.seed}",
        f"design {json_comment(prediction.container.model_dump(mode='json'))}",
        f"scenario {json_comment(prediction.scenario.model_dump(mode='json'))}",
    ]
    rows = [["time [min]", "temperature [C]", "low [C]", "high [C]"]]
    for time, *temperatures in zip(curve.time, curve.nominal, curve.low, curve.high, strict=True):
        rows.append([f"{time / 60.0:.3f}", *(f"{kelvin - ZERO_CELSIUS:.3f}" for kelvin in temperatures)])
    return csv_text(rows, comments=comments)


def write_json(path: Path, document: Mapping[str, Any]) -> None:
    """Write a document to a file, whole or not at all; an InputError says why it can't be."""
    write_text(path, json_text(document))
