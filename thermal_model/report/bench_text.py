"""What a bench holds, what is wrong or missing in it, and what follows from its readings without a model."""

from typing import Any

from thermal_model.bench.columns import File
from thermal_model.bench.records import Bench, Run
from thermal_model.wording import Scale, aligned, duration_text


def check_text(bench: Bench, missing: list[str], scale: Scale = Scale.CELSIUS) -> str:
    """Return what a bench holds, what looks wrong, what is missing and what was taken for granted."""
    blocks = [
        f"{bench.name}: {len(bench.runs)} runs of {len(bench.containers)} containers\n{_run_table(bench, scale)}",
        _block("Looks wrong, but can be read", bench.warnings),
        _block("Missing", tuple(missing)),
        _block("Taken for granted", bench.assumptions),
        "Nothing was changed in the folder.",
    ]
    return "\n\n".join(block for block in blocks if block)


def _block(title: str, lines: tuple[str, ...]) -> str:
    return "\n".join([title, *(f"  {line}" for line in lines)]) if lines else ""


def _run_table(bench: Bench, scale: Scale) -> str:
    heading = ("run", "container", "probe", "readings", "marks", "watched for", "from", "to")
    return aligned([heading, *(_run_row(run, scale) for run in bench.runs)])


def _run_row(run: Run, scale: Scale) -> tuple[str, ...]:
    shown = [reading.temperature for reading in run.readings]
    ends = [reading.time for reading in run.readings] + [p.latest for p in run.passings if p.latest < float("inf")]
    return (
        run.name,
        run.container,
        run.probe,
        str(len(run.readings) or "-"),
        str(len(run.passings) or "-"),
        duration_text(max(ends)) if ends else "-",
        scale.text(shown[0]) if shown else "-",
        scale.text(shown[-1]) if shown else "-",
    )


def check_document(bench: Bench, missing: list[str]) -> dict[str, Any]:
    """Return the same as a JSON object."""
    return {
        "bench": bench.name,
        "runs": [
            {
                "run": run.name,
                "container": run.container,
                "probe": run.probe,
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
