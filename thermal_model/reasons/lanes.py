"""Runs of different containers as lanes: those of one structure share a network, and hold times come back in order."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from pydantic import BaseModel

from geometries.container import Container
from geometries.numeric import Array, Numeric
from thermal_model.assemble.build import LOWER_SEAL_DEPTH, assemble
from thermal_model.batch import LANES_AT_ONCE
from thermal_model.prediction import DEFAULT_HORIZON, reachable_limits
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper, Outcome, integrate
from thermal_model.solver.steppers import stepper_for
from thermal_model.unknowns import UNKNOWN_NAMES, Unknowns


@dataclass(frozen=True)
class LanedRun:
    """A container in a scenario, with n draws in its leaves."""

    container: Container
    scenario: Scenario
    unknowns: Unknowns


def hold_times(
    runs: Sequence[LanedRun],
    lanes: int,
    limit: float,
    *,
    horizon: float = DEFAULT_HORIZON,
    progress: Callable[[float], None] | None = None,
) -> Array:
    """Return the hold time of every draw of every run.

    Parameters
    ----------
    runs : sequence of r LanedRun
    lanes : int
        Draws n of each.
    limit : float
        [K]
    horizon : float
        [s]
    progress : callable, optional
        Called with the share of the work done.

    Returns
    -------
    (r, n) array
        NaN where the limit is not reached, or the integration gave up. [s]
    """
    found = np.full((len(runs), lanes), np.nan)
    stepper = stepper_for(found.size)
    done = 0
    for numbers in _alike(runs, max(LANES_AT_ONCE // lanes, 1)):
        found[numbers] = _times(_joined_runs([runs[k] for k in numbers], lanes), lanes, limit, horizon, stepper)
        done += len(numbers)
        if progress is not None:
            progress(done / len(runs))
    return found


def _times(run: LanedRun, lanes: int, limit: float, horizon: float, stepper: MakeStepper) -> Array:
    count = len(run.unknowns.wetted_film)  # type: ignore[arg-type]
    network = assemble(run.container, run.scenario, run.unknowns, lanes=count)
    levels = reachable_limits(run.container, run.scenario, [limit], count)
    trajectory = integrate(network, levels, np.full(count, horizon), stepper=stepper)
    times = np.where(trajectory.outcome == Outcome.FAILED, np.nan, trajectory.crossing_times[0])
    return times.reshape(-1, lanes)


def _alike(runs: Sequence[LanedRun], most: int) -> Iterator[list[int]]:
    """Yield numbers of runs that share a network, at most so many at a time."""
    groups: dict[Any, list[int]] = {}
    for number, run in enumerate(runs):
        groups.setdefault((_structure(run.container), _seal_pattern(run), _structure(run.scenario)), []).append(number)
    for numbers in groups.values():
        for start in range(0, len(numbers), most):
            yield numbers[start : start + most]


def _is_number(value: Any) -> bool:
    return isinstance(value, float | np.ndarray)


def _structure(value: Any) -> Any:
    """Return all of a record but its numbers: kinds, counts, names; what a network's nodes and links hang on."""
    if _is_number(value):
        return "number"
    if isinstance(value, BaseModel):
        fields = type(value).model_fields
        if {"duration", "times"} & set(fields):  # what happens when shapes the run itself
            return repr(value.model_dump(exclude={"shift"}))
        return tuple(_structure(getattr(value, name)) for name in fields if name not in _WORDS_ONLY)
    if isinstance(value, tuple):
        return tuple(_structure(entry) for entry in value)
    return value


_WORDS_ONLY = ("name", "summary")


def _seal_pattern(run: LanedRun) -> Any:
    """Return what the network hangs on among the lid's numbers: its lowest seal, and whether a skirt hangs."""
    lid = run.container.lid
    if lid is None:
        return None
    depths = [float(np.mean(seal.depth)) for seal in lid.seals]
    order = sorted(range(len(depths)), key=lambda i: depths[i])
    return tuple(order), tuple(d > LOWER_SEAL_DEPTH for d in depths), bool(np.any(np.greater(lid.skirt_length, 0.0)))


def _joined_runs(runs: Sequence[LanedRun], lanes: int) -> LanedRun:
    unknowns = {name: _joined([getattr(run.unknowns, name) for run in runs], lanes) for name in UNKNOWN_NAMES}
    return LanedRun(
        _joined([run.container for run in runs], lanes),
        _joined([run.scenario for run in runs], lanes),
        Unknowns(**unknowns),
    )


def _joined(values: Sequence[Any], lanes: int) -> Any:
    """Return records of one structure as one record, whose numbers stand one after the other in (n,) arrays."""
    first = values[0]
    if _is_number(first):
        return np.concatenate([_lanes_of(value, lanes) for value in values])
    if isinstance(first, BaseModel):
        fields = type(first).model_fields
        if "duration" in fields:
            return first
        joinable = ("shift",) if "times" in fields else tuple(fields)
        return first.model_copy(
            update={name: _joined([getattr(value, name) for value in values], lanes) for name in joinable}
        )
    if isinstance(first, tuple):
        return tuple(_joined(entries, lanes) for entries in zip(*values, strict=True))
    return first


def _lanes_of(value: Numeric, lanes: int) -> Array:
    return np.broadcast_to(np.asarray(value, dtype=float), (lanes,))
