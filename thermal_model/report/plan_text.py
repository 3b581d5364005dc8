"""What `holdtime plan` answers, in plain words, as tables, as JSON objects and as a CSV."""

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np

from geometries.unsure import NINE_IN_TEN
from thermal_model.plan.next_run import Advice, Lesson
from thermal_model.plan.repeats import ContainerComparison, Repeatability, Repeats
from thermal_model.plan.run_length import RunLength, longest, reading_times
from thermal_model.plan.schedule import Balance, Schedule
from thermal_model.plan.soak import Soak, longest_soak
from thermal_model.report.screen_text import held_text
from thermal_model.report.summary import limit_text
from thermal_model.uncertainty import PRIORS
from thermal_model.version import version
from thermal_model.words.cells import csv_text
from thermal_model.words.documents import entries, plain
from thermal_model.words.numbers import (
    MINUTE,
    Scale,
    aligned,
    duration_text,
    left_out_words,
    percent,
    sensible_step,
)
from thermal_model.words.paragraphs import in_blocks, wrapped

AS_GOOD = 1.05
"""Runs that leave a spread within this factor of the best one's are as good."""

WORTH_A_RUN = 0.05
"""A run that narrows the answer by less than this share is not worth its day; judgement."""


# --- how long a run ---------------------------------------------------------------------------------------------


def run_text(lengths: Sequence[RunLength], scale: Scale) -> str:
    """Return when each container passes the limit, how long to run, and when to read."""
    limit = scale.text(lengths[0].limit)
    rows = [("", "passes it after", "nine in ten", "so run"), *(_run_row(one) for one in lengths)]
    blocks = [f"Runs that see {limit} passed\n{aligned(rows)}"]
    blocks += [
        f"{one.container.name}: {left_out_words(one.failed, one.draws + one.failed)}" for one in lengths if one.failed
    ]
    together = longest(lengths)
    if together is None:
        unsure = ", ".join(one.container.name for one in lengths if one.length is None)
        advice = f"No length is sure to do for {unsure}: take a limit nearer to the start, or a warmer room."
        return in_blocks([*blocks, wrapped(advice)])
    if len(lengths) > 1:
        blocks.append(f"Side by side: {duration_text(together)} does for all of them.")
    first = min(one.low for one in lengths)
    times = ", ".join(_clock(time) for time in reading_times(together)[1:])
    advice = (
        f"Read what is poured in, then after {times} (hours and minutes). To see only the mark passed, watch from "
        f"{duration_text(first, 600.0)} on."
    )
    return in_blocks([*blocks, wrapped(advice)])


def _clock(seconds: float) -> str:
    hours, minutes = divmod(round(seconds / MINUTE), 60)
    return f"{hours}:{minutes:02d}"


def _run_row(one: RunLength) -> tuple[str, ...]:
    step = sensible_step(one.high - one.low) if math.isfinite(one.high - one.low) else MINUTE
    so = duration_text(one.length) if one.length is not None else f"{percent(1.0 - one.share_reached)} never pass it"
    between = f"{held_text(one.low, step)} to {held_text(one.high, step)}"
    return one.container.name, held_text(one.median, step), between, so


def run_document(lengths: Sequence[RunLength]) -> dict[str, Any]:
    """Return lengths of runs as a JSON object."""
    together = longest(lengths)
    return {
        "until_K": lengths[0].limit,
        "runs": [
            {
                "design": one.container.name,
                **entries(one, "low_s", "median_s", "high_s", "share_reached", "length_s"),
                "failed_draws": one.failed,
            }
            for one in lengths
        ],
        "length_of_all_s": together,
        "reading_times_s": None if together is None else reading_times(together).round().tolist(),
        **entries(lengths[0], "draws", "seed"),
    }


# --- how long to soak -------------------------------------------------------------------------------------------


