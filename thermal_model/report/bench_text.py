"""What a bench holds, what is wrong or missing in it, and what follows from its readings without a model."""

from itertools import combinations
from typing import Any

from geometries.constants import ZERO_CELSIUS
from thermal_model.bench.columns import File
from thermal_model.bench.read.bench_file import ICE_WATER
from thermal_model.bench.records import Bench, Run
from thermal_model.bench.reduce.comparison import MeasuredRepeatability
from thermal_model.bench.reduce.evidence import Offsets
from thermal_model.bench.reduce.hold_times import Basis, MeasuredHoldTime
from thermal_model.bench.reduce.reduction import Reduction
from thermal_model.report.safety import BURN_TEMPERATURES, seconds_to_burn
from thermal_model.version import version
from thermal_model.words.documents import entries
from thermal_model.words.numbers import Scale, aligned, duration_text, sensible_step
from thermal_model.words.paragraphs import in_blocks, titled

THERMOMETERS = "Thermometers (right within what is given, two times in three)"


def check_text(bench: Bench, missing: list[str]) -> str:
    """Return what a bench holds, what looks wrong, what is missing and what was taken for granted."""
    heading = ("run", "container", "probe", "readings", "marks", "watched for", "from", "to")
    blocks = [
        f"{bench.name}: {_counted(bench)}\n{aligned([heading, *map(_run_row, bench.runs)])}",
        titled("Looks wrong, but can be read", bench.warnings),
        titled("Missing", missing),
        titled("Taken for granted", bench.assumptions),
        "Nothing was changed in the folder.",
    ]
    return in_blocks(blocks)


def _counted(bench: Bench) -> str:
    runs, containers = len(bench.runs), len(bench.containers)
    return f"{runs} run{'s' if runs != 1 else ''} of {containers} container{'s' if containers != 1 else ''}"


def _run_row(run: Run) -> tuple[str, ...]:
    shown = [reading.temperature for reading in run.readings]
    ends = [reading.time for reading in run.readings] + [p.latest for p in run.passings if p.latest < float("inf")]
    return (
        run.name,
        run.container,
        run.probe,
        str(len(run.readings) or "-"),
        str(len(run.passings) or "-"),
        duration_text(max(ends)) if ends else "-",
        Scale.CELSIUS.text(shown[0], 3) if shown else "-",
        Scale.CELSIUS.text(shown[-1], 3) if shown else "-",
    )


def check_document(bench: Bench, missing: list[str]) -> dict[str, Any]:
    """Return the same as a JSON object."""
    return {
        "bench": bench.name,
        "runs": [
            {
                "run": run.name,
                **entries(run, "container", "probe"),
                "readings": len(run.readings),
                "passings": len(run.passings),
                "line": run.line,
            }
            for run in bench.runs
        ],
        "warnings": list(bench.warnings),
        "missing": missing,
        "assumptions": list(bench.assumptions),
        "files": [str(file) for file in File],
    }


# --- the reduction ----------------------------------------------------------------------------------------------


def reduction_text(reduction: Reduction, scale: Scale) -> str:
    """Return what the readings say by themselves."""
    bench = reduction.bench
    blocks = [
        f"{bench.name}: {_counted(bench)}, from the readings alone",
        _hold_time_block(reduction, scale),
        titled("Flagged, not dropped", (f"{f.run}: {f.cause}? It {f.evidence}." for f in reduction.flags)),
        _offset_block(reduction),
        _repeatability_block(reduction),
        _dip_block(reduction),
        titled("Looks wrong, but can be read", bench.warnings),
        titled("Take care", (burn_line(bench),)),
    ]
    return in_blocks(blocks)


def _hold_time_block(reduction: Reduction, scale: Scale) -> str:
    flagged = {flag.run for flag in reduction.flags}
    rows = [
        (f"{run.name}{' *' if run.name in flagged else ''}", run.container, scale.text(held.limit), *_held(held))
        for run in reduction.bench.runs
        for held in reduction.hold_times[run.name]
    ]
    if not rows:
        return ""
    heading = ("run", "container", "to", "held for", "nine in ten", "rests on")
    note = "\n  * flagged, see below" if flagged else ""
    return f"Hold times\n{aligned([heading, *rows])}{note}"


def _held(held: MeasuredHoldTime) -> tuple[str, str, str]:
    basis = held.basis.value
    if held.basis is Basis.UNKNOWN:
        return "-", "-", basis
    if held.basis is Basis.AT_LEAST:
        return f"at least {duration_text(held.low)}", "-", basis
    step = sensible_step(held.high - held.low)
    ends = f"{duration_text(held.low, step)} to {duration_text(held.high, step)}"
    if held.time is None:
        return "somewhere in", ends, basis
    return duration_text(held.time, step), ends, basis


def _offset_block(reduction: Reduction) -> str:
    offsets = reduction.offsets
    names = [name for name in offsets.names if name != ICE_WATER]
    compared = {name for c in reduction.comparisons for name in (c.first, c.second)}
    lines = [_offset_line(name, offsets, name in compared) for name in names]
    for first, second in combinations(names, 2):
        difference, spread = offsets.difference(first, second)
        lines.append(f"{first} against {second}: {difference:+.2f} K, give or take {spread:.2f} K")
    sources = [f"{c.first} less {c.second}: {c.difference:+.2f} K ({c.source})" for c in reduction.comparisons]
    lines += ["seen:", *(f"  {line}" for line in sources)] if sources else []
    return titled(THERMOMETERS, lines)


