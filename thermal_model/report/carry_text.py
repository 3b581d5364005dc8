"""Hold times of a container in other conditions, in words and as a JSON object."""

from collections.abc import Sequence
from typing import Any

from thermal_model.judge.carry import Carried
from thermal_model.prediction import Prediction
from thermal_model.report.results import note_lines, prediction_document, warning_lines
from thermal_model.report.safety import Caution, caution_line, cautions
from thermal_model.report.summary import given_conditions, given_line, held_text, hold_time_lines, limit_text
from thermal_model.version import version
from thermal_model.words.numbers import Scale, aligned
from thermal_model.words.paragraphs import in_blocks, listed, wrapped


def carry_text(bench: Prediction, found: Sequence[Carried], assumed: frozenset[str], scale: Scale) -> str:
    """Return the bench's condition and all others, limit by limit, with sources and cautions.

    Parameters
    ----------
    bench : Prediction
        In the condition that was given.
    found : sequence of Carried
    assumed : frozenset of str
        Inputs of the bench that were not given.
    scale : Scale
        Of the temperatures shown.
    """
    predictions = [bench, *(entry.prediction for entry in found if entry.prediction is not None)]
    blocks = [
        f"On the bench\n{given_line(bench, assumed, scale)}\n{_best_guess(hold_time_lines(bench, assumed, scale))}",
        *(_block(entry, scale) for entry in found),
        _sources(found, scale),
        _cautions(predictions),
    ]
    return in_blocks(blocks)


def _block(entry: Carried, scale: Scale) -> str:
    heading = f"{entry.name}: {entry.wanted.summary}" if entry.wanted.summary else entry.name
    if entry.prediction is None:
        return f"{heading}\n  can't be: {entry.problem}"
    given = given_conditions(entry.prediction, scale)
    rows = [
        (
            limit_text(hold_time.limit, entry.prediction.scenario, scale),
            _best_guess(held_text(hold_time, entry.prediction, scale)),
            f"[{limit.purpose}]",
        )
        for hold_time, limit in zip(entry.prediction.hold_times, entry.wanted.limits, strict=True)
    ]
    notes = [*_mixing_note(entry, scale), *note_lines(entry.prediction)]
    return "\n".join([heading, wrapped(given, "  "), aligned(rows), *(wrapped(note, "  ") for note in notes)])


def _mixing_note(entry: Carried, scale: Scale) -> list[str]:
    """Say that water and ice are shown as they are once they have come to one temperature."""
    if entry.wanted.ice_share is None:
        return []
    return [f"Poured over ice at {scale.text(entry.wanted.scenario.start)}; shown is what that comes to, well mixed."]


def _best_guess(text: str) -> str:
    return text.replace("(no interval asked for)", "(best guess)")


def _sources(found: Sequence[Carried], scale: Scale) -> str:
    """Return who says which limit, each once."""
    limits = sorted((limit for entry in found for limit in entry.wanted.limits), key=lambda limit: -limit.temperature)
    said = {f"{scale.text(limit.temperature)}, {limit.purpose}: {limit.source}": None for limit in limits}
    return "\n".join(["Where the limits come from", *listed(said)])


def _cautions(predictions: Sequence[Prediction]) -> str:
    """Return the cautions of all runs in a line: of each kind the hottest run's, both of food kept hot and cold."""
    hottest_first = sorted(predictions, key=lambda p: -float(p.scenario.start))
    kept: dict[str, Caution] = {}
    for prediction in hottest_first:
        for caution in cautions(prediction):
            kept.setdefault(caution.text if caution.topic == "holding" else caution.topic, caution)
    return caution_line(list(kept.values()))


def carry_document(bench: Prediction, found: Sequence[Carried], assumed: Sequence[str]) -> dict[str, Any]:
    """Return all predictions as one JSON object whose keys carry their units."""
    predictions = [bench, *(entry.prediction for entry in found if entry.prediction is not None)]
    return {
        "bench": prediction_document(bench, assumed),
        "scenarios": [_entry_document(entry) for entry in found],
        "warnings": list(dict.fromkeys(line for p in predictions for line in warning_lines(p))),
        "version": version(),
    }


def _entry_document(entry: Carried) -> dict[str, Any]:
    return {
        "name": entry.name,
        "summary": entry.wanted.summary,
        "limits": [
            {"until_K": limit.temperature, "purpose": limit.purpose, "source": limit.source}
            for limit in entry.wanted.limits
        ],
        "problem": entry.problem or None,
        "prediction": None if entry.prediction is None else prediction_document(entry.prediction),
    }
