"""What a calibration and its validation say, as text and as JSON objects."""

from typing import Any

import numpy as np

from thermal_model.bench.calibration.calibration import Calibration, OddRun
from thermal_model.bench.calibration.coordinates import Owner
from thermal_model.bench.calibration.identifiability import Confusion
from thermal_model.bench.calibration.posterior import Finding, findings, probe_offsets, shown_of_run
from thermal_model.bench.calibration.run_faults import EXPLANATIONS
from thermal_model.bench.calibration.sampling import Sampled
from thermal_model.bench.calibration.validation import LeftOut, Validation
from thermal_model.bench.records import Bench
from thermal_model.report.bench_text import THERMOMETERS, burn_line, offset_text
from thermal_model.version import version
from thermal_model.words.documents import entries
from thermal_model.words.numbers import aligned, duration_text, percent
from thermal_model.words.paragraphs import in_blocks, titled, wrapped

SHOWN_SPREAD, SHOWN_MOVE = 0.9, 0.3
"""An unknown is listed if this little is left of its prior's width, or the data moved it so far. [-]"""


def calibration_text(found: Calibration) -> str:
    """Return what a calibration says, for a terminal."""
    bench = found.fit.problem.bench
    blocks = [
        _heading(found),
        titled("Can't be trusted as it stands" if _is_untrusted(found) else "Take note", found.warnings),
        sample_text(found.sampled),
        _findings_block(found),
        _probe_block(found),
        titled(
            "Runs that do not go with the others, not dropped: how probable each explanation is",
            (f"{odd.run}: {_causes(odd)}" for odd in found.odd_runs),
        ),
        titled("What these runs can't tell apart", map(confusion_line, found.confusions)),
        validation_block(found.validation),
        titled("Take care", (burn_line(bench),)),
    ]
    return in_blocks(blocks)


def _is_untrusted(found: Calibration) -> bool:
    runs = found.fit.problem.bench.runs
    return any(not np.isfinite(run.room_spread) for run in runs) or not found.fit.converged


def _heading(found: Calibration) -> str:
    bench, evidence = found.fit.problem.bench, found.fit.evidence
    marks = int(evidence.is_mark.sum())
    readings = evidence.count - marks - len(bench.checks)
    return (
        f"{bench.name}: {len(bench.runs)} runs of {len(bench.containers)} containers, "
        f"{readings} readings, {marks} marks, {len(bench.checks)} checks of thermometers"
    )


def listed_findings(found: Calibration) -> list[Finding]:
    """Return what the readings say of containers and of what is common to them, as far as they say anything."""
    return [
        finding
        for finding in findings(found.fit)
        if finding.coordinate.kind in (Owner.COMMON, Owner.CONTAINER)
        and (finding.spread < SHOWN_SPREAD or abs(finding.moved) > SHOWN_MOVE)
    ]


def sample_text(drawn: Sampled | None) -> str:
    """Return how far the chains of a sample agree, "" without one."""
    if drawn is None:
        return ""
    where = f" on {len(drawn.unsettled)} of {drawn.draws.shape[1]} unknowns" if drawn.unsettled else ""
    agree = "agree" if drawn.is_good else f"do not agree well enough{where}"
    stuck = f" They got stuck {drawn.divergences} times." if drawn.divergences else ""
    line = (
        f"{len(drawn.draws)} samples in several chains: the chains {agree}.{stuck} The quick stand-in for the model "
        f"that they use misses it by {percent(drawn.emulator_error)} of what readings scatter."
    )
    return titled("Sample of what the readings allow", [line])


def sample_expert_text(drawn: Sampled | None) -> str:
    """Return the diagnostics of a sample in the field's own terms."""
    if drawn is None:
        return titled("For experts", ["a Laplace approximation at the best fit; --sample draws from the posterior"])
    line = (
        f"{len(drawn.draws)} draws from the posterior: largest R-hat {drawn.largest_r_hat:.3f}, smallest bulk "
        f"effective size {drawn.smallest_size:.0f}, {drawn.divergences} divergences, seed {drawn.seed}"
    )
    return titled("For experts", [line])


