"""Why one container holds longer than another, in words and as a JSON object."""

import math
from collections.abc import Sequence
from typing import Any

from thermal_model.prediction import Prediction
from thermal_model.reasons.pair import Contender, Estimate, PairExplanation, Share
from thermal_model.reasons.parts import Group
from thermal_model.report.part_words import part_text
from thermal_model.report.results import warning_lines
from thermal_model.report.summary import caution_lines, given_pair, limit_text
from thermal_model.version import version
from thermal_model.words.documents import plain
from thermal_model.words.numbers import (
    Scale,
    aligned,
    duration_text,
    left_out_words,
    percent,
    ratio_text,
    sensible_step,
)
from thermal_model.words.paragraphs import in_blocks, listed, wrapped

BAR_WIDTH = 20
"""Letters of the longest bar."""

LEAST_TOLD = 0.02
"""Share of the largest part below which a part gets no sentence."""

_REASONS = {
    Group.MOUTH: "the wider the mouth, the more lid, steel and vapour there is to carry heat",
    Group.LID_LAYERS: "they hold back the heat that reaches the lid; still air does it best",
    Group.PLUG_AND_SEALS: "a plug fills the neck with still air, and a seal low on it keeps vapour off the steel above",
    Group.NECK: "heat creeps along its steel, the longer the way the less; vapour shortens the way where it gets in",
    Group.WALL_AND_GAP: "they surround all of the contents; shine and vacuum decide, not width",
    Group.BASE: "it is a small area and stands on little air",
    Group.CAPACITY: "the same walls keep more contents longer; the same fill in a larger body meets more wall and air",
    Group.FILL: "the more is filled in, the longer the same walls keep it",
    Group.CONDITIONS: "what is done with it, not what it is",
}


# --- words ----------------------------------------------------------------------------------------------------


def pair_text(
    found: PairExplanation,
    predictions: tuple[Prediction, Prediction],
    wanted: Sequence[Group],
    assumed: tuple[frozenset[str], frozenset[str]],
    scale: Scale,
) -> str:
    """Return the whole explanation.

    Parameters
    ----------
    found : PairExplanation
    predictions : pair of Prediction
        Best guesses of A and B, for what was given and for cautions.
    wanted : sequence of Group
        Parts of B to be given to A at once; may be empty.
    assumed : pair of frozenset of str
        Inputs of A and of B that were not given.
    scale : Scale
        Of the temperatures shown.
    """
    blocks = [
        given_pair(predictions, assumed, scale),
        _hold_lines(found, scale, "until" in assumed[0]),
        _share_table(found),
        _sentences(found),
        _given_part(found, wanted),
        _alone_table(found),
        _method(found),
        caution_lines(max(predictions, key=lambda p: float(p.scenario.start))),
    ]
    return in_blocks(blocks)


def _hold_lines(found: PairExplanation, scale: Scale, is_assumed: bool) -> str:
    limit = limit_text(found.limit, found.first.scenario, scale, is_assumed=is_assumed)
    lines = [
        f"  {letter} stays {limit} for {_held_text(estimate)}"
        for letter, estimate in (("A", found.first_time), ("B", found.second_time))
    ]
    return "\n".join([*lines, f"  {_verdict(found)}"])


def _held_text(estimate: Estimate) -> str:
    if math.isnan(estimate.low):
        return f"{duration_text(estimate.nominal)} (best guess)"
    low, high = (duration_text(bound, _step(estimate)) for bound in (estimate.low, estimate.high))
    # The best guess to the minute, as in the tables and in the differences that are made of it.
    return f"{duration_text(estimate.nominal)} (best guess; probably between {low} and {high})"


def _verdict(found: PairExplanation) -> str:
    if not found.groups:
        return "They are the same in every part: there is no difference to explain."
    ahead, behind = ("A", "B") if found.log_ratio.nominal >= 0.0 else ("B", "A")
    ratio, sign = found.log_ratio, 1.0 if ahead == "A" else -1.0
    text = f"{ahead} holds {ratio_text(math.exp(abs(ratio.nominal)), 'long')} {behind}"
    if math.isnan(ratio.low):
        return f"{text}."
    low, high = sorted(math.exp(sign * bound) for bound in (ratio.low, ratio.high))
    chance = found.chance_first_holds_longer if ahead == "A" else 1.0 - found.chance_first_holds_longer
    return f"{text} (probably {low:.3g} to {high:.3g} times), and longer in {percent(chance)} of {found.kept} samples."


