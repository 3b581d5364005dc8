"""Rankings in plain words, as a JSON object and as a CSV."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from geometries.container import closed_capacity
from thermal_model.bench.reduce.hold_times import MeasuredHoldTime
from thermal_model.judge.beside_model import BesideModel
from thermal_model.judge.compare import CLEAR, Entry, Move, Ranking, Standing, by_capacity, moves
from thermal_model.report.results import path_label
from thermal_model.report.summary import conditions_text, limit_text
from thermal_model.scenario import Scenario
from thermal_model.uncertainty import low_median_high
from thermal_model.version import version
from thermal_model.words.cells import csv_text
from thermal_model.words.documents import entries, plain
from thermal_model.words.numbers import (
    Scale,
    aligned,
    duration_text,
    interval_texts,
    left_out_words,
    percent,
    quantity_text,
)
from thermal_model.words.paragraphs import wrapped

MOST_MOVES = 5

NEVER = "never reached"


def ranking_text(ranking: Ranking, title: str, assumed: frozenset[str], scale: Scale) -> str:
    """Return one list: place, hold time with interval, how surely it beats the next, a line between tiers."""
    limit = limit_text(ranking.limit, ranking.scenario, scale, is_assumed="until" in assumed)
    heading = (
        f"{title}: {conditions_text(ranking.scenario, fill_words(ranking.scenario), assumed, scale)}; time {limit}"
    )
    left = [f"  left out: {name}, {reason}" for name, reason in sorted(ranking.left_out.items())]
    left += [
        f"  {standing.entry.name}: {left_out_words(standing.failed, ranking.draws)}"
        for standing in ranking.standings
        if standing.failed
    ]
    return "\n".join([heading, *_table(ranking), *left])


def fill_words(scenario: Scenario) -> str:
    """Return the common fill of several containers, or that there is none."""
    return quantity_text(scenario.fill, "mL", 4) if scenario.fill is not None else "each full to its own lid"


def _table(ranking: Ranking) -> list[str]:
    has_draws, own_fill = ranking.draws > 0, ranking.scenario.fill is None
    head = ("", "", "predicted", "nine in ten" if has_draws else "", "beats the next" if has_draws else "")
    is_calibrated = any(standing.entry.belief is not None for standing in ranking.standings)
    rows = [(*head, *(("fill",) if own_fill else ()), *(("on the bench",) if is_calibrated else ()))]
    rows += [
        _row(place, standing, own_fill, is_calibrated) for place, standing in enumerate(ranking.standings, start=1)
    ]
    lines = aligned(rows).splitlines()
    out = [lines[0]]
    for standing, line, before in zip(ranking.standings, lines[1:], [None, *ranking.standings], strict=False):
        if before is not None and standing.tier != before.tier:
            out.append("  " + "·" * 24)
        out.append(line)
    return out


def _row(place: int, standing: Standing, own_fill: bool, is_calibrated: bool) -> tuple[str, ...]:
    low, high = standing.interval
    least, middle, most = interval_texts(low, standing.centre, high, NEVER)
    between = "" if math.isnan(low) else f"{least} to {most}"
    beats = "" if math.isnan(standing.beats_next) else percent(standing.beats_next)
    cells = (f"{place}.", standing.entry.name, middle, between, beats)
    fill = (quantity_text(standing.fill, "mL", 4),) if own_fill else ()
    benched = (_benched_words(standing.entry),) if is_calibrated else ()
    return (*cells, *fill, *benched)


def _benched_words(entry: Entry) -> str:
    if entry.benched_as is None:
        return "never"
    return "yes" if entry.benched_as == entry.name else f"as {entry.benched_as}"


def basis_text(entries: Sequence[Entry], *, is_bench: bool = False) -> str:
    """Return what the predictions rest on, and which were on a bench; names of a bench folder are its own."""
    benched = [entry for entry in entries if entry.benched_as is not None]
    never = [entry.name for entry in entries if entry.benched_as is None]
    if not any(entry.belief is not None for entry in entries):
        return "Predicted from the designs as described, what a ruler can't see as usual: no reading has been used."
    said = "Predicted from the designs as described"
    if benched:
        names = ", ".join(e.name if e.name == e.benched_as else f"{e.name} (as {e.benched_as})" for e in benched)
        is_all = not never and all(e.name == e.benched_as for e in benched)
        which = f"all {len(benched)} of them" if is_all else f"{len(benched)} of {len(entries)}: {names}"
        said += ", corrected by bench readings" + ("." if is_all and len(benched) == 1 else f" for {which}.")
    else:
        said += "; none of them was on the bench."
    if never:
        said += (
            f" Never on the bench: {', '.join(never)}; of them only what all containers have in common is corrected."
        )
        if not is_bench:
            said += " If one is a container of the bench under another name, say so: --calibrated-as DESIGN=NAME."
    return wrapped(said)


def measured_text(beside: Sequence[BesideModel], limit: float, scale: Scale) -> str:
    """Return what each run measured, in its own conditions, and what the model says in the same ones."""
    if not beside:
        return f"Measured: no run tells when {scale.text(limit)} was passed."
    has_draws = any(len(one.times) > 1 for one in beside)
    head = ("container", "run", "fill", "start", "room", "measured", "model", "nine in ten" if has_draws else "")
    title = (
        f"Measured, and the model in the same conditions: time to {scale.text(limit)}, each run at its own fill, start "
        "and room"
    )
    rows = [head, *(_measured_row(one, scale) for one in sorted(beside, key=lambda one: one.run.container))]
    return f"{wrapped(title)}\n{aligned(rows)}\n  Runs that went wrong are left out."


def _measured_row(one: BesideModel, scale: Scale) -> tuple[str, ...]:
    scenario, run = one.run.scenario, one.run
    start = scale.text(scenario.start, 3) if math.isfinite(run.start_spread) else "not measured"
    room = scale.text(scenario.room, 3) if math.isfinite(run.room_spread) else "not measured"
    nominal, (low, median, high) = float(one.times[0]), model_interval(one)
    least, middle, most = interval_texts(low, nominal if math.isnan(median) else median, high, NEVER)
    between = "" if math.isnan(low) else f"{least} to {most}"
    cells = (run.container, run.name, quantity_text(one.fill, "mL", 4), start, room)
    return (*cells, measured_words(one.measured), middle, between)


def model_interval(one: BesideModel) -> tuple[float, float, float]:
    """Return 5, 50 and 95 % of a run's draws; NaN without draws. [s]"""
    return low_median_high(one.times[1:]) if len(one.times) > 1 else (math.nan, math.nan, math.nan)