def _findings_block(found: Calibration) -> str:
    listed = listed_findings(found)
    if not listed:
        return "The readings say nothing that was not assumed before."
    heading = ("container", "unknown", "factor", "nine in ten", "moved", "left")
    rows = [
        (
            finding.coordinate.owner or "all",
            finding.coordinate.label,
            _value(finding, finding.value),
            f"{_value(finding, finding.low)} to {_value(finding, finding.high)}",
            f"{finding.moved:+.1f}",
            percent(finding.spread),
        )
        for finding in listed
    ]
    note = (
        "A factor multiplies what the model would assume. Moved: by how much, against how far off it was likely "
        "to be (1: just so far); left: how much of what was not known is left. "
        "What is not listed the readings hardly speak of."
    )
    return f"What the readings say\n{aligned([heading, *rows])}\n{wrapped(note, '  ', '')}"


def _value(finding: Finding, value: float) -> str:
    if finding.is_factor:
        return f"{value:.2f}"
    return f"{1e3 * value:+.2f} mm" if finding.coordinate.name == "mouth_diameter" else f"{value:+.2f} K"


def _probe_block(found: Calibration) -> str:
    lines = [
        offset_text(name, offset, deviation)
        for name, (offset, deviation) in probe_offsets(found.fit).items()
        if any(run.probe == name for run in found.fit.problem.bench.runs)
    ]
    return titled(THERMOMETERS, lines)


def _causes(odd: OddRun) -> str:
    return "; ".join(f"{percent(chance)} {cause}" for cause, chance in odd.causes)


def confusion_line(one: Confusion) -> str:
    """Return a confusion in words, with the run that would help."""
    what = f"{one.container}: {one.first.label}, or {one.second.label}? "
    pull = "only their sum shows" if one.correlation < 0.0 else "only their difference shows"
    if one.remedy.narrows < 0.02:
        return (
            f"{what}These runs can't say: {pull}, and none of the further runs that a kitchen can do would help much."
        )
    words = one.remedy.words[:1].upper() + one.remedy.words[1:]
    return f"{what}These runs can't say: {pull}. {words} would narrow it by {100.0 * one.remedy.narrows:.0f}\u00a0%."


def validation_block(validation: Validation) -> str:
    """Return how well the others predict each run."""
    if not validation.runs:
        return ""
    heading = ("run", "others", "at", "predicted off by", "claimed", "as time", "inside")
    rows = [_left_out_row(item) for item in validation.runs]
    count = sum(item.is_inside for item in validation.runs)
    summary = (
        f"Half of the runs are predicted within {100.0 * validation.median_time_error:.1f} % of the time; "
        f"{count} of {len(validation.runs)} end inside their 90 % interval, and {percent(validation.covered)} "
        "of all readings lie inside theirs."
    )
    title = "Each run predicted from the others (leave one out)"
    return f"{title}\n{aligned([heading, *rows])}\n{wrapped(summary, '  ', '')}"


def _left_out_row(item: LeftOut) -> tuple[str, ...]:
    return (
        item.run,
        str(item.others),
        duration_text(item.last_time),
        f"{item.error:+.1f} K",
        f"{item.deviation:.1f} K",
        f"{100.0 * item.time_error:+.1f} %",
        "yes" if item.is_inside else "no",
    )


def validation_text(bench: Bench, validation: Validation, warnings: tuple[str, ...]) -> str:
    """Return what a validation says, for a terminal."""
    heading = f"{bench.name}: {len(bench.runs)} runs of {len(bench.containers)} containers"
    note = (
        "Others: runs of the same container that it is predicted from; with none it is predicted from what is common "
        "and from what was assumed. Claimed: two times in three it is off by no more."
    )
    if not validation.runs:
        note = "No run has a reading at a known time, so none can be predicted from the others."
    blocks = [heading, titled("Take note", warnings), validation_block(validation), wrapped(note, hanging="")]
    return in_blocks(blocks)


