"""What a bench lacks to answer more, and what would fill the gap."""

from collections import Counter
from collections.abc import Iterator

from thermal_model.bench.records import Bench


def missing_lines(bench: Bench) -> list[str]:
    """Return what is missing, a line each with what to do; nothing here stops a command."""
    return [*_unused(bench), *_probe_lines(bench), *_run_lines(bench)]


def _unused(bench: Bench) -> Iterator[str]:
    used = {run.container for run in bench.runs}
    for name in bench.containers:
        if name not in used:
            yield f"container {name} has no run"
    shown = {reading.probe or run.probe for run in bench.runs for reading in run.readings}
    shown |= {passing.probe or run.probe for run in bench.runs for passing in run.passings}
    for name in bench.probes:
        if name not in shown and name not in {probe for c in bench.checks for probe in (c.first, c.second)}:
            yield f"probe {name} has no reading and no check"


def _probe_lines(bench: Bench) -> Iterator[str]:
    used = {run.probe for run in bench.runs}
    checked = {name for check in bench.checks for name in (check.first, check.second)}
    unchecked = sorted(used - checked)
    if unchecked:
        names = ", ".join(unchecked)
        yield f"nobody checked {names}: put the thermometers into ice water, and side by side (probe_checks.csv)"
    if len(used) > 1 and not _is_crossed(bench):
        yield "no container was run with two probes: swap the probes in one repeat"


def _is_crossed(bench: Bench) -> bool:
    probes: dict[str, set[str]] = {}
    for run in bench.runs:
        probes.setdefault(run.container, set()).add(run.probe)
    return any(len(found) > 1 for found in probes.values())


def _run_lines(bench: Bench) -> Iterator[str]:
    counts = Counter(run.container for run in bench.runs)
    if counts and max(counts.values()) < 2:
        yield "no run is repeated: how well a lid seats from run to run can't be told; repeat at least one twice"
    if not any(float(run.scenario.start) < float(run.scenario.room) for run in bench.runs):
        yield "no cold run: hot runs alone can't tell wall from lid; iced water in one container would help"
    undated = [run.name for run in bench.runs if run.date is None]
    if undated:
        yield f"no date for {', '.join(undated[:5])}{' and more' if len(undated) > 5 else ''}: days can't be told apart"