def soak_text(soaks: Sequence[tuple[Soak, Soak | None]], start: float, room: float, scale: Scale) -> str:
    """Return how long to stand empty, lid on and lid off."""
    rows = [("", "lid on", "lid off", "comes last")]
    rows += [(on.container.name, _soak_words(on), _soak_words(off), node_words(on.slowest)) for on, off in soaks]
    within = f"{soaks[0][0].tolerance:.2g} K"
    lost = [
        f"{one.container.name}, lid {'on' if one.is_lid_on else 'off'}: "
        f"{left_out_words(one.failed, one.draws + one.failed)}"
        for one in (one for pair in soaks for one in pair if one is not None and one.failed)
    ]
    safe = [longest_soak([on for on, _ in soaks]), longest_soak([off or on for on, off in soaks])]
    on, off = (_up(time) for time in safe)
    return in_blocks(
        [
            f"Emptied at {scale.text(start)}, wiped dry, room {scale.text(room)}: back within {within} of the room\n"
            f"{aligned(rows)}",
            *lost,
            wrapped(
                f"To be on the safe side: {on} with the lid on, {off} with the lid off beside it. "
                "Water at room temperature inside for some minutes shortens it; what is wet gets colder than the room."
            ),
        ]
    )


def _soak_words(one: Soak | None) -> str:
    if one is None:
        return "has no lid"
    step = max(sensible_step(one.high - one.low), 300.0) if math.isfinite(one.high) else MINUTE
    return f"{held_text(one.median, step)} ({held_text(one.low, step)} to {held_text(one.high, step)})"


def _up(seconds: float) -> str:
    if not math.isfinite(seconds):
        return "more than two days"
    return duration_text(math.ceil(seconds / 900.0) * 900.0)


_NODES = {
    "contents": "the air inside",
    "headspace": "the air inside",
    "floor": "the inner floor",
    "wall": "the inner wall",
    "lip": "the lip",
    "shell": "the outer wall",
    "base": "the base",
    "lid": "the lid",
    "plug": "the plug",
    "jacket": "the jacket",
}


def node_words(node: str) -> str:
    """Return a node of the network in plain words."""
    return _NODES.get(node.split("_")[0], node.replace("_", " "))


def soak_document(soaks: Sequence[tuple[Soak, Soak | None]], draws: int, seed: int) -> dict[str, Any]:
    """Return soaks as a JSON object."""
    return {
        "tolerance_K": soaks[0][0].tolerance,
        "soaks": [
            {
                "design": on.container.name,
                "lid_on": _soak_entry(on),
                "lid_off": None if off is None else _soak_entry(off),
            }
            for on, off in soaks
        ],
        "draws": draws,
        "seed": seed,
    }


def _soak_entry(one: Soak) -> dict[str, Any]:
    return {**entries(one, "low_s", "median_s", "high_s"), "comes_last": one.slowest, "failed_draws": one.failed}


# --- how many repeats -------------------------------------------------------------------------------------------

_COMPARISON_WORDS = {
    ContainerComparison.UNPAIRED: "each run on a day of its own",
    ContainerComparison.PAIRED: "side by side, a pair a day",
    ContainerComparison.CROSSOVER: "side by side, probes swapped from pair to pair",
}


def repeats_text(
    plans: Sequence[Repeats],
    difference: str,
    repeatability: Repeatability,
    why: str,
    power: float,
    significance: float,
) -> str:
    """Return how many runs it takes to find a difference of log hold times."""
    rows = [_repeats_row(plan) for plan in plans]
    return in_blocks(
        [
            f"To find a difference of {difference} in hold time\n"
            f"(found {percent(power)} of the times that it is there, claimed {percent(significance)} of the times that "
            f"it is not)\n{aligned(rows)}",
            _repeatability_text(repeatability, why),
        ]
    )


def signed_percent(log_ratio: float) -> str:
    """Return a difference of log hold times as a percentage.

    Examples
    --------
    >>> signed_percent(0.04879)
    '5.0 %'
    """
    return f"{100.0 * math.expm1(log_ratio):.1f} %"


