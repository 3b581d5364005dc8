"""What follows from a bench's readings without a model: the reduction, on one page."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.errors import InputError
from thermal_model.bench.records import Bench, Run, temperature_at_start
from thermal_model.bench.reduce.comparison import (
    Flag,
    MeasuredRepeatability,
    comparable_groups,
    flagged_runs,
    repeatability,
)
from thermal_model.bench.reduce.cooling_rate import CoolingRate, cooling_rate, extrapolated_start
from thermal_model.bench.reduce.evidence import Offsets, points_of
from thermal_model.bench.reduce.hold_times import MeasuredHoldTime, measured_hold_time
from thermal_model.bench.reduce.pour_dip import PourDip, pour_dip
from thermal_model.bench.reduce.probe_offsets import ProbeComparison, probe_offsets

HOT_LIMIT, COLD_LIMIT = 333.15, 283.15
"""Taken where none is given: 60 C, cold contents 10 C. [K]"""


@dataclass(frozen=True)
class Reduction:
    """What the readings say by themselves.

    Attributes
    ----------
    bench : Bench
    groups : list of list of Run
        Comparable runs.
    hold_times : dict of list of MeasuredHoldTime
        By name of run, one for each limit on its side of start and room.
    rates : dict of CoolingRate
        By name of run, over the stretch that all runs of its group cover.
    dips : dict of PourDip
        By name of run.
    offsets : Offsets
    comparisons : list of ProbeComparison
        What the offsets rest on.
    flags : list of Flag
        Runs that went wrong; they stay in every table, but not in the next two.
    repeatability : MeasuredRepeatability
        Of the runs that are not flagged.
    repeatability_of_all : MeasuredRepeatability
        Flagged runs included.
    """

    bench: Bench
    groups: list[list[Run]]
    hold_times: dict[str, list[MeasuredHoldTime]]
    rates: dict[str, CoolingRate]
    dips: dict[str, PourDip]
    offsets: Offsets
    comparisons: list[ProbeComparison]
    flags: list[Flag]
    repeatability: MeasuredRepeatability
    repeatability_of_all: MeasuredRepeatability


def reduce_bench(bench: Bench, limits: Sequence[float] = ()) -> Reduction:
    """Reduce the readings of a bench.

    Offsets, and which runs went wrong, need each other: a first round without swapped probes finds the wrong runs, a
    second without them finds the offsets.

    Parameters
    ----------
    bench : Bench
    limits : sequence of float, optional
        Limit temperatures; left out: 60 C for hot runs, 10 C for cold ones. [K]

    Raises
    ------
    InputError
        If no run can reach a limit.
    """
    groups = comparable_groups(bench.runs)
    sound: list[list[Run]] = []
    for _ in range(2):
        offsets, comparisons = probe_offsets(bench, sound)
        rates, dips = _rates(bench, groups, offsets), _dips(bench, offsets)
        flags = flagged_runs(groups, rates, dips)
        wrong = {flag.run for flag in flags}
        sound = [[run for run in group if run.name not in wrong] for group in groups]
    return Reduction(
        bench=bench,
        groups=groups,
        hold_times=_hold_times(bench, limits, offsets),
        rates=rates,
        dips=dips,
        offsets=offsets,
        comparisons=comparisons,
        flags=flags,
        repeatability=repeatability(sound, rates, dips),
        repeatability_of_all=repeatability(groups, rates, dips),
    )


def _rates(bench: Bench, groups: Sequence[Sequence[Run]], offsets: Offsets) -> dict[str, CoolingRate]:
    """Fit the rates of each group over the stretch that its runs have in common."""
    found: dict[str, CoolingRate] = {}
    for group in groups:
        points = {run.name: points_of(run, bench.probes, offsets) for run in group}
        alone = {run.name: cooling_rate(points[run.name], run.room_spread) for run in group}
        ends = [rate.last for rate in alone.values() if rate is not None]
        common = float(np.median(ends)) if ends else 0.0
        for run in group:
            rate = cooling_rate(points[run.name], run.room_spread, common)
            if rate is not None and rate.last > 0.7 * common:
                found[run.name] = rate
    return found


def _dips(bench: Bench, offsets: Offsets) -> dict[str, PourDip]:
    found = {run.name: pour_dip(run, extrapolated_start(points_of(run, bench.probes, offsets))) for run in bench.runs}
    return {name: dip for name, dip in found.items() if dip is not None}


def _hold_times(bench: Bench, limits: Sequence[float], offsets: Offsets) -> dict[str, list[MeasuredHoldTime]]:
    found = {
        run.name: [measured_hold_time(run, limit, bench.probes, offsets) for limit in limits_of(run, limits)]
        for run in bench.runs
    }
    if limits and not any(found.values()):
        shown = ", ".join(f"{limit - ZERO_CELSIUS:g} C" for limit in limits)
        message = f"{shown} lies between start and room of no run; take a temperature that contents pass"
        raise InputError(message, source="--until")
    return found


def limits_of(run: Run, limits: Sequence[float]) -> list[float]:
    """Return those limits that a run can pass, between its start and its room."""
    start, room = temperature_at_start(run), float(run.scenario.room)
    asked = limits or [HOT_LIMIT if start > room else COLD_LIMIT]
    return [limit for limit in asked if min(start, room) < limit < max(start, room)]
