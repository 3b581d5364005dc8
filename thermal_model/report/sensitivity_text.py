"""A sensitivity in plain words, and as a JSON object."""

from typing import Any

from thermal_model.study.question import Question
from thermal_model.study.sensitivity import (
    CONFIDENCE,
    STEP,
    Elasticity,
    GlobalSensitivity,
    LocalSensitivity,
    SobolIndex,
)
from thermal_model.uncertainty import PRIORS
from thermal_model.words.dimensions import dimension_words, step_of
from thermal_model.words.documents import entries
from thermal_model.words.numbers import MINUTE, aligned, bar, duration_text, percent
from thermal_model.words.paragraphs import in_blocks

LEAST_SHARE = 0.005
"""Total index below which an input is only counted, not listed."""

LEAST_EFFECT = 0.005
"""Relative effect of an unknown below which it is only counted, not listed."""

LEAST_CHANGE = 1.0
"""Change that is worth a number. [s]"""


# --- local ------------------------------------------------------------------------------------------------------


def local_text(found: LocalSensitivity, question: Question) -> str:
    """Return the effects as tables, the largest first."""
    blocks = []
    if found.elasticities:
        rows = [_elasticity_row(e, question) for e in found.elasticities]
        blocks.append(
            f"What each dimension does (tried {100 * STEP:g} % up and down, the rest unchanged)\n{aligned(rows)}"
        )
        if question.scenario.fill is None:
            blocks.append("  Filled to the lid: a larger inside also holds more. Give --fill to compare one volume.")
        if any(e.is_one_sided for e in found.elasticities):
            blocks.append("  * tried to one side only: to the other there is no such container")
    if found.unknowns:
        rows = [
            (PRIORS[e.name].label, f"{duration_text(e.lower)} to {duration_text(e.upper)}", PRIORS[e.name].advice)
            for e in found.unknowns
            if e.half_width >= LEAST_EFFECT * found.hold_time
        ]
        rest = len(found.unknowns) - len(rows)
        tied = "" if question.belief is None else ", what the readings tie to it moved along"
        blocks.append(
            f"What is not known (two in three times it is this far off or less; down and up{tied})\n{aligned(rows)}"
            if rows
            else ""
        )
        blocks.append(f"  {rest} more move it by less than {100 * LEAST_EFFECT:g} %." if rest else "")
        blocks.append(_worth_measuring(found.unknowns[0].name))
    blocks += [f"  left out: {path}: {reason}" for path, reason in found.left_out]
    return in_blocks(blocks)


def _elasticity_row(effect: Elasticity, question: Question) -> tuple[str, ...]:
    noun, more = dimension_words(effect.field.path, question.container)
    assert effect.field.value is not None
    step, step_text = step_of(effect.field.value, effect.field.quantity.dimension)
    star = " *" if effect.is_one_sided else ""
    return (
        f"{step_text} {more} {noun}:{star}",
        change_text(effect.slope * step),
        f"(1 % {more}: {_percent_text(effect.value)})",
        effect.field.path,
    )


def _percent_text(elasticity: float) -> str:
    if abs(elasticity) < 0.005:
        return "nothing"
    return f"{abs(elasticity):.2g} % {'more' if elasticity > 0.0 else 'less'}"


def change_text(seconds: float) -> str:
    """Return a change of a hold time in words.

    Examples
    --------
    >>> change_text(-543.0)
    '9 min less'
    """
    size = abs(seconds)
    if size < LEAST_CHANGE:
        return "no change"
    step = MINUTE if size >= 3 * MINUTE else 10.0 if size >= MINUTE else 1.0
    return f"{duration_text(round(size / step) * step, step)} {'more' if seconds > 0.0 else 'less'}"


def _worth_measuring(name: str) -> str:
    prior = PRIORS[name]
    how = f"; to narrow it: {prior.advice}" if prior.advice else ""
    return f"Worth knowing better: {prior.label}{how}"


def local_document(found: LocalSensitivity, question: Question) -> dict[str, Any]:
    """Return the effects as a JSON object."""
    return {
        "hold_time_s": found.hold_time,
        "relative_step": STEP,
        "elasticities": [_elasticity_document(e, question) for e in found.elasticities],
        "unknowns": [
            {
                "name": e.name,
                "label": PRIORS[e.name].label,
                "one_deviation_below_s": e.lower,
                "one_deviation_above_s": e.upper,
                "advice": PRIORS[e.name].advice,
            }
            for e in found.unknowns
        ],
        "left_out": [{"name": path, "reason": reason} for path, reason in found.left_out],
    }