def _repeats_row(plan: Repeats) -> tuple[str, ...]:
    words = _COMPARISON_WORDS[plan.comparison]
    if plan.repeats is None:
        return words, "not to be found with a thousand runs", f"(found then {percent(plan.power)} of the times)"
    unit = "runs of each container" if plan.comparison is ContainerComparison.UNPAIRED else "pairs"
    return words, f"{plan.repeats} {unit}", f"(found {percent(plan.power)} of the times)"


def _repeatability_text(repeatability: Repeatability, why: str) -> str:
    within, between = (100.0 * value for value in (repeatability.within_day, repeatability.between_days))
    return wrapped(
        f"Spread taken for one container, two runs in three: {within:.1f} % from run to run, and {between:.1f} % "
        f"from day to day; {why}"
    )


def found_text(
    found: Sequence[tuple[ContainerComparison, float]],
    repeats: int,
    repeatability: Repeatability,
    why: str,
    power: float,
) -> str:
    """Return which differences a number of runs finds."""
    rows = [
        (_COMPARISON_WORDS[c], f"from {signed_percent(d)} on" if math.isfinite(d) else "none: too few for a test")
        for c, d in found
    ]
    return in_blocks(
        [
            f"{repeats} runs of each container find differences in hold time ({percent(power)} of the times that they "
            f"are there)\n{aligned(rows)}",
            _repeatability_text(repeatability, why),
        ]
    )


# --- schedule ---------------------------------------------------------------------------------------------------


def schedule_text(schedule: Schedule, balance: Balance, starts: Sequence[datetime] | None) -> str:
    """Return a schedule as a table to print, a line for each turn, and what is balanced."""
    rows = [("day", "turn" if starts is None else "starts", *schedule.probes)]
    by_moment: dict[tuple[int, int, str], dict[str, str]] = {}
    for number, run in enumerate(schedule.runs):
        when = f"{run.turn + 1}" if starts is None else f"{starts[number]:%a %Y-%m-%d %H:%M}"
        by_moment.setdefault((run.day, run.turn, when), {})[run.probe] = run.container
    for (day, _, when), taken in by_moment.items():
        rows.append((f"{day + 1}", when, *(taken.get(probe, "-") for probe in schedule.probes)))
    heading = (
        f"{len(schedule.containers)} containers, {len(schedule.probes)} probes, {len(schedule.runs)} runs on "
        f"{schedule.days} days"
    )
    return in_blocks([f"{heading}\n{aligned(rows)}", balance_text(balance, schedule)])


def balance_text(balance: Balance, schedule: Schedule) -> str:
    """Return the counts that say how balanced a schedule is."""
    rows = [
        ("runs of a container with each probe", _span(balance.with_each_probe)),
        ("runs of a container in each round", _span(balance.rounds_a_container)),
        ("containers that meet a probe first", _span(balance.each_probe_first)),
        ("runs of a probe on a full day", _span(balance.probe_a_day)),
        ("mean day of a container's runs", _span((balance.mean_day[0] + 1.0, balance.mean_day[1] + 1.0))),
    ]
    if len(schedule.probes) > 1:
        rows.append(("containers that meet a probe right after another", _span(balance.after_each_probe)))
        rows.append(("times that two containers stand side by side", f"{balance.together} at most"))
    if schedule.turns > 1:
        rows.append(("runs of a container in each turn of the day", _span(balance.in_each_turn)))
    if balance.days_between is not None:
        rows.append(("days from a container's run to its next", f"{balance.days_between} at least"))
    return f"Counted\n{aligned(rows)}"


def _span(ends: tuple[float, float]) -> str:
    low, high = (f"{end:.3g}" for end in ends)
    return low if low == high else f"{low} to {high}"


def schedule_csv(schedule: Schedule, starts: Sequence[datetime] | None) -> str:
    """Return a schedule as a CSV, a run in each row; comment lines say what made it."""
    rows: list[list[object]] = [
        ["run", "container", "probe", "day", "turn", "round", *(["date"] if starts is not None else [])]
    ]
    for number, run in enumerate(schedule.runs):
        date = [f"{starts[number]:%Y-%m-%dT%H:%M}"] if starts is not None else []
        turn = [run.day + 1, run.turn + 1, run.round + 1]
        rows.append([f"r{number + 1:03d}", run.container, run.probe, *turn, *date])
    return csv_text(rows, comments=[f"holdtime {version()}; schedule of {len(schedule.runs)} runs"])