def _offset_line(name: str, offsets: Offsets, is_compared: bool) -> str:
    if not is_compared:
        return f"{name}: nobody checked it; it may be off by {offsets.spread(name):.2f} K, as {File.BENCH} says"
    return offset_text(name, offsets.of(name), offsets.spread(name))


def offset_text(name: str, offset: float, spread: float) -> str:
    """Return by how much a thermometer is off, and how surely. [K]"""
    return f"{name} shows {abs(offset):.2f} K too {'much' if offset > 0.0 else 'little'}, give or take {spread:.2f} K"


def _repeatability_block(reduction: Reduction) -> str:
    found, of_all = reduction.repeatability, reduction.repeatability_of_all
    lines = []
    if found.rate_freedom:
        wider = f"; {100.0 * of_all.rate:.1f} % with the flagged ones" if reduction.flags else ""
        freedom = f"from {found.rate_freedom} repeats"
        lines.append(f"cooling rate: {100.0 * found.rate:.1f} % from run to run ({freedom}){wider}")
    if found.start_freedom:
        wider = f"; {of_all.start:.1f} K with the flagged ones" if reduction.flags else ""
        lines.append(f"start: {found.start:.1f} K (from {found.start_freedom} repeats){wider}")
    return titled(
        "Repeatability (two runs in three lie this near to the mean, or nearer)",
        lines or ["no run is repeated: nothing can be said"],
    )


def _dip_block(reduction: Reduction) -> str:
    rows = [
        (
            run.name,
            f"{dip.dip:.1f} K",
            f"{dip.spread:.1f} K",
            f"{dip.expected_low:.1f} to {dip.expected_high:.1f} K",
        )
        for run in reduction.bench.runs
        if (dip := reduction.dips.get(run.name)) is not None
    ]
    if not rows:
        return ""
    return f"Lost to the walls on pouring\n{aligned([('run', 'seen', 'give or take', 'walls can take'), *rows])}"


def burn_line(bench: Bench) -> str:
    """Return the usual caution for hot benches."""
    hottest = max(float(run.scenario.start) for run in bench.runs)
    if hottest < BURN_TEMPERATURES[0]:
        return "A bench run is no food-safety record; local codes and licensed practice decide."
    seconds = float(seconds_to_burn(hottest))
    within = "in about a second" if seconds < 2.0 else f"within {duration_text(seconds, 1.0)}"
    return (
        f"Contents at {hottest - ZERO_CELSIUS:.0f} °C burn skin {within}, a child's sooner; open hot containers "
        "slowly. A bench run is no food-safety record; local codes and licensed practice decide."
    )


def reduction_document(reduction: Reduction) -> dict[str, Any]:
    """Return a reduction as a JSON object whose keys carry their unit."""
    offsets = reduction.offsets
    return {
        "bench": reduction.bench.name,
        "runs": [_run_document(run, reduction) for run in reduction.bench.runs],
        "probe_offsets_K": {name: offsets.of(name) for name in offsets.names},
        "probe_offsets_covariance_K2": offsets.covariance.tolist(),
        "comparisons": [
            {
                **entries(c, "first", "second", "difference_K"),
                "standard_uncertainty_K": c.spread,
                "source": c.source,
            }
            for c in reduction.comparisons
        ],
        "repeatability": _repeatability_document(reduction.repeatability),
        "repeatability_of_all_runs": _repeatability_document(reduction.repeatability_of_all),
        "groups": [[run.name for run in group] for group in reduction.groups],
        **entries(reduction.bench, "warnings", "assumptions"),
        "version": version(),
    }


def _run_document(run: Run, reduction: Reduction) -> dict[str, Any]:
    rate, dip = reduction.rates.get(run.name), reduction.dips.get(run.name)
    flag = next((flag for flag in reduction.flags if flag.run == run.name), None)
    return {
        "run": run.name,
        "container": run.container,
        "hold_times": [
            {
                "until_K": held.limit,
                "basis": held.basis.name.lower(),
                "time_s": held.time,
                "standard_uncertainty_s": held.spread,
                **entries(held, "low_s", "high_s"),
            }
            for held in reduction.hold_times[run.name]
        ],
        "cooling_rate_per_s": None if rate is None else rate.rate,
        "cooling_rate_relative_uncertainty": None if rate is None else rate.spread,
        "pour_dip_K": None if dip is None else dip.dip,
        "pour_dip_standard_uncertainty_K": None if dip is None else dip.spread,
        "flag": None if flag is None else {"likely_cause": flag.cause, "evidence": flag.evidence},
    }


def _repeatability_document(found: MeasuredRepeatability) -> dict[str, Any]:
    return {
        "cooling_rate_relative": found.rate if found.rate_freedom else None,
        "cooling_rate_degrees_of_freedom": found.rate_freedom,
        "start_K": found.start if found.start_freedom else None,
        "start_degrees_of_freedom": found.start_freedom,
    }