def findings_document(found: Calibration) -> dict[str, Any]:
    """Return what a calibration says besides what its file needs, as a JSON object."""
    bench = found.fit.problem.bench
    return {
        "unknowns": [_finding_document(finding) for finding in findings(found.fit)],
        "runs": [_run_document(found, number) for number in range(len(bench.runs))],
        "odd_runs": [
            {"run": odd.run, "causes": [{"cause": cause, "probability": chance} for cause, chance in odd.causes]}
            for odd in found.odd_runs
        ],
        "confused": [_confusion_document(one) for one in found.confusions],
        "validation": validation_document(found.validation),
        "sample": _sample_document(found),
        "warnings": list(found.warnings),
        "assumptions": list(bench.assumptions),
    }


def _sample_document(found: Calibration) -> dict[str, Any] | None:
    drawn = found.sampled
    if drawn is None:
        return None
    return {
        "draws": len(drawn.draws),
        "largest_r_hat": drawn.largest_r_hat,
        "smallest_bulk_effective_size": drawn.smallest_size,
        "divergences": drawn.divergences,
        "unsettled_unknowns": [f"{c.owner} {c.name}".strip() for c in drawn.unsettled],
        "unknowns_unlike_fit": [f"{c.owner} {c.name}".strip() for c in drawn.unlike_fit],
        "emulator_error_in_noise": drawn.emulator_error,
        "seed": drawn.seed,
    }


def _finding_document(finding: Finding) -> dict[str, Any]:
    return {
        "of": finding.coordinate.kind.value,
        **entries(finding.coordinate, "owner", "name", "label"),
        **entries(finding, "is_factor", "value", "low", "high"),
        "moved_prior_standard_deviations": finding.moved,
        "share_of_prior_width_left": finding.spread,
    }


def _run_document(found: Calibration, number: int) -> dict[str, Any]:
    evidence, shown = found.fit.evidence, shown_of_run(found.fit, number)
    chances = found.fit.explained.probabilities[number].tolist()
    return {
        "run": found.fit.problem.bench.runs[number].name,
        "explanations": {one.name: chance for one, chance in zip(EXPLANATIONS, chances, strict=True)},
        "line": evidence.line[shown.rows].tolist(),
        "time_s": evidence.time[shown.rows].tolist(),
        "shown_K": evidence.shown[shown.rows].tolist(),
        "predicted_K": shown.predicted.tolist(),
        "predicted_standard_deviation_K": shown.deviation.tolist(),
        "residual_K": shown.residual.tolist(),
        "weight": found.fit.weights[shown.rows].tolist(),
    }


def _confusion_document(one: Confusion) -> dict[str, Any]:
    return {
        "container": one.container,
        "first": one.first.name,
        "second": one.second.name,
        "correlation": one.correlation,
        "further_run": one.remedy.words or None,
        "narrows_by": one.remedy.narrows,
    }


def validation_document(validation: Validation) -> dict[str, Any]:
    """Return a validation as a JSON object whose keys carry their unit."""
    return {
        "runs": [
            {
                **entries(item, "run", "container"),
                "other_runs_of_container": item.others,
                **entries(item, "last_time_s", "shown_K", "error_K"),
                "claimed_standard_deviation_K": item.deviation,
                "relative_time_error": item.time_error,
                "claimed_relative_time_deviation": item.time_deviation,
                "is_inside_90_percent": bool(item.is_inside),
                "share_of_readings_inside": item.covered,
            }
            for item in validation.runs
        ],
        "median_relative_time_error": validation.median_time_error if validation.runs else None,
        "share_of_runs_inside_90_percent": validation.inside if validation.runs else None,
        "share_of_readings_inside_90_percent": validation.covered if validation.runs else None,
        "version": version(),
    }
