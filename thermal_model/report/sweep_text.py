"""What came out of a sweep as a reader who is no engineer wants it, and as a JSON object."""

from collections.abc import Sequence
from typing import Any

from geometries.ranges import Range
from thermal_model.prediction import Prediction
from thermal_model.report.summary import caution_lines, given_line, limit_text
from thermal_model.solver.engine import Outcome
from thermal_model.study.axes import Axis, axis_name
from thermal_model.study.journal import Journal
from thermal_model.study.sampling_kind import Sampling
from thermal_model.study.sweep import Extremes, Summary, Sweep, joined
from thermal_model.study.sweep_files import document
from thermal_model.words.numbers import Scale, aligned, duration_text
from thermal_model.words.paragraphs import in_blocks

MOST_ROWS = 40
"""Up to so many designs are all shown."""

MOST_REASONS = 4

_OUTCOMES = {
    Outcome.REACHED: "reach the last limit",
    Outcome.NOT_REACHED: "never do in the time followed",
    Outcome.INVALID: "are not possible and left out",
    Outcome.FAILED: "could not be computed",
}


def summary_document(sweep: Sweep, summary: Summary, scale: Scale) -> dict[str, Any]:
    """Return the extremes of each limit, what became of the designs, and what made them, as a JSON object."""
    limits = [
        {
            "until_K": limit,
            "shortest_s": extremes.shortest,
            "shortest_design": _values(sweep, extremes.shortest_row),
            "longest_s": extremes.longest,
            "longest_design": _values(sweep, extremes.longest_row),
        }
        for limit, extremes in zip(sweep.limits, summary.extremes, strict=True)
    ]
    return {"designs": sweep.plan.count, "possible_designs": summary.valid, "hold_times": limits} | document(
        sweep, summary, scale
    )


def _values(sweep: Sweep, row: int) -> dict[str, str] | None:
    if row < 0:
        return None
    return {"number": str(row)} | {axis.path: axis.text(value) for axis, value in _varied(sweep, row)}


def _varied(sweep: Sweep, row: int) -> list[tuple[Axis, float]]:
    """Return axes and values of a design; one at a time only the one that is varied."""
    rows = sweep.plan.rows(row, row + 1)
    axes = sweep.plan.axes
    if rows.varied is not None:
        k = int(rows.varied[0])
        axes = axes[k : k + 1] if k >= 0 else ()
    return [(axis, float(rows.values[axis.path][0])) for axis in axes]


def summary_text(
    sweep: Sweep, summary: Summary, journal: Journal, nominal: Prediction, assumed: frozenset[str], scale: Scale
) -> str:
    """Return the whole text: what was given, all designs if they are few, the extremes, what was left out.

    Parameters
    ----------
    sweep : Sweep
    summary : Summary
    journal : Journal
        Finished.
    nominal : Prediction
        Of the design itself.
    assumed : frozenset of str
        Inputs that were not given.
    scale : Scale
        Of the temperatures.
    """
    blocks = [
        f"Varied: {varied_text(sweep.plan.axes)}\nFrom {given_line(nominal, assumed, scale, varied_conditions(sweep))}",
        _table(sweep, journal, scale) if sweep.plan.count <= MOST_ROWS else "",
        *(_extremes_lines(sweep, k, found, scale) for k, found in enumerate(summary.extremes)),
        _outcome_lines(sweep, summary),
        "Computed with --quick: hold times within 0.1 % or 10 s." if sweep.is_quick else "",
        caution_lines(nominal),
    ]
    return in_blocks(blocks)


def varied_text(axes: Sequence[Axis]) -> str:
    """Return what varies and over what, such as "mouth_diameter 30 mm to 60 mm"."""
    return "; ".join(f"{axis_name(axis.path, axes)} {_span_text(axis)}" for axis in axes) or "nothing"


def _span_text(axis: Axis) -> str:
    if isinstance(axis.variation, Range):
        return f"{axis.text(axis.variation.low)} to {axis.text(axis.variation.high)}"
    return ", ".join(axis.text(value) for value in axis.points.tolist())


def varied_conditions(sweep: Sweep) -> frozenset[str]:
    """Return the fields of the scenario that vary."""
    return frozenset(
        axis.path.removeprefix("scenario.") for axis in sweep.plan.axes if axis.path.startswith("scenario.")
    )


def _table(sweep: Sweep, journal: Journal, scale: Scale) -> str:
    results = joined([piece for _, piece in journal.pieces()])
    axes, rows = sweep.plan.axes, sweep.plan.rows(0, sweep.plan.count)
    heading = (*(axis_name(axis.path, axes) for axis in axes), *(f"to {scale.text(limit)}" for limit in sweep.limits))
    lines = [heading]
    for row in range(sweep.plan.count):
        values = (axis.text(rows.values[axis.path][row]) for axis in axes)
        lines.append((*values, *_cells(results.hold_times[:, row].tolist(), int(results.outcome[row]))))
    return aligned(lines)


def _cells(times: list[float], outcome: int) -> list[str]:
    word = {Outcome.INVALID: "not possible", Outcome.FAILED: "not computed"}.get(Outcome(outcome), "not reached")
    return [duration_text(time) if time == time else word for time in times]


def _extremes_lines(sweep: Sweep, limit: int, found: Extremes, scale: Scale) -> str:
    head = f"Stays {limit_text(sweep.limits[limit], sweep.scenario, scale)}"
    if found.longest is None or found.shortest is None:
        return f"{head}: no design gets there in the {duration_text(sweep.horizon)} followed"
    rows = [
        ("longest", duration_text(found.longest), _row_text(sweep, found.longest_row)),
        ("shortest", duration_text(found.shortest), _row_text(sweep, found.shortest_row)),
    ]
    return f"{head} (best guess, no interval)\n{aligned(rows)}"


def _row_text(sweep: Sweep, row: int) -> str:
    parts = [f"{axis_name(axis.path, sweep.plan.axes)} {axis.text(value)}" for axis, value in _varied(sweep, row)]
    return ", ".join(parts) or "the design itself"


def _outcome_lines(sweep: Sweep, summary: Summary) -> str:
    counts = [f"{count} {_OUTCOMES[outcome]}" for outcome, count in summary.outcomes.items() if count]
    kind = "" if sweep.plan.sampling in (Sampling.GRID, Sampling.ONE_AT_A_TIME) else f", seed {sweep.plan.seed}"
    lines = [f"{sweep.plan.count} designs ({sweep.plan.sampling.value}{kind}): {'; '.join(counts)}"]
    reasons = sorted(summary.reasons.items(), key=lambda item: (-item[1][0], item[0]))
    for _, (count, first) in reasons[:MOST_REASONS]:
        lines.append(f"  {count} x {sweep.message(first)}")
    if len(reasons) > MOST_REASONS:
        lines.append(f"  and {len(reasons) - MOST_REASONS} more reasons; --json names them")
    if summary.first_failed is not None:
        where = _row_text(sweep, summary.first_failed)
        lines.append(f"  the computation gave up, first on the design with {where}; please report the case")
    return "\n".join(lines)
