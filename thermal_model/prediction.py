"""The pipeline on one page: container and scenario in, cooling curve, hold times and heat paths out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container, closed_capacity
from geometries.display import Displayed, Listing
from geometries.errors import InputError, InputProblem, refuse
from geometries.numeric import Array
from thermal_model.assemble.build import assemble
from thermal_model.assemble.checks import run_problems
from thermal_model.assemble.contents import filling_problems, melted_volume
from thermal_model.assemble.lanes import Lanes, joined_alike
from thermal_model.follow import DEFAULT_HORIZON, Followed, follow, limits_of_lanes
from thermal_model.physics.validity import broken_ranges, nothing_told
from thermal_model.scenario import Scenario, contents_kind
from thermal_model.solver.engine import Outcome, steady_state
from thermal_model.solver.network import PATHS, Network
from thermal_model.solver.rates import RightHandSide, contents_enthalpy
from thermal_model.uncertainty import (
    INTERVAL,
    Belief,
    Contribution,
    Sample,
    contributions,
    draw_sample,
    low_median_high,
)
from thermal_model.words.documents import plain
from thermal_model.words.numbers import Scale, duration_text, percent
from thermal_model.work_done import ShareDone, part_of

DEFAULT_DRAWS = 200
CURVE_POINTS = 241

CURVE_REACH = 1.2
"""With a sample the curve goes on beyond the last hold time by this factor, to show the late ones."""


@dataclass(frozen=True)
class HoldTime:
    """Time from the start to a limit temperature.

    Attributes
    ----------
    limit : float
        [K]
    nominal : float or None
        With every unknown at its best guess; None if the limit is not reached. [s]
    median, low, high : float or None
        Of the sample, 50, 5 and 95 %; None where that quantile does not reach the limit, or without a sample. [s]
    share_reached : float
        Share of the sample that reaches the limit within the horizon.
    """

    limit: float
    nominal: float | None
    median: float | None
    low: float | None
    high: float | None
    share_reached: float


MILLILITRE = 1e-6
"""[m3]"""


@dataclass(frozen=True)
class MillilitreEffect:
    """What a millilitre less or more of contents does to the best guess of a hold time.

    Attributes
    ----------
    limit : float or None
        Of the first hold time that is reached; None if none is. [K]
    less, more : float or None
        By how much longer it holds; None where it has no room, or nothing left to lose. [s]
    beyond_contents : float
        The larger of the two over the hold time, in size, that is not the contents' own heat. [-]
    """

    limit: float | None
    less: float | None
    more: float | None
    beyond_contents: float


@dataclass(frozen=True)
class Curve:
    """Temperature of the contents over time, (k,) arrays; low and high equal nominal without a sample. [s, K]"""

    time: Array
    nominal: Array
    low: Array
    high: Array


@dataclass(frozen=True, repr=False)
class Prediction(Displayed):
    """What the model says of a container in a scenario.

    Attributes
    ----------
    container : Container
    scenario : Scenario
    hold_times : tuple of HoldTime
    heat_loss_coefficient : float
        UA between contents and room, at rest, halfway between start and last limit. [W K-1]
    heat_paths : dict of float
        The same split over PATHS; they add up to the coefficient. [W K-1]
    reference_temperature : float
        At which these two hold. [K]
    curve : Curve
    energy_balance_error : float
        Largest |stored + lost - started| of any lane, relative.
    final_temperature, final_time : float
        Of the nominal run. [K, s]
    evaporated : float
        Mass lost from open contents in the nominal run. [kg]
    contributions : tuple of Contribution
        Of the unknowns to the spread of the first hold time that is reached.
    draws, seed : int
    failed_draws : int
        Draws left out since their dimensions do not make a container, or the integration gave up.
    outside_validity : tuple of str
        Correlations that are used outside the range their source gives, at rest at the reference temperature.
    millilitre : MillilitreEffect
        Of contents, on the first hold time that is reached.
    """

    container: Container
    scenario: Scenario
    hold_times: tuple[HoldTime, ...]
    heat_loss_coefficient: float
    heat_paths: dict[str, float]
    reference_temperature: float
    curve: Curve
    energy_balance_error: float
    final_temperature: float
    final_time: float
    evaporated: float
    contributions: tuple[Contribution, ...]
    draws: int
    seed: int
    failed_draws: int
    outside_validity: tuple[str, ...]
    millilitre: "MillilitreEffect"

    def _line(self) -> str:
        first = self.hold_times[0]
        return f"{self.container.name}: {Scale.CELSIUS.text(first.limit)} after {_best(first)}"

    def _tables(self) -> Iterator[Listing]:
        rows = [(Scale.CELSIUS.text(h.limit), _best(h), _held(h.low), _held(h.high)) for h in self.hold_times]
        yield Listing("Hold times", rows, ("limit", "holds for", "90 % from", "to"))
        total = self.heat_loss_coefficient
        paths = [(path.replace("_", " "), f"{g:.4g}", percent(g / total)) for path, g in self.heat_paths.items()]
        yield Listing("Heat paths [W/K]", [*paths, ("all", f"{total:.4g}", "")])


def _best(hold_time: HoldTime) -> str:
    """Return the middle of the sample, or the best guess without one."""
    return _held(hold_time.nominal if hold_time.median is None else hold_time.median)


def _held(seconds: float | None) -> str:
    return "-" if seconds is None else duration_text(seconds)


def predict(
    container: Container,
    scenario: Scenario,
    limits: Sequence[float],
    *,
    draws: int = DEFAULT_DRAWS,
    seed: int = 1,
    horizon: float = DEFAULT_HORIZON,
    refinement: int = 1,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> Prediction:
    """Predict hold times, cooling curve and heat paths.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limits : sequence of float
        Limit temperatures, between start and room. [K]
    draws : int
        Size of the sample for the interval; 0 gives the nominal case alone.
    seed : int
    horizon : float
        [s]
    refinement : int
        Multiplies the cells along walls and in the lid.
    belief : Belief, optional
        What a calibration knows about the unknowns.
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If a limit lies on the wrong side of start or room, or the contents do not fit.
    """
    check_fill(container, scenario)
    check_run(container, scenario, limits)
    sample = draw_sample(container, scenario, draws, seed, belief=belief)
    nominal = sample.take(np.zeros(1, dtype=np.intp))
    how: dict[str, Any] = {"refinement": refinement, "record": True}
    beside = _a_millilitre_apart(nominal)
    three = follow(beside, limits, horizon=horizon, progress=part_of(progress, 0.0, 0.0 if draws else 1.0), **how)
    followed = three.first
    if draws:
        at_least = min(CURVE_REACH * float(followed.end_time[0]), horizon)
        told = _of_expected(progress, at_least / horizon)
        horizons = horizon / sample.stretch
        followed = follow(sample, limits, horizon=horizons, at_least=at_least, progress=told, **how)
    if not followed.is_good[0]:
        problems = run_problems(nominal)
        raise InputError(InputProblem(p.message, p.field) for p in problems) if problems else followed.failure(0)
    network = assemble(nominal.container, nominal.scenario, nominal.unknowns, refinement=refinement)
    reference, total, paths, outside = heat_paths(network, scenario, limits)
    is_good, stretch = followed.is_good, sample.stretch[: len(followed.outcome)]
    times = followed.hold_times * stretch
    first_reached = next((of_limit for of_limit in times if np.isfinite(of_limit[0])), times[0])
    return Prediction(
        container=container,
        scenario=scenario,
        hold_times=tuple(_hold_time(limit, found[is_good]) for limit, found in zip(limits, times, strict=True)),
        heat_loss_coefficient=total,
        heat_paths=paths,
        reference_temperature=reference,
        curve=_curve(followed, stretch),
        energy_balance_error=float(followed.balance_error[is_good].max()),
        final_temperature=float(followed.final_temperature[0]),
        final_time=float(followed.end_time[0]),
        evaporated=float(followed.evaporated[0]),
        contributions=tuple(contributions(sample, first_reached)) if draws else (),
        draws=draws,
        seed=seed,
        failed_draws=int((~is_good).sum()),
        outside_validity=outside,
        millilitre=_millilitre_effect(limits, beside, three),
    )


def _a_millilitre_apart(nominal: Lanes) -> Lanes:
    """Return a run as it is, with a millilitre less, and with one more or as much as has room."""
    three = nominal.take(np.zeros(3, dtype=np.intp))
    fill = np.asarray(three.scenario.fill) + MILLILITRE * np.array([0.0, -1.0, 1.0])
    most = closed_capacity(three.container) - melted_volume(three.scenario)
    fill[1:] = np.clip(fill[1:], LEAST_LEFT * fill[0], np.maximum(most, fill[0])[1:])
    return replace(three, scenario=three.scenario.model_copy(update={"fill": fill}))


LEAST_LEFT = 0.5
"""Of a fill, however small, that a millilitre less leaves [-]."""


def _millilitre_effect(limits: Sequence[float], beside: Lanes, followed: Followed) -> MillilitreEffect:
    """Return what three runs, `_a_millilitre_apart`, say."""
    reached = np.flatnonzero(np.isfinite(followed.hold_times[:, 0]))
    if not len(reached):
        return MillilitreEffect(None, None, None, 0.0)
    times, fill = followed.hold_times[reached[0]], np.asarray(beside.scenario.fill)
    is_whole = np.isfinite(times) & (np.abs(fill - fill[0]) > 0.999 * MILLILITRE)
    beyond = np.abs((times / times[0]) / (fill / fill[0]) - 1.0)[is_whole]
    less, more = (float(times[k] - times[0]) if is_whole[k] else None for k in (1, 2))
    return MillilitreEffect(float(limits[reached[0]]), less, more, float(beyond.max(initial=0.0)))


@dataclass(frozen=True)
class DrawnRuns:
    """A best guess and n draws.

    Attributes
    ----------
    crossing_times : (m, 1 + n) array
        Time to each of m limits, the best guess first; infinite where the limit is not reached. [s]
    final_temperatures : (1 + n,) array
        Of the contents at the end: at the horizon where a limit is not reached, or there is none. [K]
    failed : int
        Draws that could not be computed, and are left out.
    """

    crossing_times: Array
    final_temperatures: Array
    failed: int

    @property
    def draws(self) -> int:
        """Number of draws n."""
        return len(self.final_temperatures) - 1


def drawn_runs(
    container: Container,
    scenario: Scenario,
    limits: Sequence[float],
    *,
    draws: int,
    seed: int,
    horizon: float = DEFAULT_HORIZON,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> DrawnRuns:
    """Run a scenario in a sample until the last limit is crossed, or to the horizon: every draw, not quantiles alone.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limits : sequence of float
        None to follow every draw to the horizon. [K]
    draws : int
    seed : int
    horizon : float
        [s]
    belief : Belief, optional
    progress : callable, optional
        Called with the share of the horizon that is done.

    Raises
    ------
    InputError
        As `predict`.
    """
    check_fill(container, scenario)
    if limits:
        check_run(container, scenario, limits)
    sample = draw_sample(container, scenario, draws, seed, belief=belief)
    found = follow(sample, limits or [np.nan], horizon=horizon / sample.stretch, progress=progress)
    if not found.is_good[0]:
        raise found.failure(0)
    if draws and not found.is_good[1:].any():
        raise found.failure(1)
    times = (found.hold_times * sample.stretch)[:, found.is_good]
    reached = np.where(np.isnan(times), np.inf, times)
    return DrawnRuns(reached, found.final_temperature[found.is_good], int((~found.is_good).sum()))


def sample_times(
    samples: Sequence[Sample], limits: ArrayLike, *, progress: ShareDone | None = None
) -> tuple[Array, dict[int, InputError]]:
    """Return the hold times of r samples of n runs each, and why the best guess of some has none.

    Parameters
    ----------
    samples : sequence of Sample
    limits : float or (r,) array
        [K]
    progress : callable, optional
        Called with the share of the work done.

    Returns
    -------
    (r, n) array
        Infinite where the limit is not reached, NaN where the run could not be computed. [s]
    dict of int to InputError
        By number of the sample.
    """
    each = np.repeat(np.broadcast_to(np.asarray(limits, dtype=float), len(samples)), [s.count for s in samples])
    found = follow(samples, each[None], progress=progress)
    times = np.where(found.outcome == Outcome.NOT_REACHED, np.inf, found.hold_times[0])
    times = times.reshape(len(samples), -1) * np.stack([sample.stretch for sample in samples])
    failed = np.flatnonzero(np.isnan(times[:, 0])).tolist()
    return times, {k: found.failure(k * times.shape[1]) for k in failed}


def _of_expected(progress: ShareDone | None, expected_share: float) -> ShareDone | None:
    """Return a progress counted against the time lanes are expected to take, not against the horizon."""
    if progress is None:
        return None
    return lambda share: progress(min(share / expected_share, 1.0))


def check_fill(container: Container, scenario: Scenario) -> None:
    """Refuse contents that do not fit under the lid; ice counts as the water it melts to."""
    problems = filling_problems(container, scenario)
    refuse(InputProblem(p.message, p.field) for p in problems)


def check_run(container: Container, scenario: Scenario, limits: Sequence[float]) -> None:
    """Refuse limits that the contents of a container start at, or never get to in a scenario. [K]"""
    check_limits(scenario, limits, can_evaporate=container.lid is None or bool(scenario.openings))


def check_limits(scenario: Scenario, limits: Sequence[float], *, can_evaporate: bool = False) -> None:
    """Refuse limits that the contents start at, or that no room could bring them to.

    Open contents may cool below the room by evaporation, and sunlight may warm any above it.
    """
    kind = contents_kind(scenario.contents)
    start, rooms = float(scenario.start), _room_range(scenario)
    problems = []
    if not limits:
        problems.append(InputProblem("give at least one limit temperature, for example --until '60 C'"))
    for limit in limits:
        text = f"{limit - ZERO_CELSIUS:.1f} C"
        if abs(limit - start) < 1e-6 and not scenario.ice:
            problems.append(InputProblem(f"{text} is the start temperature itself; take another", "until"))
        elif scenario.ice and limit < start and rooms[0] > limit:
            message = "over ice the contents cool at once: give the start as it is once mixed, 0 C while ice is left"
            problems.append(InputProblem(f"{text} lies below the start; {message}", "until"))
        elif not kind.coldest <= limit <= kind.hottest:
            problems.append(InputProblem(f"{text} is outside the liquid range of {scenario.contents}", "until"))
        elif limit < start and rooms[0] >= start:
            problems.append(InputProblem(_wrong_side(text, start, rooms[0], "cool"), "until"))
        elif limit > start and rooms[1] <= start:
            problems.append(InputProblem(_wrong_side(text, start, rooms[1], "warm"), "until"))
        elif limit < min(start, rooms[0]) and not can_evaporate:
            problems.append(InputProblem(_beyond(text, rooms[0], "below"), "until"))
        elif limit > max(start, rooms[1]) and not scenario.sunlight:
            problems.append(InputProblem(_beyond(text, rooms[1], "above"), "until"))
    refuse(problems)


def _wrong_side(limit: str, start: float, room: float, verb: str) -> str:
    return (
        f"{limit} can't be reached: contents at {start - ZERO_CELSIUS:.1f} C do not {verb} in a room at "
        f"{room - ZERO_CELSIUS:.1f} C; take a limit between start and room"
    )


def _beyond(limit: str, room: float, side: str) -> str:
    return f"{limit} lies {side} the room, {room - ZERO_CELSIUS:.1f} C; contents never get there, take one before it"


def _room_range(scenario: Scenario) -> tuple[float, float]:
    profile = scenario.room_profile
    temperatures = (scenario.room,) if profile is None else profile.temperatures
    return min(float(np.min(t)) for t in temperatures), max(float(np.max(t)) for t in temperatures)


def _hold_time(limit: float, times: Array) -> HoldTime:
    nominal, drawn = plain(times[0]), times[1:]
    if not len(drawn):
        return HoldTime(limit, nominal, None, None, None, float(np.isfinite(times[0])))
    # A draw that never gets there holds longer than any that does.
    ordered = np.where(np.isfinite(drawn), drawn, np.inf)
    low, median, high = map(plain, low_median_high(ordered))
    return HoldTime(limit, nominal, median, low, high, float(np.isfinite(drawn).mean()))


def _curve(followed: Followed, stretch: Array) -> Curve:
    good = np.flatnonzero(followed.is_good)
    end = float((followed.end_time * stretch)[good].min())  # as far as every lane goes
    # Crowded at the start, where the wall takes its share within minutes.
    time = end * np.linspace(0.0, 1.0, CURVE_POINTS) ** 1.5
    temperatures = followed.stretched_temperatures(good, time, stretch)
    low, high = np.quantile(temperatures[1:] if len(temperatures) > 1 else temperatures, INTERVAL, axis=0)
    return Curve(time, temperatures[0], low, high)


def heat_paths(
    network: Network, scenario: Scenario, limits: Sequence[float]
) -> tuple[float, float, dict[str, float], tuple[str, ...]]:
    """Return the temperature halfway between start and last limit, UA there, and its split over PATHS. [K, W K-1]

    The last are the correlations that leave their range there.
    """
    nominal = network.take_lanes(np.array([0]))
    with broken_ranges() as outside:
        reference, split = rest_of_lanes(nominal, np.atleast_1d(np.asarray(scenario.start, dtype=float)), limits)
    own = split[:, 0]
    return float(reference[0]), float(own.sum()), dict(zip(PATHS, own.tolist(), strict=True)), tuple(outside)


def split_of_runs(parts: Sequence[Lanes], limits: ArrayLike) -> Array:
    """Return the split of the heat loss coefficient over PATHS, as `heat_paths`, of runs that can be.

    Parameters
    ----------
    parts : sequence of Lanes
        n runs in all, one after the other.
    limits : (m,) or (m, n) array
        [K]

    Returns
    -------
    (len(PATHS), n) array
        [W K-1]
    """
    count = sum(part.count for part in parts)
    marks, split = limits_of_lanes(limits, count), np.empty((len(PATHS), count))
    for places, lanes in joined_alike(parts):
        network = assemble(lanes.container, lanes.scenario, lanes.unknowns, lanes=lanes.count)
        start = np.broadcast_to(np.asarray(lanes.scenario.start, dtype=float), (lanes.count,))
        split[:, places] = rest_of_lanes(network, start, marks[:, places])[1]
    return split


def rest_of_lanes(network: Network, start: Array, limits: ArrayLike) -> tuple[Array, Array]:
    """Return what `heat_paths` does for every lane.

    Parameters
    ----------
    network : Network
        Of n lanes.
    start : (n,) array
        Temperature that the contents start at. [K]
    limits : (m,) or (m, n) array
        [K]

    Returns
    -------
    reference : (n,) array
        [K]
    split : (len(PATHS), n) array
        [W K-1]
    """
    marks = limits_of_lanes(limits, len(start))
    extreme = np.take_along_axis(marks, np.argmax(np.abs(marks - start), axis=0)[None], axis=0)[0]
    room = network.room.at(np.zeros(network.lane_count))
    reference = 0.5 * (start + extreme)
    reference = np.where(np.abs(reference - room) < 1.0, start, reference)
    first = next(phase for phase in network.phases if phase.start[0] >= 0.0)
    enthalpy = np.asarray(contents_enthalpy(network.contents, reference), dtype=float)
    with nothing_told():
        state = steady_state(network, first, enthalpy, room)
    rhs = RightHandSide(network, first.links)
    flows = rhs.flows(rhs.temperatures(state, room))
    return reference, rhs.path_flows(flows) / (reference - room)
