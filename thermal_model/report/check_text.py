"""What `holdtime check` answers, in plain words and as JSON objects."""

import math
from collections.abc import Sequence
from typing import Any

from thermal_model.judge.claims import FAIL_TO, PASS_FROM, ClaimResult, Verdict
from thermal_model.judge.food_holding import Held, HoldingLimit
from thermal_model.judge.measured_claim import Departure, MeasuredClaim
from thermal_model.judge.standards import CONDITIONS, StandardResult
from thermal_model.report.safety import COLD_HOLDING_US, HOT_HOLDING_ENGLAND, HOT_HOLDING_US
from thermal_model.words.documents import entries, plain
from thermal_model.words.numbers import Scale, duration_text, interval_texts, left_out_words, percent
from thermal_model.words.paragraphs import in_blocks, wrapped

NEVER = "longer than followed"

RULE = (
    f"Rule: pass from a probability of {percent(PASS_FROM)}, fail up to {percent(FAIL_TO)}, undecided between; "
    "a convention of ours."
)

LOCAL_CODES = (
    "For information only: local codes and licensed practice decide, and no prediction is a food-safety record."
)


def _chance(probability: float, low: float | None, high: float | None) -> str:
    """Return a probability, with the sample's own uncertainty where that shows."""
    if low is None or high is None:
        return f"probability {percent(probability)}"
    return f"probability {percent(probability)} ({percent(low)} to {percent(high)} for the size of the sample)"


# --- claims -----------------------------------------------------------------------------------------------------


def claim_text(result: ClaimResult, scale: Scale) -> str:
    """Return the verdict on a claim, its probability and the rule."""
    low, middle, high = interval_texts(result.low, result.median, result.high, NEVER)
    chance = _chance(result.probability, result.probability_low, result.probability_high)
    return in_blocks(
        [
            wrapped(f"{result.verdict.value.upper()}: {_claimed(result, scale)} with {chance}."),
            wrapped(f"It does for {middle}, probably between {low} and {high}."),
            wrapped(RULE),
            left_out_words(result.failed, result.draws + result.failed),
        ]
    )


def _claimed(result: ClaimResult | MeasuredClaim, scale: Scale) -> str:
    side = "above" if result.claim.is_hot else "below"
    return f"stays {side} {scale.text(result.limit)} for {duration_text(result.claim.duration)}"


def claim_document(result: ClaimResult, text: str) -> dict[str, Any]:
    """Return a verdict on a claim as a JSON object."""
    return {
        "claim": text,
        **entries(result, "verdict", "probability", "probability_low", "probability_high"),
        "pass_from": PASS_FROM,
        "fail_to": FAIL_TO,
        "until_K": result.limit,
        "claimed_s": result.claim.duration,
        **entries(result, "low_s", "median_s", "high_s", "draws"),
        "failed_draws": result.failed,
        "seed": result.seed,
    }


def measured_claim_text(result: MeasuredClaim, scale: Scale, warnings: Sequence[str]) -> str:
    """Return the verdict that readings give on a claim, what it rests on, and where the run was not as asked."""
    is_undecided = result.departures and result.verdict is Verdict.UNDECIDED
    because = " since the run was not made as asked" if is_undecided else ""
    chance = "" if result.probability is None else f", probability {percent(result.probability)}"
    blocks = [
        wrapped(f"{result.verdict.value.upper()}{because}: {_claimed(result, scale)}{chance}."),
        wrapped(f"The readings: {_held_words(result, scale)}."),
    ]
    if result.departures:
        blocks.append(wrapped(f"It was not run as asked: {'; '.join(_departed(d) for d in result.departures)}."))
    blocks += [wrapped(f"Look at this run: {warning}.") for warning in warnings]
    return in_blocks([*blocks, wrapped(RULE), wrapped("No model has a part in this verdict.")])


def _departed(departure: Departure) -> str:
    effect = {True: ", which lets it hold longer", False: ", which makes it harder", None: ""}
    return f"{departure.words}{effect[departure.helps]}"


def _held_words(result: MeasuredClaim, scale: Scale) -> str:
    held, limit = result.held, scale.text(result.limit)
    if held.time is not None:
        low, middle, high = interval_texts(held.low, held.time, held.high)
        return f"it did for {middle}, probably between {low} and {high} ({held.basis})"
    if math.isfinite(held.high):
        return f"it passed {limit} between {duration_text(held.low)} and {duration_text(held.high)}"
    if held.low > 0.0:
        side = "above" if result.claim.is_hot else "below"
        return f"it was still {side} {limit} after {duration_text(held.low)}, and what came later nobody saw"
    return f"none tells when {limit} was passed"


