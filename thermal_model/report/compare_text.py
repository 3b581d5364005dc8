"""Rankings in plain words, as a JSON object and as a CSV."""

import csv
import io
import math
from collections.abc import Mapping, Sequence
from typing import Any

from geometries.container import closed_capacity
from thermal_model.bench.reduce.hold_times import MeasuredHoldTime
from thermal_model.judge.compare import CLEAR, Move, Ranking, Standing, by_capacity, moves
from thermal_model.report.results import path_label
from thermal_model.report.summary import conditions_text
from thermal_model.version import version
from thermal_model.words.numbers import MINUTE, Scale, aligned, duration_text, percent, quantity_text, sensible_step

MOST_MOVES = 5

Measured = Mapping[str, Sequence[MeasuredHoldTime]]
"""Measured hold times of each container, in the runs' own conditions."""


def ranking_text(ranking: Ranking, title: str, assumed: frozenset[str], scale: Scale, measured: Measured) -> str:
    """Return one list: place, hold time with interval, how surely it beats the next, a line between tiers."""
    side = "below" if ranking.limit > ranking.scenario.start else "above"
    limit = f"time {side} {scale.text(ranking.limit)}{' (assumed)' if 'until' in assumed else ''}"
    heading = f"{title}: {conditions_text(ranking.scenario, fill_words(ranking), assumed, scale)}; {limit}"
    left = [f"  left out: {name}, {reason}" for name, reason in sorted(ranking.left_out.items())]
    return "\n".join([heading, *_table(ranking, measured), *left])


def fill_words(ranking: Ranking) -> str:
    """Return the common fill, or that there is none."""
    fill = ranking.scenario.fill
    return quantity_text(fill, "mL", 4) if fill is not None else "each full to its own lid"


def _table(ranking: Ranking, measured: Measured) -> list[str]:
    has_draws, own_fill = ranking.draws > 0, ranking.scenario.fill is None
    head = ("", "", "predicted", "nine in ten" if has_draws else "", "beats the next" if has_draws else "")
    extra = (*(("fill",) if own_fill else ()), *(("measured, as run",) if measured else ()))
    rows = [(*head, *extra)]
    rows += [_row(place, standing, own_fill, measured) for place, standing in enumerate(ranking.standings, start=1)]
    lines = aligned(rows).splitlines()
    out = [lines[0]]
    for standing, line, before in zip(ranking.standings, lines[1:], [None, *ranking.standings], strict=False):
        if before is not None and standing.tier != before.tier:
            out.append("  " + "·" * 24)
        out.append(line)
    return out


def _row(place: int, standing: Standing, own_fill: bool, measured: Measured) -> tuple[str, ...]:
    low, high = standing.interval
    step = sensible_step(high - low) if math.isfinite(high - low) else MINUTE
    between = "" if math.isnan(low) else f"{held(low, step)} to {held(high, step)}"
    beats = "" if math.isnan(standing.beats_next) else percent(standing.beats_next)
    cells = (f"{place}.", standing.entry.name, held(standing.centre, step), between, beats)
    fill = (quantity_text(standing.fill, "mL", 4),) if own_fill else ()
    seen = (measured_words(measured.get(standing.entry.name, ())),) if measured else ()
    return (*cells, *fill, *seen)


def held(seconds: float, step: float) -> str:
    """Return a duration, or that the limit is never reached."""
    return duration_text(seconds, step) if math.isfinite(seconds) else "never reached"


def measured_words(found: Sequence[MeasuredHoldTime]) -> str:
    """Return in short what runs measured, each in its own conditions."""
    times = sorted(m.time for m in found if m.time is not None)
    if len(times) > 1:
        return f"{len(times)} runs, {duration_text(times[0])} to {duration_text(times[-1])}"
    if times:
        one = next(m for m in found if m.time is not None)
        return f"1 run, {duration_text(times[0])} ({duration_text(one.low)} to {duration_text(one.high)})"
    looks = [f"over {duration_text(m.low)}" if math.isinf(m.high) else _between(m) for m in found]
    return "; ".join(looks) or "no run"


def _between(found: MeasuredHoldTime) -> str:
    return f"{duration_text(found.low)} to {duration_text(found.high)}"


def tiers_text(ranking: Ranking) -> str:
    """Return what the lines between tiers mean, and what they say here."""
    if not ranking.draws or not ranking.standings:
        return "Without draws there are no intervals, and nothing says which differences are real."
    heads: dict[int, list[str]] = {}
    for standing in ranking.standings:
        heads.setdefault(standing.tier, []).append(standing.entry.name)
    if len(heads) == 1:
        return "None can honestly be told apart from the first: what is unknown of each outweighs the differences."
    together = [names for names in heads.values() if len(names) > 1]
    said = [f"{', '.join(names[1:])} can't honestly be told apart from {names[0]}" for names in together]
    rule = (
        "A dotted line: what stands below is beaten by the head of the tier above in at least "
        f"{100 * CLEAR:g} % of the draws."
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
        rows.append((band, best.entry.name, held(best.centre, MINUTE), f"as good: {others}" if others else ""))
    return "By capacity, the best of each group\n" + aligned(rows)


def ranking_document(ranking: Ranking, measured: Measured) -> dict[str, Any]:
    """Return a list as a JSON object whose keys carry their units."""
    return {
        "until_K": ranking.limit,
        "scenario": ranking.scenario.model_dump(mode="json"),
        "standings": [_standing_document(place, s, measured) for place, s in enumerate(ranking.standings, start=1)],
        "left_out": dict(sorted(ranking.left_out.items())),
        "told_apart_from_probability": CLEAR,
        "draws": ranking.draws,
        "seed": ranking.seed,
        "version": version(),
    }


def _standing_document(place: int, standing: Standing, measured: Measured) -> dict[str, Any]:
    low, high = standing.interval
    return {
        "place": place,
        "name": standing.entry.name,
        "tier": standing.tier,
        "fill_m3": standing.fill,
        "capacity_m3": float(closed_capacity(standing.entry.container)),
        "predicted_s": {
            "nominal": _finite(standing.nominal),
            "median": _finite(standing.centre),
            "low": _finite(low),
            "high": _finite(high),
        },
        "measured_as_run_s": [
            {"low": _finite(m.low), "time": m.time, "high": _finite(m.high), "basis": m.basis.value}
            for m in measured.get(standing.entry.name, ())
        ],
        "is_calibrated": standing.entry.belief is not None,
        "probability_beats_next": _finite(standing.beats_next),
        "heat_path_shares": standing.paths,
    }


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def rankings_csv(rankings: Mapping[str, Ranking]) -> str:
    """Return lists as one CSV, a row for each container and list."""
    table = io.StringIO()
    writer = csv.writer(table, lineterminator="\n")
    writer.writerow(
        ["list", "place", "name", "tier", "fill [mL]", "hold time [h]", "low [h]", "high [h]", "beats the next"]
    )
    for title, ranking in rankings.items():
        for place, standing in enumerate(ranking.standings, start=1):
            hours = [_cell(t / 3600.0) for t in (standing.centre, *standing.interval)]
            beats = _cell(standing.beats_next)
            cells = [f"{standing.fill * 1e6:.1f}", *hours, beats]
            writer.writerow([title, place, standing.entry.name, standing.tier, *cells])
    return table.getvalue()


def _cell(value: float) -> str:
    return f"{value:.4f}" if math.isfinite(value) else ""
