"""What runs measured, beside what the model says of the same runs: each at its own fill, start and room."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.assemble.contents import filled_volume
from thermal_model.bench.records import Bench, Run
from thermal_model.bench.reduce.hold_times import Basis, MeasuredHoldTime
from thermal_model.bench.reduce.reduction import limits_of, reduce_bench
from thermal_model.prediction import sample_times
from thermal_model.uncertainty import Belief, draw_sample
from thermal_model.work_done import ShareDone


@dataclass(frozen=True)
class BesideModel:
    """A run's hold time as measured and as the model has it.

    Attributes
    ----------
    run : Run
    fill : float
        [m3]
    measured : MeasuredHoldTime
    times : (n,) array
        Of the model, the best guess first, then a draw each; infinite where the limit is not reached. [s]
    failed : int
        Draws that could not be computed, and are left out.
    """

    run: Run
    fill: float
    measured: MeasuredHoldTime
    times: Array
    failed: int = 0


def runs_beside_model(
    bench: Bench,
    limit: float,
    beliefs: Mapping[str, Belief | None],
    *,
    draws: int,
    seed: int = 1,
    progress: ShareDone | None = None,
) -> list[BesideModel]:
    """Return every run that says something of a limit; those that went wrong are left out.

    Parameters
    ----------
    bench : Bench
    limit : float
        [K]
    beliefs : mapping of str to Belief or None
        What is known of each container of the bench, for a next run of it.
    draws, seed : int
    progress : callable, optional
        Called with the share of the work done.
    """
    if not any(limits_of(run, [limit]) for run in bench.runs):
        return []
    reduction = reduce_bench(bench, [limit])
    flagged = {flag.run for flag in reduction.flags}
    told = [
        (run, measured)
        for run in bench.runs
        if run.name not in flagged
        for measured in reduction.hold_times.get(run.name, [])
        if measured.basis is not Basis.UNKNOWN
    ]
    samples = [
        draw_sample(
            run.container_at_run, run.scenario, draws, seed, belief=beliefs.get(run.container), own=run.container
        )
        for run, _ in told
    ]
    times: Iterable[Array] = sample_times(samples, limit, progress=progress)[0] if samples else []
    return [
        BesideModel(
            run,
            float(filled_volume(run.container_at_run, run.scenario)),
            measured,
            own[~np.isnan(own)],
            int(np.isnan(own).sum()),
        )
        for (run, measured), own in zip(told, times, strict=True)
        if not np.isnan(own[0])
    ]