def measured_words(found: MeasuredHoldTime) -> str:
    """Return in short what a run measured."""
    if found.time is not None:
        low, middle, high = interval_texts(found.low, found.time, found.high)
        return f"{middle} ({low} to {high})"
    if math.isinf(found.high):
        return f"over {duration_text(found.low)}"
    return f"{duration_text(found.low)} to {duration_text(found.high)}"


def tiers_text(ranking: Ranking) -> str:
    """Return what the lines between tiers mean, and what they say here."""
    if not ranking.draws or not ranking.standings:
        return "Without a sample there are no intervals, and nothing says which differences are real."
    heads: dict[int, list[str]] = {}
    for standing in ranking.standings:
        heads.setdefault(standing.tier, []).append(standing.entry.name)
    if len(heads) == 1:
        return "None can honestly be told apart from the first: what is unknown of each outweighs the differences."
    together = [names for names in heads.values() if len(names) > 1]
    said = [f"{', '.join(names[1:])} can't honestly be told apart from {names[0]}" for names in together]
    rule = (
        "A dotted line: what stands below holds shorter than the head of the tier above in at least "
        f"{100 * CLEAR:g} % of the samples."
    )
    return "\n".join([rule, *(f"{line}." for line in said)])


def moves_text(first: Ranking, second: Ranking) -> str:
    """Return which containers change places from the hot list to the cold one, and why."""
    found = moves(first, second)
    if not found:
        return "Hot and cold give the same order."
    containers = {s.entry.name: s.entry.container for s in first.standings}
    lines = [f"  {_move_words(move, path_label(move.path, containers[move.name]))}" for move in found[:MOST_MOVES]]
    if len(found) > MOST_MOVES:
        lines.append(f"  and {len(found) - MOST_MOVES} more, by fewer places")
    reason = (
        "Above hot contents vapour carries most of what goes to lid and neck; above cold contents the air lies still\n"
        "and there is none, so what lid and plug decide hot, the wall decides cold."
    )
    return "\n".join(["What changes places from hot to cold, and the heat path that changes most", *lines, reason])


