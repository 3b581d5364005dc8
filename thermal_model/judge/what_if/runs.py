"""The engine asked for tables: draws of a container at nodes of start, room and fill, at times of their own."""

from dataclasses import dataclass, replace

import numpy as np

from geometries.numeric import Array
from thermal_model.assemble.contents import filled_volume
from thermal_model.assemble.lanes import Lanes
from thermal_model.follow import Followed, follow
from thermal_model.judge.compare import Entry
from thermal_model.judge.what_if.side import Side, Span
from thermal_model.scenario import Opening, Scenario, contents_kind
from thermal_model.solver.scatter import Indices
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.solver.stepping import Tolerance
from thermal_model.uncertainty import PRIORS, Sample, draw_sample, perturbed_scenario

LONGEST = 60.0 * 86400.0
"""Time within which a container's own unit must be over. [s]"""


@dataclass(frozen=True)
class Misread:
    """By how much start and room of each draw, n in all, are not what is asked.

    Attributes
    ----------
    start, room : (n,) arrays
        [K]
    liquid : pair of float
        Within which contents start. [K]
    """

    start: Array
    room: Array
    liquid: Span

    def own(self, start: Array, room: Array, draw: Indices | slice = slice(None)) -> tuple[Array, Array]:
        """Return what start and room are in draws, (n,) each, where something else is asked. [K, K]"""
        return np.clip(start + self.start[draw], *self.liquid), room + self.room[draw]


@dataclass(frozen=True)
class DrawnContainer:
    """A container and its draws, the best guess first, n in all.

    Attributes
    ----------
    side : Side
    scenario : Scenario
        What is the same in all conditions.
    sample : Sample
    full : (n,) array
        Full fill of each draw. [m3]
    misread : Misread
        By how much start and room are not what is asked.
    """

    side: Side
    scenario: Scenario
    sample: Sample
    full: Array
    misread: Misread

    @classmethod
    def of(cls, entry: Entry, side: Side, scenario: Scenario, draws: int, seed: int) -> "DrawnContainer":
        """Draw a container just as a ranking does."""
        start, room = side.slowest
        base = scenario.model_copy(update={"start": start, "room": room, "fill": None, "openings": ()})
        sample = draw_sample(entry.container, base, draws, seed, belief=entry.belief, own=entry.name)
        full = np.broadcast_to(filled_volume(sample.container, base), (draws + 1,))
        start_off, room_off = (PRIORS[name].values(sample.standard_normals[name]) for name in ("start", "room"))
        kind = contents_kind(base.contents)
        misread = Misread(start_off, room_off, (kind.coldest, kind.hottest))
        return cls(side, base, sample, np.asarray(full, dtype=float), misread)

    def lanes(self, draw: Indices, start: Array, room: Array, fill: Array, openings: tuple[Opening, ...] = ()) -> Lanes:
        """Return runs of some draws, each at a start, room and fill, as asked. [K, K, m3]"""
        all_draws = replace(self.sample, scenario=self.scenario)
        taken = all_draws.take(draw)
        asked = taken.scenario.model_copy(update={"start": start, "room": room, "fill": fill, "openings": openings})
        values = {
            name: prior.values(self.sample.standard_normals[name][draw])
            for name, prior in PRIORS.items()
            if name in ("start", "room", "fill", "draught")
        }
        scenario = perturbed_scenario(taken.container, asked, values)
        return Lanes(taken.container, scenario, taken.unknowns, len(draw))


def own_units(drawn: DrawnContainer) -> Array:
    """Return each draw's own unit of time: from full to the furthest limit where that is slowest. [s]

    NaN where a draw can't be computed.
    """
    count = drawn.sample.count
    start, room = (np.full(count, value) for value in drawn.side.slowest)
    lanes = drawn.lanes(np.arange(count), start, room, drawn.full)
    furthest = drawn.side.furthest(start, room)
    start, room = drawn.misread.own(start, room)
    limit = room + (start - room) * np.exp(-furthest)
    return follow(lanes, limit[None, :], horizon=LONGEST, stepper=compiled_stepper()).hold_times[0]


def time_unit(side: Side, unit: Array, start: Array, room: Array, share: Array) -> Array:
    """Return what a table's times are multiplied by, from a draw's own unit. [s]"""
    slowest = side.furthest(*(np.asarray(value) for value in side.slowest))
    return unit * share * side.furthest(start, room) / slowest


def progress_over_time(
    drawn: DrawnContainer,
    unit: Array,
    draw: Indices,
    start: Array,
    room: Array,
    share: Array,
    tolerance: Tolerance | None = None,
) -> Array:
    """Return u at the times of the table, (t, n), of n runs; NaN where one could not be computed.

    Parameters
    ----------
    drawn : DrawnContainer
    unit : (d,) array
        Own unit of every draw. [s]
    draw : (n,) int array
    start, room, share : (n,) arrays
        [K, K, -]
    tolerance : Tolerance, optional
        Left out: the engine's usual one.
    """
    times = drawn.side.times[:, None] * time_unit(drawn.side, unit[draw], start, room, share)
    lanes = drawn.lanes(draw, start, room, share * drawn.full[draw])
    # Near the room open contents stay where they are, at great cost; nothing that may be asked lies there.
    furthest = drawn.side.furthest(start, room)
    start, room = drawn.misread.own(start, room, draw)
    last = np.exp(-furthest - BEYOND) * (start - room)
    found = follow(
        lanes,
        (room + last)[None, :],
        horizon=times[-1],
        record=True,
        tolerance=tolerance,
        stepper=compiled_stepper(),
    )
    end, before = found.end_time, 0.95 * found.end_time
    known = progress(drawn.side, start, room, curves(found, np.vstack([times, before, end])))
    told, ends = known[:-2], known[-2:]
    slope = (ends[1] - ends[0]) / (end - before)
    return np.where(times > end, ends[1] + slope * (times - end), told)


BEYOND = 0.4
"""How far beyond the furthest limit a table follows the engine before it goes on straight. [-]"""


def progress(side: Side, start: Array, room: Array, temperatures: Array) -> Array:
    """Return u of contents between their own start and room; open ones may pass the room. [-]"""
    away = np.maximum((temperatures - room) * np.sign(start - room), 0.1 * side.nearest)
    return np.log(np.abs(start - room) / away)


def curves(found: Followed, times: Array) -> Array:
    """Return temperatures of recorded runs, (t, n), at times of each; NaN for a run that could not be computed. [K]"""
    out = np.full(times.shape, np.nan)
    for run in np.flatnonzero(found.is_good).tolist():
        out[:, run] = found.temperature(run, np.minimum(times[:, run], found.end_time[run]))
    return out
