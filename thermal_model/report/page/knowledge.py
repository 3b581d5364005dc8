"""A bench and what is known of its containers: from a calibration file, or from a fit made now."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from geometries.container import Container
from thermal_model.bench.calibration.calibration_file import CalibrationFile
from thermal_model.bench.calibration.fit import Fit
from thermal_model.bench.records import Bench
from thermal_model.judge.compare import Entry
from thermal_model.uncertainty import Belief
from thermal_model.work_done import ShareDone


@dataclass(frozen=True)
class Known:
    """A bench, and what a calibration says of it.

    Attributes
    ----------
    bench : Bench
    entries : tuple of Entry
        Its containers, and what is beside them, by name, each with what is known of it.
    next_runs : dict of str to Belief or None
        What is known of a next run of each, whose lid is seated anew.
    warnings : tuple of str
        Of the calibration.
    file : str
        Of the calibration; "" where the bench was fitted now.
    """

    bench: Bench
    entries: tuple[Entry, ...]
    next_runs: dict[str, Belief | None]
    warnings: tuple[str, ...]
    file: str = ""


def known_of(
    bench: Bench,
    calibration: CalibrationFile | Fit | None = None,
    *,
    beside: Mapping[str, Container] | None = None,
    progress: ShareDone | None = None,
) -> Known:
    """Return a bench, and designs beside it, with what its calibration says, or what a fit made now does.

    Raises
    ------
    InputError
        If there is nothing to fit.
    """
    from thermal_model.bench.calibration.calibration import warnings_of
    from thermal_model.bench.calibration.fit import fit
    from thermal_model.bench.calibration.posterior import belief

    know: Callable[..., Belief]
    if isinstance(calibration, CalibrationFile):
        know, benched = calibration.belief, {*calibration.containers}
        warnings, file = calibration.warnings, Path(calibration.path).name
    else:
        found = fit(bench, progress=progress) if calibration is None else calibration
        know, benched = partial(belief, found), {run.container for run in bench.runs}
        warnings, file = tuple(warnings_of(found)), ""
    containers = {**bench.containers, **(beside or {})}
    on_bench = {name: name if name in benched else None for name in sorted(containers)}
    entries = tuple(Entry(name, containers[name], know(own, seats_anew=False), own) for name, own in on_bench.items())
    next_runs: dict[str, Belief | None] = {name: know(own, seats_anew=True) for name, own in on_bench.items()}
    return Known(bench, entries, next_runs, warnings, file)
