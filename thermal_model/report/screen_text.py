"""Screening, the inverse question and production in plain words, as JSON objects and as a CSV."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from geometries.container import Container
from geometries.quantities import exact_text
from geometries.ranges import Range
from thermal_model.report.sweep_text import varied_text
from thermal_model.study.axes import Axis
from thermal_model.study.inverse import Inverse
from thermal_model.study.measures import MEASURES, Constraint, Measure
from thermal_model.study.question import Question
from thermal_model.study.screen import Screening
from thermal_model.study.tolerance import CONFIDENCE, Production, spread_dimension
from thermal_model.version import version
from thermal_model.words.cells import csv_text, json_comment
from thermal_model.words.dimensions import dimension_words
from thermal_model.words.documents import entries, plain
from thermal_model.words.numbers import MINUTE, aligned, duration_text, percent, sensible_step
from thermal_model.words.paragraphs import in_blocks

_SAME = {"mouth": "body.neck.mouth_diameter"}
"""Measures that are a dimension by another name."""

Intervals = Mapping[int, tuple[float, float]]


# --- the front --------------------------------------------------------------------------------------------------


def front_text(found: Screening, constraints: Sequence[Constraint], intervals: Intervals, question: Question) -> str:
    """Return the front as a table, the best of what is weighed against the hold time first."""
    against = (found.against.name, _SAME.get(found.against.name))
    axes = [axis for axis in found.plan.axes if axis.path not in against]
    there = {found.against.name} | {name for name, path in _SAME.items() if any(axis.path == path for axis in axes)}
    shown = [MEASURES[name] for name in ("mass", "height", "mouth") if name not in there]
    heads = ("holds", "nine in ten" if intervals else "", found.against.label)
    head = (*heads, *(_axis_noun(axis, question.container) for axis in axes), *(measure.label for measure in shown))
    rows = [head, *(_front_row(row, found, axes, shown, intervals) for row in found.shown.tolist())]
    which = "smallest" if found.against.less_is_better else "largest"
    blocks = [
        _counts(found, constraints),
        f"The best of {found.plan.count} tried: none of the others holds longer and is as good in "
        f"{found.against.label} ({which} first)\n"
        f"{aligned(rows)}",
    ]
    if len(found.shown) < len(found.front):
        blocks.append(
            f"  {len(found.shown)} of {len(found.front)} shown, evenly spread; --csv and --json have them all."
        )
    if _has_no_seal(found):
        blocks.append("  A lid without a seal is not tight: it spills when tipped, which no hold time shows.")
    if found.invalid:
        blocks.append(f"  {found.invalid} designs make no container and are left out; the first: {found.reason}")
    if found.failed:
        blocks.append(f"  {found.failed} designs could not be computed and are left out; please report the case.")
    return in_blocks(blocks)


def _has_no_seal(found: Screening) -> bool:
    """Tell whether a design that is shown has had its last seal taken off."""
    counts = [axis for axis in found.plan.axes if axis.path == "lid.seals"]
    return any(axis.text(float(found.values[axis.path][row])) == "0" for axis in counts for row in found.shown)


def _axis_noun(axis: Axis, container: Container) -> str:
    return dimension_words(axis.path, container)[0] if axis.is_number else axis.path


def _counts(found: Screening, constraints: Sequence[Constraint]) -> str:
    meets, total = int(found.meets.sum()), found.plan.count
    bounds = "; ".join(constraint.text() for constraint in constraints)
    sample = f" ({found.plan.sampling.value}, seed {found.plan.seed})" if found.plan.sampling.value != "grid" else ""
    under = f", {meets} of them meet: {bounds}" if constraints else ""
    return f"{total} designs{sample}{under}; varied: {varied_text(found.plan.axes)}"


def _front_row(
    row: int, found: Screening, axes: Sequence[Axis], shown: Sequence[Measure], intervals: Intervals
) -> tuple[str, ...]:
    low, high = intervals.get(row, (np.nan, np.nan))
    step = sensible_step(high - low) if np.isfinite(high - low) else MINUTE
    between = f"{held_text(low, step)} to {held_text(high, step)}" if row in intervals else ""
    return (
        held_text(float(found.hold_times[row]), step),
        between,
        found.against.text(float(found.measures[found.against.name][row])),
        *(_rounded_text(axis, float(found.values[axis.path][row])) for axis in axes),
        *(measure.text(float(found.measures[measure.name][row])) for measure in shown),
    )


def _rounded_text(axis: Axis, value: float) -> str:
    if not axis.is_number or not math.isfinite(value):
        return axis.text(value)
    return f"{axis.shown(np.array([value]))[0]:.4g} {axis.unit}".strip()


def held_text(seconds: float, step: float = MINUTE) -> str:
    """Return a hold time in words; infinite ones go on as long as the run is followed."""
    if math.isnan(seconds):
        return "unknown"
    return duration_text(seconds, step) if math.isfinite(seconds) else "longer than followed"


def front_document(found: Screening, constraints: Sequence[Constraint], intervals: Intervals) -> dict[str, Any]:
    """Return the front as a JSON object."""
    return {
        "designs": found.plan.count,
        **entries(found.plan, "sampling", "seed"),
        "constraints": constraint_documents(constraints),
        "meet_constraints": int(found.meets.sum()),
        "make_no_container": found.invalid,
        **entries(found, "reason", "failed"),
        "against": found.against.name,
        "front": [_front_entry(row, found, intervals) for row in found.front.tolist()],
    }


def constraint_documents(constraints: Sequence[Constraint]) -> list[dict[str, Any]]:
    """Return constraints as JSON objects."""
    return [
        {"measure": c.measure.name, "bound_SI": c.bound, "kind": "at_most" if c.is_upper else "at_least"}
        for c in constraints
    ]


def _front_entry(row: int, found: Screening, intervals: Intervals) -> dict[str, Any]:
    low, high = intervals.get(row, (np.nan, np.nan))
    against, held = found.against.name, float(found.hold_times[row])
    return {
        **plain({"hold_time_s": held, "low_s": low, "high_s": high}),
        "is_reached": math.isfinite(held),
        "vary": {axis.path: _design_value(axis, float(found.values[axis.path][row])) for axis in found.plan.axes},
        "measures_SI": {name: float(found.measures[name][row]) for name in dict.fromkeys([*MEASURES, against])},
    }


def _design_value(axis: Axis, value: float) -> object:
    """Return what a design file would hold for a value."""
    return axis.document(value) if axis.dimension is None else exact_text(value, axis.dimension)


def screening_csv(found: Screening, question: Question) -> str:
    """Return all designs as a CSV with units in its headings; comment lines say what made it."""
    comments = [
        f"holdtime {version()}; {found.plan.sampling.value}, seed {found.plan.seed}",
        f"design {json_comment(question.container.model_dump(mode='json'))}",
        f"scenario {json_comment(question.scenario.model_dump(mode='json'))}",
        f"limit {question.limit!r} K",
    ]
    axes, front = found.plan.axes, set(found.front.tolist())
    heads = [_head(axis.path, axis.unit) for axis in axes]
    measures = [_head(m.label, m.unit) for m in MEASURES.values()]
    rows = [[*heads, *measures, "hold time [s]", "meets constraints", "on front"]]
    for row in range(found.plan.count):
        rows.append(
            [
                *(axis.text(found.values[axis.path][row]).removesuffix(axis.unit).strip() for axis in axes),
                *(_cell(m.shown(float(found.measures[m.name][row]))) for m in MEASURES.values()),
                _cell(float(found.hold_times[row])),
                str(bool(found.meets[row])).lower(),
                str(row in front).lower(),
            ]
        )
    return csv_text(rows, comments=comments)


def _head(name: str, unit: str) -> str:
    return f"{name} [{unit}]" if unit else name


def _cell(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.7g}"


# --- the inverse question ---------------------------------------------------------------------------------------


def inverse_text(found: Inverse, question: Question) -> str:
    """Return which value holds that long, how sure that is, and what was tried."""
    noun, more = dimension_words(found.wanted.path, question.container)
    hold = duration_text(found.hold)
    blocks = [_answer(found, noun, hold)]
    if found.draws and found.failed != found.draws:
        blocks.append(_certainty(found, hold))
    if found.turns:
        blocks.append("  The hold time both rises and falls in this range; this is the first answer from below.")
    rows = [(_value_text(found.wanted, x), held_text(t)) for x, t in zip(found.tried, found.held, strict=True)]
    blocks.append(f"Tried ({noun}, best guess)\n{aligned(rows)}")
    if found.failed:
        blocks.append(f"  {found.failed} of {found.draws} samples left out: they make no container or failed.")
    side = "longer" if found.rises else "shorter"
    blocks.append(f"  {more.capitalize()} holds {side}; {found.draws} samples, seed {found.seed}.")
    return in_blocks(blocks)


def _answer(found: Inverse, noun: str, hold: str) -> str:
    ends = f"{_value_text(found.wanted, found.wanted.low)} to {_value_text(found.wanted, found.wanted.high)}"
    if math.isfinite(found.nominal):
        bound = "at least" if found.rises else "at most"
        return f"To hold {hold}: {noun} {bound} {_value_text(found.wanted, found.nominal)} (best guess)."
    place = int(np.argmax(found.held) if is_nowhere(found) else np.argmin(found.held))
    at = f"{held_text(float(found.held[place]))} at {_value_text(found.wanted, float(found.tried[place]))}"
    if is_nowhere(found):
        return f"No value from {ends} holds {hold} (best guess); the longest is {at}."
    return f"Every value from {ends} holds {hold} (best guess); the shortest is {at}."


def is_nowhere(found: Inverse) -> bool:
    """Tell whether the best guess holds that long for no value of the range."""
    return math.isinf(found.nominal) and bool(np.all(found.held < found.hold))


def _certainty(found: Inverse, hold: str) -> str:
    low, high = (_bound_text(found.wanted, value) for value in (found.low, found.high))
    lines = [f"  Nine in ten samples of what is not known: {low} to {high}."] if low != high else []
    if math.isfinite(found.safe):
        bound = "at least" if found.rises else "at most"
        lines.append(f"  To be sure in 19 of 20: {bound} {_value_text(found.wanted, found.safe)}.")
    elif found.nowhere > 0.05:
        lines.append("  No value of the range is sure in 19 of 20.")
    if found.nowhere:
        lines.append(f"  In {percent(found.nowhere)} of the samples no value of the range holds {hold}.")
    if found.everywhere:
        lines.append(f"  In {percent(found.everywhere)} of the samples every value does.")
    return "\n".join(lines)


def _bound_text(wanted: Range, value: float) -> str:
    if math.isfinite(value):
        return _value_text(wanted, value)
    return f"beyond {_value_text(wanted, wanted.high)}" if value > 0.0 else f"below {_value_text(wanted, wanted.low)}"


def _value_text(wanted: Range, value: float) -> str:
    """Return a value in the unit that was typed, to a thousandth of the range."""
    axis = Axis(wanted.path, wanted)
    low, high, number = axis.shown(np.array([wanted.low, wanted.high, value])).tolist()
    digits = max(0, -math.floor(math.log10(1e-3 * abs(high - low))))
    return f"{number:.{digits}f} {axis.unit}".strip()


def inverse_document(found: Inverse, question: Question) -> dict[str, Any]:
    """Return the answer as a JSON object."""
    reached = "found" if math.isfinite(found.nominal) else "nowhere" if is_nowhere(found) else "everywhere"
    return {
        "find": found.wanted.path,
        "label": dimension_words(found.wanted.path, question.container)[0],
        "range_SI": [found.wanted.low, found.wanted.high],
        "hold_s": found.hold,
        "outcome": reached,
        "bound": "at_least" if found.rises else "at_most",
        **entries(found, "nominal_SI", "low_SI", "median_SI", "high_SI"),
        "sure_in_19_of_20_SI": plain(found.safe),
        "share_nowhere": found.nowhere,
        "share_everywhere": found.everywhere,
        "several_answers": found.turns,
        "tried_SI": found.tried.tolist(),
        "tried_hold_time_s": plain(found.held),
        "draws": found.draws,
        "failed_draws": found.failed,
        "seed": found.seed,
    }


# --- production -------------------------------------------------------------------------------------------------


def production_text(found: Production, question: Question) -> str:
    """Return the share that holds long enough, with its interval and what to make more exactly."""
    low, high = (100.0 * bound for bound in (found.share_low, found.share_high))
    hold = duration_text(found.hold)
    spreads = [_spread_row(found, number, question) for number in range(len(found.spreads))]
    step = sensible_step(found.high - found.low) if math.isfinite(found.high) else MINUTE
    blocks = [
        f"{100.0 * found.share:.1f} % of the pieces hold {hold} ({percent(CONFIDENCE)} interval of the sample "
        f"{low:.1f} to {high:.1f} %; {found.met} of {found.pieces}).",
        f"  As drawn: {held_text(found.nominal)}; nine in ten pieces: {held_text(found.low, step)} "
        f"to {held_text(found.high, step)}.",
        "Made with (independent of each other; two in three pieces lie this near to the drawing, or nearer)\n"
        f"{aligned(spreads)}",
    ]
    if found.rejected:
        blocks.append(f"  {found.rejected} pieces make no container and do not count; the first: {found.reason}")
    blocks.append("  What is not known of the design itself is at its best guess: it shifts all pieces alike.")
    return in_blocks(blocks)


def _spread_row(found: Production, number: int, question: Question) -> tuple[str, ...]:
    spread = found.spreads[number]
    path, dimension = spread.field.path, spread.field.quantity.dimension
    assert spread.field.value is not None
    share = dict(found.causes).get(path)
    cause = f"{percent(share)} of the spread" if share is not None else ""
    deviation = exact_text(spread.deviation, spread_dimension(dimension))
    return (
        dimension_words(path, question.container)[0],
        exact_text(spread.field.value, dimension),
        f"± {deviation}",
        cause,
    )


def production_document(found: Production) -> dict[str, Any]:
    """Return the share as a JSON object."""
    return {
        **entries(found, "hold_s", "share", "share_low", "share_high"),
        "confidence": CONFIDENCE,
        **entries(found, "pieces", "met"),
        "make_no_container": found.rejected,
        **entries(found, "reason", "nominal_s", "low_s", "high_s"),
        "distribution": "normal, independent",
        "spreads": [
            {
                **entries(s.field, "path", "value_SI"),
                "standard_deviation_SI": s.deviation,
                "share_of_variance": dict(found.causes).get(s.field.path),
            }
            for s in found.spreads
        ],
        "seed": found.seed,
    }