def _share_table(found: PairExplanation) -> str:
    shares = _ordered(found)
    if not shares:
        return ""
    whole = found.seconds.nominal
    gains = [(share.group.value, share.seconds, share.log_ratio) for share in shares]
    gains.append(("together", found.seconds, found.log_ratio))
    rows = [
        (name, gain_text(seconds.nominal, whole), _interval_text(seconds), f"× {math.exp(ratio.nominal):.3g}", bar)
        for (name, seconds, ratio), bar in zip(gains, [*_bars(shares), ""], strict=True)
    ]
    lines = ["Where A gains on B (+) and where it loses (−)", aligned(rows)]
    if found.identical:
        lines.append(wrapped(f"the same in both, and so without a share: {', '.join(found.identical)}", "  "))
    return "\n".join(lines)


def _ordered(found: PairExplanation) -> list[Share]:
    return sorted(found.shares(), key=lambda share: -abs(share.log_ratio.nominal))


def _bars(shares: Sequence[Share]) -> list[str]:
    most = max((abs(share.log_ratio.nominal) for share in shares), default=0.0) or 1.0
    return [
        ("▰" if share.log_ratio.nominal >= 0.0 else "▱") * round(BAR_WIDTH * abs(share.log_ratio.nominal) / most)
        for share in shares
    ]


def signed_text(seconds: float, step: float = 60.0) -> str:
    """Return a duration with its sign, rounded to a step [s].

    Examples
    --------
    >>> signed_text(-5400.0)
    '−1 h 30 min'
    >>> signed_text(13.0)
    '0 min'
    """
    whole = round(abs(seconds) / step) * step
    if not whole:
        return "0 min" if step >= 60.0 else "0 s"
    return f"{'−' if seconds < 0.0 else '+'}{duration_text(whole, min(step, 60.0))}"


def gain_text(seconds: float, whole: float) -> str:
    """Return a gain in minutes, or in seconds where the whole of which it is a share takes no hour."""
    return signed_text(seconds, 60.0 if abs(whole) >= 3600.0 else 1.0)


def _step(estimate: Estimate) -> float:
    return sensible_step(estimate.high - estimate.low)


def _interval_text(estimate: Estimate) -> str:
    if math.isnan(estimate.low):
        return ""
    low, high = (signed_text(bound, _step(estimate)) for bound in (estimate.low, estimate.high))
    return f"({low} to {high})"


def _sentences(found: PairExplanation) -> str:
    shares = _ordered(found)
    least = LEAST_TOLD * max((abs(share.log_ratio.nominal) for share in shares), default=0.0)
    told = [share for share in shares if abs(share.log_ratio.nominal) > least]
    lines = [_sentence(share, found) for share in told]
    quiet = [share.group.value for share in shares if share not in told]
    if quiet:
        lines.append(f"Differs, but hardly matters: {', '.join(quiet)}.")
    return "\n".join(["In words", *listed(lines)]) if lines else ""


def _sentence(share: Share, found: PairExplanation) -> str:
    name, gain = share.group.value, share.log_ratio
    first, second = (part_text(share.group, c.container, c.scenario) for c in (found.first, found.second))
    versus = f"A {first}; B {second}" if first != second else f"both {first}, {_unseen(found)}"
    side = "in A's favour" if gain.nominal >= 0.0 else "in B's favour"
    unsure = ", though it may be the other way round" if gain.low < 0.0 < gain.high else ""
    factor = f"{math.exp(abs(gain.nominal)):.3g}"
    effect = "next to no difference" if factor == "1" else f"{factor} times the hold time {side}{unsure}"
    return f"{name[:1].upper()}{name[1:]} ({versus}): {effect}; {_REASONS[share.group]}."


def _unseen(found: PairExplanation) -> str:
    """Return why parts that read the same are not."""
    is_known = found.first.belief is not None or found.second.belief is not None
    return "but by the readings they are not alike" if is_known else "but not in what is too small for these words"


