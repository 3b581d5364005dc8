"""What goes with hold time in a set of containers, with confounding said out loud; and as a JSON object."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from thermal_model.reasons.features import NOTABLE, Alias, Feature, FeatureStudy, Regression
from thermal_model.version import version
from thermal_model.words.documents import entries
from thermal_model.words.numbers import aligned, bar, duration_text, percent
from thermal_model.words.paragraphs import in_blocks, listed, wrapped

MOST_ALIASES = 8


def features_text(study: FeatureStudy, *, is_corrected: bool = False) -> str:
    """Return ranks, aliases, and the best few features, as blocks of text.

    Parameters
    ----------
    study : FeatureStudy
    is_corrected : bool
        Whether readings of a bench have corrected the model's hold times.
    """
    blocks = [
        _hold_times(study, "the model as the readings correct it" if is_corrected else "the model's best guess"),
        _associations(study),
        _confounding(study),
        _regression(study.regression, study),
        _closing(study),
    ]
    return in_blocks(blocks)


def _hold_times(study: FeatureStudy, basis: str) -> str:
    order = np.argsort(-study.hold_times)
    rows = [(study.names[i], duration_text(study.hold_times[i])) for i in order.tolist()]
    return f"{len(rows)} containers, the longest first ({basis})\n{aligned(rows)}"


def _associations(study: FeatureStudy) -> str:
    rows = [
        (
            association.feature.name,
            _signed(association.correlation),
            f"({_signed(association.low)} to {_signed(association.high)})",
            bar(association.correlation) or bar(-association.correlation).replace("▰", "▱"),
        )
        for association in study.associations
    ]
    same = f"\n  the same in all: {', '.join(f.name for f in study.same)}" if study.same else ""
    heading = "What goes with hold time (+1: always longer with more of it, −1: always shorter, 0: no link)"
    return f"{heading}\n{aligned(rows)}{same}"


def _signed(number: float) -> str:
    return f"{number:+.2f}".replace("-", "−")


# --- confounding ----------------------------------------------------------------------------------------------


def _confounding(study: FeatureStudy) -> str:
    """Return a line for each pair that matters and can't be told apart."""
    notable = {a.feature.name for a in study.associations if abs(a.correlation) >= NOTABLE}
    told = [alias for alias in study.aliases if {alias.one.name, alias.other.name} & notable]
    if not told:
        return "No two features that matter occur only together here: each can be told by itself."
    lines = listed(alias_text(alias, study) for alias in told[:MOST_ALIASES])
    if len(told) > MOST_ALIASES:
        lines.append(f"- and {len(told) - MOST_ALIASES} more pairs (--json names them)")
    return "\n".join(["What these containers can't tell apart", *lines])


def alias_text(alias: Alias, study: FeatureStudy) -> str:
    """Return a pair of features in a sentence, and what would part them."""
    one, other = alias.one, alias.other
    if other.name == one.presupposes or one.name == other.presupposes:
        latter, former = (other, one) if other.name == one.presupposes else (one, other)
        return f"{former.name} needs {latter.name}: compare only containers that have the latter to credit the former"
    if np.isfinite(alias.bound):
        return _parted_text(alias, study)
    if one.is_yes_or_no and other.is_yes_or_no:
        how = "the one comes with the other" if alias.correlation > 0.0 else "the one comes where the other is missing"
    elif one.is_yes_or_no:
        how = f"those with it have {'more' if alias.correlation > 0.0 else 'less'} of it"
        return f"{one.name} and {other.name}: {how} ({_signed(alias.correlation)}); credit is shared"
    else:
        how = "they rise together" if alias.correlation > 0.0 else "the one rises as the other falls"
    return f"{one.name} and {other.name}: {how} ({_signed(alias.correlation)}); what one gains may be the other's"


def _parted_text(alias: Alias, study: FeatureStudy) -> str:
    one, other = alias.one, alias.other
    values, has_it = study.values[other.name], study.values[one.name] > 0.5
    side = "at most" if values[~has_it].min() > alias.bound else "at least"
    missing = float(np.median(values[~has_it]))  # a usual one without it
    return (
        f"{one.name} occurs only with {other.name} {side} {_value(alias.bound, other)}, which no container without it "
        f"has: it can't be credited by itself. One with it and {other.name} {_value(missing, other)} would tell."
    )


def _value(number: float, feature: Feature) -> str:
    return f"{number:.3g} {feature.unit}".rstrip()


# --- the best few ---------------------------------------------------------------------------------------------


def _regression(found: Regression | None, study: FeatureStudy) -> str:
    if found is None:
        return "No few features foretell the hold time of a container that is left out."
    rows = [
        (_step(feature), f"× {np.exp(slope):.3g}")
        for feature, slope in zip(found.features, found.slopes.tolist(), strict=True)
    ]
    heading = wrapped(
        f"The best few: together they explain {percent(found.explained)} of the variation of log hold time, and "
        f"foretell {percent(found.foretold)} of it in containers left out one at a time",
        hanging="",
    )
    names = {feature.name for feature in found.features}
    shared = sorted(
        {
            (alias.other if alias.one.name in names else alias.one).name
            for alias in study.aliases
            if len({alias.one.name, alias.other.name} & names) == 1
        }
    )
    note = wrapped(f"Stands for as well, where it occurs together: {', '.join(shared)}.", hanging="") if shared else ""
    return "\n".join(filter(None, [heading, aligned(rows), note]))


def _step(feature: Feature) -> str:
    if feature.is_yes_or_no:
        return f"with {feature.name}"
    return f"each {feature.step:g} {feature.unit} of {feature.name}" if feature.unit else f"each of {feature.name}"


def _closing(study: FeatureStudy) -> str:
    pair = study.names[int(np.argmax(study.hold_times))], study.names[int(np.argmin(study.hold_times))]
    return wrapped(
        "What goes together need not be the cause. The model knows the way of the heat and can swap parts one by one: "
        f"holdtime explain {pair[0]} {pair[1]}",
        hanging="",
    )


# --- JSON -----------------------------------------------------------------------------------------------------


def features_document(study: FeatureStudy, inputs: dict[str, Any], warnings: Sequence[str]) -> dict[str, Any]:
    """Return the study as a JSON object."""
    regression = study.regression
    return {
        "containers": [
            {
                "name": name,
                "hold_time_s": float(study.hold_times[i]),
                "features": {feature: float(values[i]) for feature, values in study.values.items()},
            }
            for i, name in enumerate(study.names)
        ],
        "rank_correlations": [
            {"feature": a.feature.name} | entries(a, "correlation", "low", "high") for a in study.associations
        ],
        "same_in_all": [feature.name for feature in study.same],
        "not_told_apart": [
            {
                "features": [alias.one.name, alias.other.name],
                "correlation": alias.correlation,
                "words": alias_text(alias, study),
            }
            for alias in study.aliases
        ],
        "regression": None
        if regression is None
        else {
            "steps": [
                {"feature": f.name, "step": f.step, "unit": f.unit, "factor": float(np.exp(slope))}
                for f, slope in zip(regression.features, regression.slopes, strict=True)
            ],
            **entries(regression, "explained", "foretold"),
        },
        "warnings": list(warnings),
        "inputs": inputs,
        "version": version(),
    }