def schedule_document(
    schedule: Schedule, balance: Balance, starts: Sequence[datetime] | None, seed: int
) -> dict[str, Any]:
    """Return a schedule and its counts as a JSON object."""
    return {
        **entries(schedule, "containers", "probes", "days"),
        "turns_a_day": schedule.turns,
        "runs": [
            {
                "container": run.container,
                "probe": run.probe,
                "day": run.day + 1,
                "turn": run.turn + 1,
                "round": run.round + 1,
                "starts": None if starts is None else starts[number].isoformat(timespec="minutes"),
            }
            for number, run in enumerate(schedule.runs)
        ],
        "balance": plain(balance),
        "seed": seed,
        "version": version(),
    }


# --- the run that teaches most ----------------------------------------------------------------------------------


def advice_text(advice: Advice, scale: Scale) -> str:
    """Return candidates in order of what they would teach, and in words which to make."""
    now, never = _bounds(advice.hold_time, advice.spread), _bounds(advice.hold_time, advice.passing_spread)
    rows = [("", "then known to", "teaches of"), *(_lesson_row(lesson, advice) for lesson in advice.lessons)]
    return in_blocks(
        [
            f"Wanted: how long it stays {limit_text(advice.limit, advice.target, scale)}. "
            f"Best guess {duration_text(advice.hold_time)}, known to {now}.",
            f"Runs of {duration_text(advice.length)} with {advice.readings} readings, the one that teaches most first\n"
            f"{aligned(rows)}",
            wrapped(_recommendation(advice)),
            wrapped(
                f"No run narrows it below {never}: that is fill, start and room of the day. "
                "Expected before any reading, all linear about the best guess; the limits hold nine in ten."
            ),
        ]
    )


def _bounds(hold_time: float, spread: float) -> str:
    low, high = hold_time * np.exp(-NINE_IN_TEN * spread), hold_time * np.exp(NINE_IN_TEN * spread)
    step = sensible_step(high - low)
    return f"{duration_text(low, step)} to {duration_text(high, step)}"


def _lesson_row(lesson: Lesson, advice: Advice) -> tuple[str, ...]:
    topics = "; ".join(PRIORS[name].label for name, _ in lesson.topics[:2])
    return lesson.candidate.name, _bounds(advice.hold_time, lesson.spread), topics or "little that matters here"


def _recommendation(advice: Advice) -> str:
    best = advice.lessons[0]
    others = [lesson.candidate.name for lesson in advice.lessons[1:] if lesson.spread <= AS_GOOD * best.spread]
    also = f" As good within 5 %: {'; '.join(others)}." if others else ""
    shrinks = 1.0 - best.spread / advice.spread
    if shrinks < WORTH_A_RUN:
        share = percent(WORTH_A_RUN)
        return f"None of these runs would narrow the answer by {share}: it is known about as well as it can be."
    return f"Next: {best.candidate.name}. It should narrow the answer by {percent(shrinks)}.{also}"


def advice_document(advice: Advice) -> dict[str, Any]:
    """Return advice as a JSON object."""
    return {
        "until_K": advice.limit,
        "hold_time_s": advice.hold_time,
        "log_spread": advice.spread,
        "log_spread_no_run_takes_away": advice.passing_spread,
        **entries(advice, "length_s", "readings"),
        "candidates": [
            {
                "name": lesson.candidate.name,
                "scenario": lesson.candidate.scenario.model_dump(mode="json", exclude_unset=True),
                "log_spread_after": lesson.spread,
                "information_nat": lesson.information,
                "narrows": dict(lesson.topics),
            }
            for lesson in advice.lessons
        ],
    }