def _move_words(move: Move, label: str) -> str:
    way = "up" if move.after < move.before else "down"
    shares = f"{label} {percent(move.share_before)} of its loss hot, {percent(move.share_after)} cold"
    return f"{move.name}: {way} from {move.before} to {move.after} ({shares})"


def capacity_text(ranking: Ranking) -> str:
    """Return the best of each group of capacity."""
    rows = []
    for (low, high), members in by_capacity(ranking).items():
        best = members[0]
        band = f"over {low * 1e6:.0f} mL" if math.isinf(high) else f"{low * 1e6:.0f} to {high * 1e6:.0f} mL"
        others = ", ".join(s.entry.name for s in members[1:] if s.tier == best.tier)
        middle = interval_texts(best.interval[0], best.centre, best.interval[1], NEVER)[1]
        rows.append((band, best.entry.name, middle, f"as good: {others}" if others else ""))
    return "By capacity, the best of each group\n" + aligned(rows)


def ranking_document(ranking: Ranking) -> dict[str, Any]:
    """Return a list as a JSON object whose keys carry their units."""
    return {
        "until_K": ranking.limit,
        "scenario": ranking.scenario.model_dump(mode="json"),
        "standings": [_standing_document(place, s) for place, s in enumerate(ranking.standings, start=1)],
        "left_out": dict(sorted(ranking.left_out.items())),
        "told_apart_from_probability": CLEAR,
        **entries(ranking, "draws", "seed"),
        "version": version(),
    }


def _standing_document(place: int, standing: Standing) -> dict[str, Any]:
    low, high = standing.interval
    return {
        "place": place,
        "name": standing.entry.name,
        **entries(standing, "tier", "fill_m3"),
        "capacity_m3": float(closed_capacity(standing.entry.container)),
        "predicted_s": plain({"nominal": standing.nominal, "median": standing.centre, "low": low, "high": high}),
        "is_calibrated": standing.entry.benched_as is not None,
        "calibrated_as": standing.entry.benched_as,
        "probability_beats_next": plain(standing.beats_next),
        "failed_draws": standing.failed,
        "heat_path_shares": standing.paths,
    }


def measured_document(one: BesideModel) -> dict[str, Any]:
    """Return what a run measured, and the model in its conditions, as a JSON object."""
    run, (low, median, high) = one.run, model_interval(one)
    return {
        "container": run.container,
        "run": run.name,
        "until_K": one.measured.limit,
        "fill_m3": one.fill,
        "start_K": float(run.scenario.start),
        "start_is_measured": math.isfinite(run.start_spread),
        "room_K": float(run.scenario.room),
        "room_is_measured": math.isfinite(run.room_spread),
        "measured_s": entries(one.measured, "low", "time", "high", "basis"),
        "model_s": plain({"nominal": one.times[0], "median": median, "low": low, "high": high}),
    }


def rankings_csv(rankings: Mapping[str, Ranking]) -> str:
    """Return lists as one CSV, a row for each container and list."""
    headings = ["list", "place", "name", "tier", "fill [mL]", "hold time [h]", "low [h]", "high [h]", "beats the next"]
    rows: list[list[object]] = [[*headings]]
    for title, ranking in rankings.items():
        for place, standing in enumerate(ranking.standings, start=1):
            hours = [_cell(t / 3600.0) for t in (standing.centre, *standing.interval)]
            beats = _cell(standing.beats_next)
            cells = [f"{standing.fill * 1e6:.1f}", *hours, beats]
            rows.append([title, place, standing.entry.name, standing.tier, *cells])
    return csv_text(rows)


def _cell(value: float) -> str:
    return f"{value:.4f}" if math.isfinite(value) else ""