def measured_claim_document(result: MeasuredClaim, text: str, warnings: Sequence[str]) -> dict[str, Any]:
    """Return the verdict that readings give on a claim as a JSON object."""
    return {
        "claim": text,
        "basis": f"measured in {result.run}",
        **entries(result, "verdict", "probability"),
        "pass_from": PASS_FROM,
        "fail_to": FAIL_TO,
        "until_K": result.limit,
        "claimed_s": result.claim.duration,
        "measured_s": entries(result.held, "low", "time", "high", "basis"),
        "departures": plain(result.departures),
        "run_warnings": list(warnings),
    }


# --- standards --------------------------------------------------------------------------------------------------


def standard_text(result: StandardResult, basis: str, scale: Scale, bounds: tuple[float, float] | None = None) -> str:
    """Return the verdict of a standard test, and what it rests on.

    Parameters
    ----------
    result : StandardResult
    basis : str
        "in the model", or the run it was measured in.
    scale : Scale
    bounds : (float, float), optional
        Where the test ends with cold walls and with warm ones. [K]
    """
    asked = CONDITIONS[result.procedure]
    low, middle, high = (scale.text(value, 3) for value in (result.low, result.median, result.high))
    after = duration_text(asked.after)
    lines = [wrapped(f"{result.procedure.value}, {basis}: {_verdict_words(result, scale)}")]
    lines.append(f"  after {after} {middle}, probably between {low} and {high}")
    if bounds is not None:
        cold, warm = (scale.text(value, 3) for value in bounds)
        lines.append(f"  best guess with walls as cold as the room {cold}, as after long use {warm}")
    lines.append(wrapped(f"Procedure: {asked.words} ({asked.source}).", "  "))
    if result.departures:
        lines.append(wrapped(f"It was not the procedure: {'; '.join(result.departures)}.", "  "))
    lines += [wrapped(note, "  ") for note in result.notes]
    return "\n".join(lines)


def _verdict_words(result: StandardResult, scale: Scale) -> str:
    if result.minimum is None or result.probability is None:
        return "no limit known, so no verdict"
    chance = _chance(result.probability, result.probability_low, result.probability_high)
    least = scale.text(result.minimum.minimum, 3)
    why = " since it was not the procedure" if result.departures else ""
    return f"{result.verdict.value.upper()}{why}; at least {least} is asked for {result.minimum.name}, {chance}"


def standard_document(result: StandardResult, basis: str) -> dict[str, Any]:
    """Return a standard test as a JSON object."""
    asked, minimum = CONDITIONS[result.procedure], result.minimum
    return {
        "standard": result.procedure.value,
        "source": asked.source,
        "basis": basis,
        "verdict": result.verdict.value,
        "class": None if minimum is None else minimum.name,
        "minimum_K": None if minimum is None else minimum.minimum,
        "after_s": asked.after,
        **entries(result, "low_K", "median_K", "high_K", "probability", "probability_low", "probability_high"),
        "pass_from": PASS_FROM,
        "fail_to": FAIL_TO,
        **entries(result, "notes", "departures"),
    }


# --- food -------------------------------------------------------------------------------------------------------

HOLDING_LIMITS = (
    HoldingLimit(HOT_HOLDING_US, True, "US FDA Food Code 3-501.16"),
    HoldingLimit(HOT_HOLDING_ENGLAND, True, "England, Food Safety and Hygiene Regulations 2013, from memory"),
    HoldingLimit(COLD_HOLDING_US, False, "US FDA Food Code 3-501.16"),
)


def holding_text(held: Sequence[Held], scale: Scale) -> str:
    """Return how long contents stay on the right side of each limit."""
    lines = []
    for one in held:
        side = "above" if one.limit.is_hot else "below"
        low, median, high = interval_texts(one.low, one.median, one.high, NEVER)
        lines.append(f"  {side} {scale.text(one.limit.temperature, 3)}: {median} ({low} to {high}); {one.limit.source}")
    lost = dict.fromkeys(left_out_words(one.failed, one.draws + one.failed) for one in held if one.failed)
    return "\n".join(["How long limits for holding food are kept", *lines, *lost, "", wrapped(LOCAL_CODES)])


def holding_document(held: Sequence[Held]) -> dict[str, Any]:
    """Return how long limits are kept as a JSON object."""
    return {
        "standard": "food-holding",
        "limits": [
            {
                "limit_K": one.limit.temperature,
                "kind": "hot" if one.limit.is_hot else "cold",
                "source": one.limit.source,
                **entries(one, "low_s", "median_s", "high_s"),
                "failed_draws": one.failed,
            }
            for one in held
        ],
    }