def _elasticity_document(effect: Elasticity, question: Question) -> dict[str, Any]:
    noun, more = dimension_words(effect.field.path, question.container)
    return {
        "path": effect.field.path,
        "label": noun,
        "more": more,
        "value_SI": effect.field.value,
        "elasticity": effect.value,
        "slope_s_per_SI": effect.slope,
        "one_sided": effect.is_one_sided,
    }


# --- global -----------------------------------------------------------------------------------------------------


def global_text(found: GlobalSensitivity, question: Question) -> str:
    """Return the indices as a table, and which unknown is worth measuring."""
    step = 10 * MINUTE if found.high - found.low > 100 * MINUTE else MINUTE
    spread = " to ".join(duration_text(t, step) for t in (found.low, found.high))
    shown = [index for index in found.indices if index.total >= LEAST_SHARE]
    rows = [("", "alone", "with others", ""), *(_index_row(index, question) for index in shown)]
    rest = len(found.indices) - len(shown) + len(found.idle)
    blocks = [
        f"Over all that is varied it holds {duration_text(found.mean, step)} on average, nine in ten {spread}.",
        f"Share of that spread (variance), with {percent(CONFIDENCE)} intervals\n{aligned(rows)}",
        f"  {rest} more matter less than {100 * LEAST_SHARE:g} % each." if rest else "",
        _measure_line(found),
        f"  Sobol' indices: {found.runs} designs, base sample {found.samples}, seed {found.seed}.",
        f"  {found.left_out} of {found.samples} rows of the sample left out; the first: {found.reason}"
        if found.left_out
        else "",
        _wide_line(found),
    ]
    return in_blocks(blocks)


def _index_row(index: SobolIndex, question: Question) -> tuple[str, ...]:
    return (
        input_label(index.name, question),
        _share(index.first, index.first_margin),
        _share(index.total, index.total_margin),
        bar(index.total),
    )


def _share(value: float, margin: float) -> str:
    return f"{100.0 * value:.0f} ± {100.0 * margin:.0f} %"


def input_label(name: str, question: Question) -> str:
    """Return what a dimension or an unknown is called."""
    return PRIORS[name].label if name in PRIORS else dimension_words(name, question.container)[0]


def most_worth_measuring(found: GlobalSensitivity) -> SobolIndex | None:
    """Return the unknown with the largest first-order index among those that a user can narrow.

    The first-order index is the share of the variance that knowing the input exactly takes away on average
    (Saltelli et al. 2010).
    """
    candidates = [index for index in found.indices if index.name in PRIORS and PRIORS[index.name].advice]
    return max(candidates, key=lambda index: index.first, default=None)


def _measure_line(found: GlobalSensitivity) -> str:
    best = most_worth_measuring(found)
    if best is None:
        return ""
    prior = PRIORS[best.name]
    takes = percent(min(max(best.first, 0.0), 1.0))
    effect = f"Known exactly, it would take away about {takes} of the variance."
    return f"Worth measuring: {prior.label}. {effect}\n  How: {prior.advice}."


def _wide_line(found: GlobalSensitivity) -> str:
    widest = max(max(index.first_margin, index.total_margin) for index in found.indices)
    if widest <= 0.1:
        return ""
    return f"  The intervals are wide; --samples {4 * found.samples} about halves them."


def global_document(found: GlobalSensitivity, question: Question) -> dict[str, Any]:
    """Return the indices as a JSON object."""
    best = most_worth_measuring(found)
    return {
        **entries(found, "mean_s", "standard_deviation_s", "low_s", "high_s"),
        "confidence": CONFIDENCE,
        "indices": [_index_document(index, question) for index in found.indices],
        "without_effect": list(found.idle),
        "worth_measuring": None if best is None else {"name": best.name, "advice": PRIORS[best.name].advice},
        "base_sample": found.samples,
        "designs": found.runs,
        "rows_left_out": found.left_out,
        **entries(found, "reason", "seed"),
    }


def _index_document(index: SobolIndex, question: Question) -> dict[str, Any]:
    return {
        "name": index.name,
        "label": input_label(index.name, question),
        "kind": "unknown" if index.name in PRIORS else "dimension",
        **_around("first_order", index.first, index.first_margin),
        **_around("total", index.total, index.total_margin),
    }


def _around(name: str, value: float, margin: float) -> dict[str, float]:
    return {name: value, f"{name}_low": value - margin, f"{name}_high": value + margin}
