"""What thermometers show too much: from baths they shared, runs they shared, and runs in which they were swapped."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometries.numeric import Array
from thermal_model.bench.columns import File
from thermal_model.bench.records import Bench, Probe, Run
from thermal_model.bench.reduce.crossover import CrossoverFit, fit_crossover
from thermal_model.bench.reduce.evidence import Offsets, Points, points_of, reading_deviation, unchecked_offsets

BATH_SPREAD = 0.1
"""Two thermometers in one bath do not touch the same water [K]; judgement."""

LEAST_EXCESS = 10.0
"""Runs that start nearer to the room tell no probes apart by how they cool. [K]"""

PLACE_SPREAD = 0.3
"""Two thermometers in one container hang at different heights [K]; judgement."""


@dataclass(frozen=True)
class ProbeComparison:
    """One difference between two thermometers.

    Attributes
    ----------
    first, second : str
    difference : float
        What the first shows more. [K]
    spread : float
        [K]
    source : str
        In words, with the line or the runs.
    """

    first: str
    second: str
    difference: float
    spread: float
    source: str


def probe_offsets(bench: Bench, groups: Sequence[Sequence[Run]]) -> tuple[Offsets, list[ProbeComparison]]:
    """Estimate all offsets at once by weighted least squares, and list what they rest on.

    Parameters
    ----------
    bench : Bench
    groups : sequence of sequence of Run
        Runs that differ in nothing but day and probe; without those that went wrong.

    Returns
    -------
    Offsets
        A thermometer's spread in `bench.toml` counts as one more observation, of zero: without a check nothing else
        is known, and differences are known better than offsets.
    list of ProbeComparison
    """
    comparisons = [*_baths(bench), *_shared_runs(bench), *_crossovers(bench, groups)]
    return weighted_offsets(bench.probes, comparisons), comparisons


def weighted_offsets(probes: Mapping[str, Probe], comparisons: Sequence[ProbeComparison]) -> Offsets:
    """Solve for the offsets of all probes, with their covariance.

    References
    ----------
    .. [1] Weighted least squares with a prior as pseudo-observations; JCGM 100:2008 (GUM), H.3.5 for the covariance.
    """
    before = unchecked_offsets(probes)
    information = np.linalg.inv(before.covariance + 1e-12 * np.eye(len(before.names)))
    target = np.zeros(len(before.names))
    for one in comparisons:
        row = np.zeros(len(before.names))
        row[before.names.index(one.first)], row[before.names.index(one.second)] = 1.0, -1.0
        information += np.outer(row, row) / one.spread**2
        target += row * one.difference / one.spread**2
    covariance = np.linalg.inv(information)
    return Offsets(before.names, covariance @ target, covariance)


def _baths(bench: Bench) -> Iterator[ProbeComparison]:
    for check in bench.checks:
        spreads = [reading_deviation(bench.probes[name]) for name in (check.first, check.second)]
        difference = check.first_temperature - check.second_temperature
        spread = math.hypot(*spreads, BATH_SPREAD)
        yield ProbeComparison(
            check.first, check.second, difference, spread, f"side by side, {File.PROBE_CHECKS} line {check.line}"
        )


def _shared_runs(bench: Bench) -> Iterator[ProbeComparison]:
    """Yield the mean difference of probes that watched one run together."""
    nothing = unchecked_offsets(bench.probes)
    for run in bench.runs:
        names = list(dict.fromkeys(reading.probe or run.probe for reading in run.readings))
        for second in names[1:]:
            first_points, second_points = (
                points_of(_of_probe(run, name), bench.probes, nothing) for name in (names[0], second)
            )
            found = _mean_difference(first_points, second_points)
            if found is not None:
                yield ProbeComparison(names[0], second, *found, f"together in run {run.name}")


def _of_probe(run: Run, name: str) -> Run:
    return replace(run, readings=tuple(r for r in run.readings if (r.probe or run.probe) == name), passings=())


def _mean_difference(first: Points, second: Points) -> tuple[float, float] | None:
    inside = (second.time >= first.time.min(initial=np.inf)) & (second.time <= first.time.max(initial=-np.inf))
    if len(first) < 2 or not inside.any():
        return None
    difference = np.interp(second.time[inside], first.time, first.temperature) - second.temperature[inside]
    own = math.hypot(float(first.deviation.mean()), float(second.deviation.mean())) / math.sqrt(inside.sum())
    return float(difference.mean()), math.hypot(own, PLACE_SPREAD)


# --- probes swapped between runs --------------------------------------------------------------------------------


def _crossovers(bench: Bench, groups: Sequence[Sequence[Run]]) -> Iterator[ProbeComparison]:
    fit = crossover_of_runs(bench, groups)
    if fit is None:
        return
    from scipy.stats import t

    # So few runs know their own scatter badly: Student's t, as the normal distribution of the same 68 % width.
    widening = float(t.ppf(0.8413, fit.degrees_of_freedom))
    for name, effect, error in zip(fit.treatments[1:], fit.effect.tolist(), fit.standard_error.tolist(), strict=True):
        source = f"probes swapped between runs, {fit.degrees_of_freedom} degrees of freedom"
        yield ProbeComparison(name, fit.treatments[0], effect, max(widening * error, 1e-3), source)


def crossover_of_runs(bench: Bench, groups: Sequence[Sequence[Run]]) -> CrossoverFit | None:
    """Fit container, day and probe to what displays showed at a common time of comparable runs.

    Returns
    -------
    CrossoverFit or None
        Effects in K; None if no probes were swapped, or too few runs to tell. Days are left out of the fit where
        they can't be told from the rest.
    """
    cells = [cell for runs in groups for cell in _cells(bench, runs)]
    if len(cells) < 3:
        return None
    subjects, days, probes, shown = zip(*cells, strict=True)
    with_days = fit_crossover(subjects, days, probes, np.array(shown))
    if with_days is not None and with_days.degrees_of_freedom >= 2:
        return with_days
    return fit_crossover(subjects, ["any"] * len(days), probes, np.array(shown))


def _cells(bench: Bench, runs: Sequence[Run]) -> list[tuple[str, str, str, float]]:
    """Return container, day, probe and display at a common time of runs, brought to one start and room."""
    nothing = unchecked_offsets(bench.probes)
    usable = [(run, points_of(run, bench.probes, nothing)) for run in runs if _is_usable(run)]
    usable = [(run, points) for run, points in usable if len(points) >= 3]
    if len({run.probe for run, _ in usable}) < 2:
        return []
    time = 0.5 * min(float(points.time[-1]) for _, points in usable)
    starts = np.array([float(run.scenario.start) for run, _ in usable])
    rooms = np.array([float(run.scenario.room) for run, _ in usable])
    shown = np.array([_at(points, time) for _, points in usable])
    share = float(np.median((shown - rooms) / (starts - rooms)))
    level = shown - share * (starts - starts.mean()) - (1.0 - share) * (rooms - rooms.mean())
    name = f"{runs[0].container} {runs[0].name}"
    days = [run.date.date().isoformat() if run.date else run.name for run, _ in usable]
    return [
        (name, day, run.probe, float(value)) for (run, _), day, value in zip(usable, days, level.tolist(), strict=True)
    ]


def _is_usable(run: Run) -> bool:
    names = {reading.probe or run.probe for reading in run.readings}
    is_measured = math.isfinite(run.start_spread) and math.isfinite(run.room_spread)
    excess = abs(float(run.scenario.start) - float(run.scenario.room))
    return names == {run.probe} and is_measured and excess > LEAST_EXCESS and run.scenario.ice == 0.0


def _at(points: Points, time: float) -> float:
    """Return the temperature at a time, from a line through the logarithms of the nearest points."""
    nearest = np.sort(np.argsort(np.abs(points.time - time))[:8])
    near = points.take(nearest)
    logs: Array = np.log(np.maximum(np.abs(near.excess), 0.1))
    _, level = np.polyfit(near.time - time, logs, 1)
    sign = 1.0 if near.excess.mean() > 0.0 else -1.0
    return float(near.room.mean() + sign * math.exp(level))