def _given_part(found: PairExplanation, wanted: Sequence[Group]) -> str:
    if not wanted:
        return ""
    names = " and ".join(group.value for group in wanted)
    idle = [group.value for group in wanted if group not in found.groups]
    note = f" ({', '.join(idle)}: the same in both)" if idle else ""
    after = found.first_with(wanted)
    change = gain_text(after.nominal - found.first_time.nominal, found.first_time.nominal)
    return wrapped(f"If A had the {names} of B{note}, it would hold {_held_text(after)}; {change}.", hanging="")


def _alone_table(found: PairExplanation) -> str:
    shares = _ordered(found)
    if len(shares) < 2:
        return ""
    rows: list[tuple[str, ...]] = [("", "A with that of B", "", "B with that of A", "")]
    for share in shares:
        in_first = _swapped(share.alone_in_first, found.first_time)
        rows.append((share.group.value, *in_first, *_swapped(share.alone_in_second, found.second_time)))
    return f"One part swapped alone (best guess)\n{aligned(rows)}"


def _swapped(swapped: Estimate, own: Estimate) -> tuple[str, str]:
    return duration_text(swapped.nominal), gain_text(swapped.nominal - own.nominal, own.nominal)


def _method(found: PairExplanation) -> str:
    hybrids = len(found.times)
    if hybrids == 1:
        return ""
    text = (
        f"How: all {hybrids} combinations of the parts that differ were computed; a part's share is what it adds on "
        "average over every order in which parts can be swapped (Shapley 1953), of the logarithm of the hold time. "
        "Minutes are in proportion to that. What a part does alone differs from its share where parts work together."
    )
    if found.draws:
        text += f" Intervals: {found.kept} samples, the same in every combination; nine in ten lie within."
    if found.dropped:
        text += f" {found.dropped} samples were left out, since a combination did not get to the limit in them."
    if found.failed:
        text += f" {left_out_words(found.failed, found.draws)}"
    lines = [wrapped(text, hanging="")]
    if found.adaptations:
        adapted = "; ".join(f"{what.value} ({count} of {hybrids})" for what, count in found.adaptations.items())
        lines.append(wrapped(f"To fit parts together: {adapted}."))
    return "\n".join(lines)


# --- JSON -----------------------------------------------------------------------------------------------------


def pair_document(
    found: PairExplanation,
    predictions: tuple[Prediction, Prediction],
    wanted: Sequence[Group],
    assumed: Sequence[frozenset[str]],
) -> dict[str, Any]:
    """Return the explanation as a JSON object whose keys carry their units."""
    return {
        "until_K": found.limit,
        "hold_time_A_s": plain(found.first_time),
        "hold_time_B_s": plain(found.second_time),
        "log_ratio": plain(found.log_ratio),
        "difference_s": plain(found.seconds),
        "chance_A_holds_longer": plain(found.chance_first_holds_longer),
        "shares": [_share_document(share, found) for share in found.shares()],
        "identical": plain(found.identical),
        "A_with_parts_of_B": {"parts": plain(wanted), "hold_time_s": plain(found.first_with(wanted))}
        if wanted
        else None,
        "combinations": len(found.times),
        "adaptations": plain(found.adaptations),
        "warnings": list(dict.fromkeys(line for p in predictions for line in warning_lines(p))),
        "inputs": {
            "A": _contender_document(found.first),
            "B": _contender_document(found.second),
            "draws": found.draws,
            "draws_left_out": found.dropped,
            "failed_draws": found.failed,
            "seed": found.seed,
            "assumed_A": sorted(assumed[0]),
            "assumed_B": sorted(assumed[1]),
        },
        "version": version(),
    }


def _share_document(share: Share, found: PairExplanation) -> dict[str, Any]:
    return {
        "part": share.group.value,
        "A": part_text(share.group, found.first.container, found.first.scenario),
        "B": part_text(share.group, found.second.container, found.second.scenario),
        "log_ratio": plain(share.log_ratio),
        "difference_s": plain(share.seconds),
        "A_with_that_of_B_s": plain(share.alone_in_first),
        "B_with_that_of_A_s": plain(share.alone_in_second),
    }


def _contender_document(contender: Contender) -> dict[str, Any]:
    return {
        "design": plain(contender.container),
        "scenario": plain(contender.scenario),
        "calibrated": contender.belief is not None,
    }
