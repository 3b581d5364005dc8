"""Fast batched integration: all lanes of a network in lock step, each with its own adaptive step.

Lanes that have ended leave the batch; what is left is the same numbers, so a lane's result does not depend on its
neighbours.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometries.numeric import Array
from thermal_model.properties import water
from thermal_model.solver.network import CONTENTS, LinkTable, Network, Phase, RoomTemperature
from thermal_model.solver.rates import RightHandSide, contents_enthalpy, contents_temperature
from thermal_model.solver.rosenbrock import StepMatrix
from thermal_model.solver.scatter import Indices, sum_of_rows
from thermal_model.solver.stepping import FILL_IS_OVER, PlainStepper, Stepper, Tolerance

MakeStepper = Callable[[Network, LinkTable, Tolerance], Stepper]
"""Makes a stepper of a network's lanes, with one phase's links."""


class Outcome(IntEnum):
    """What became of a run, from the engine to every table."""

    REACHED = 0
    """Every limit was crossed."""

    NOT_REACHED = 1
    """A limit was not crossed in the time followed."""

    INVALID = 2
    """There is no such run: its dimensions or conditions can't be."""

    FAILED = 3
    """The computation gave up."""


MOST_TREND = 1.5
"""How many times longer a step may be, at most, than the last one foretold."""

NEAR_A_LIMIT, BEYOND_A_LIMIT = 30.0, 1.003
"""A step of a coarse engine that passes a limit begins or ends this close to it [s]: in between, slopes tell little. A
step that is taken again for it goes that many times as far as foretold."""

CORNERS = np.array([0.0, float(water.specific_enthalpy(water.DENSEST))])
"""Enthalpies of water where what follows bends: the last ice melts; water is densest, and flow along walls turns. The
error of a step sees neither. [J kg-1]"""

CORNER_SHARE, SHORTEST_TO_CORNER, AFTER_CORNER = 1e-3, 0.1, 0.2
"""A step that would pass a corner ends this share, and these seconds, beyond it; the next is this share of the one that
was wanted."""

SHORT_STEP, MANY_SHORT_STEPS, STRICTER = 0.05, 40, 10.0
"""A step is short that is less than this share of the time since its phase began, or of that in which a fill dies away.
After so many of them a lane may err so many times less for as many more, then that many times less again, then as much
as at first. Where vapour sets in, air or a wall can stay beside its balance, each step as wrong as it may be; with less
error it gets there."""

FIRST_STEP_LATER = 0.5
LONGEST_STEP = 7200.0
SHORTEST_STEP = 1e-7

THIN_OUT_BELOW = 0.75
"""Share of lanes still going from which the ended ones leave the batch: stepping them along costs more than parting."""


@dataclass(frozen=True)
class Trajectory:
    """What an integration found, for n lanes and m limits.

    Attributes
    ----------
    crossing_times : (m, n) array
        When the contents passed each limit; NaN where they did not. [s]
    outcome : (n,) int array
        Members of Outcome.
    end_time : (n,) array
        Where each lane ended. [s]
    final_state : (N + 1, n) array
        As in `RightHandSide`.
    final_mass, evaporated : (n,) array
        Contents at the end, and what evaporated from open contents. [kg]
    balance_error : (n,) array
        |stored + lost - started| over the heat that the contents held against the room at the start.
    times, enthalpies, slopes : list of n arrays
        Steps taken, for interpolation; empty unless recorded. [s, J kg-1, J kg-1 s-1]
    """

    crossing_times: Array
    outcome: NDArray[np.int64]
    end_time: Array
    final_state: Array
    final_mass: Array
    evaporated: Array
    balance_error: Array
    times: list[Array]
    enthalpies: list[Array]
    slopes: list[Array]

    def enthalpy_at(self, lane: int, times: Array) -> Array:
        """Return the contents' specific enthalpy at times within the run, by cubic interpolation. [J kg-1]"""
        return hermite(self.times[lane], self.enthalpies[lane], self.slopes[lane], times)


def hermite(nodes: Array, values: Array, slopes: Array, at: Array) -> Array:
    """Interpolate with cubic pieces from values and slopes; a time at a jump takes the value after it."""
    k = np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, len(nodes) - 2)
    width = nodes[k + 1] - nodes[k]
    x = np.where(width > 0.0, (at - nodes[k]) / np.where(width > 0.0, width, 1.0), 0.0)
    rise = values[k + 1] - values[k]
    a, b = width * slopes[k] - rise, -width * slopes[k + 1] + rise
    return values[k] + x * rise + x * (1.0 - x) * (a * (1.0 - x) + b * x)


def integrate(
    network: Network,
    limits: Array,
    horizon: Array,
    *,
    tolerance: Tolerance | None = None,
    at_least: float = 0.0,
    record: bool = False,
    stepper: MakeStepper = PlainStepper,
    progress: Callable[[float], None] | None = None,
) -> Trajectory:
    """Integrate all lanes from the start until every limit is crossed or the horizon is reached.

    Parameters
    ----------
    network : Network
    limits : (m, n) array
        Specific enthalpies at which the time is wanted. [J kg-1]
    horizon : (n,) array
        Longest time to follow a lane. [s]
    tolerance : Tolerance, optional
    at_least : float
        Follow every lane this long, even if it has crossed its last limit before. [s]
    record : bool
        Keep the steps for interpolation.
    stepper : callable
        What to step with: PlainStepper, or for large batches `thermal_model.solver.compiled.stepper.CompiledStepper`.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    Trajectory
    """
    run = _Run(network, limits, horizon, tolerance or Tolerance(), at_least, record, stepper, progress)
    for phase in network.phases:
        run.follow(phase)
    return run.result()


class _Run:
    """The state of an integration: whole-batch arrays, to which the lanes in hand are written back."""

    def __init__(
        self,
        network: Network,
        limits: Array,
        horizon: Array,
        tolerance: Tolerance,
        at_least: float,
        record: bool,
        stepper: "MakeStepper",
        progress: Callable[[float], None] | None,
    ) -> None:
        n = network.lane_count
        self.network, self.limits, self.asked = network, limits, horizon
        self.horizon = np.minimum(horizon, network.known_until)
        self.tolerance, self.at_least, self.stepper, self.progress = tolerance, at_least, stepper, progress
        self.time = network.phases[0].start.copy()
        self.state = initial_state(network)
        self.mass = network.phases[0].mass.copy()
        self.evaporated, self.removed = np.zeros(n), np.zeros(n)
        self.crossings = np.full(limits.shape, np.nan)
        self.failed = np.zeros(n, dtype=bool)
        self.started = self._stored()
        self.scale = np.abs(self._heat_against_room())
        self.steps: list[list[tuple[float, float, float]]] | None = [[] for _ in range(n)] if record else None

    def _stored(self) -> Array:
        others = self.network.capacities.copy()
        others[CONTENTS] = 0.0
        return self.mass * self.state[CONTENTS] + sum_of_rows(others * self.state[:-1])

    def _heat_against_room(self) -> Array:
        room = self.network.room.at(self.time)
        return self.mass * (self.state[CONTENTS] - contents_enthalpy(self.network.contents, room))

    def _is_finished(self) -> NDArray[np.bool_]:
        crossed = np.all(~np.isnan(self.crossings), axis=0)
        return (crossed & (self.time >= self.at_least)) | (self.time >= self.horizon) | self.failed

    def follow(self, phase: Phase) -> None:
        """Integrate the lanes that are not finished through a phase."""
        lanes = np.flatnonzero(~self._is_finished())
        if not len(lanes):
            return
        self._enter(phase, lanes)
        whole = replace(self.network, phases=())  # those of other phases are not needed
        whole = whole.take_lanes(lanes) if len(lanes) < self.network.lane_count else whole
        links = phase.links.take_lanes(lanes) if len(lanes) < self.network.lane_count else phase.links
        end = np.minimum(phase.end, self.horizon)[lanes]
        stepper = _of_lanes(self.stepper, lanes)(whole, links, self.tolerance)
        _LockStep(self, lanes, stepper, whole.room, end).run()

    def _enter(self, phase: Phase, lanes: Indices) -> None:
        """Pour out, or refill, as the phase says; what leaves or enters takes its enthalpy along."""
        before = self.mass[lanes] * self.state[CONTENTS, lanes]
        self.mass[lanes] = phase.mass[lanes] - self.evaporated[lanes]
        if phase.contents_enthalpy is not None:
            self.state[CONTENTS, lanes] = phase.contents_enthalpy[lanes]
        self.removed[lanes] += before - self.mass[lanes] * self.state[CONTENTS, lanes]

    def result(self) -> Trajectory:
        """Close the books."""
        crossed = np.all(~np.isnan(self.crossings), axis=0)
        is_cut_short = ~crossed & (self.horizon < self.asked) & (self.time >= self.horizon)
        outcome = np.where(crossed, Outcome.REACHED, Outcome.NOT_REACHED)
        outcome = np.where(self.failed | is_cut_short, Outcome.FAILED, outcome)
        imbalance = np.abs(self._stored() + self.state[-1] + self.removed - self.started)
        steps = [np.array(lane).T for lane in self.steps] if self.steps is not None else []
        return Trajectory(
            crossing_times=self.crossings,
            outcome=outcome.astype(np.int64),
            end_time=self.time,
            final_state=self.state,
            final_mass=self.mass,
            evaporated=self.evaporated,
            balance_error=imbalance / np.maximum(self.scale, 1.0),
            times=[s[0] for s in steps],
            enthalpies=[s[1] for s in steps],
            slopes=[s[2] for s in steps],
        )


def _of_lanes(make: MakeStepper, lanes: Indices) -> MakeStepper:
    """Return what makes a stepper of some lanes: one that tells lanes apart has to know which are left."""
    of_lanes: Callable[[Indices], MakeStepper] | None = getattr(make, "of_lanes", None)
    return make if of_lanes is None else of_lanes(lanes)


class _LockStep:
    """Steps of the lanes in hand through one phase; local arrays, thinned out as lanes end."""

    def __init__(self, run: _Run, lanes: Indices, stepper: Stepper, room: RoomTemperature, end: Array) -> None:
        self.run_ = run
        self.lanes, self.stepper, self.room, self.end = lanes, stepper, room, end
        self.time, self.state = run.time[lanes], run.state[:, lanes]
        self.mass, self.limits = run.mass[lanes], run.limits[:, lanes]
        # Only a fill starts with a shock of milliseconds; a lid that comes off does not.
        is_fill = run.time[lanes] == run.network.phases[0].start[lanes]
        self.step = np.where(is_fill, run.tolerance.first_step, FIRST_STEP_LATER)
        self.alive = self.time < self.end
        self.foretold = np.full_like(self.step, np.inf)
        self.loss_change = np.zeros_like(self.time)
        self.began, self.short_steps = self.time.copy(), np.zeros(len(self.time), dtype=np.intp)

    def run(self) -> None:
        """Step until every lane has reached the end of the phase, its last limit, or has failed."""
        self._start()
        while self.alive.any():
            if self.alive.sum() < THIN_OUT_BELOW * len(self.alive):
                self._thin_out()
            self._advance()
        self._write_back(np.arange(len(self.lanes)))

    def _advance(self) -> None:
        wanted = np.minimum(np.where(self.alive, self.step, 1.0), np.maximum(self.end - self.time, 1e-9))
        step = np.minimum(wanted, self._until_corner())
        lost = self._evaporating_mass(step)
        state, size = self.stepper.step(self.state, self.time, step, self.mass - 0.5 * lost)
        size = size * STRICTER ** (self.short_steps // MANY_SHORT_STEPS % 3)
        accepted = self.alive & (size <= 1.0)
        is_short = step < SHORT_STEP * np.minimum(self.time - self.began, FILL_IS_OVER)
        self.short_steps = np.where(is_short, self.short_steps + accepted, 0)
        until = np.full_like(step, np.inf)
        if not self.run_.tolerance.slopes_are_exact:
            until = self._until_limit(accepted, step, state)
            accepted &= np.isinf(until)
        growth = self._growth(step, size, accepted)
        shrunk = self.alive & ~accepted & (step * growth < SHORTEST_STEP)
        if accepted.any():
            self._accept(accepted, step, state, lost)
        was_cut = accepted & (step < wanted)
        following = np.where(was_cut, np.maximum(step * growth, AFTER_CORNER * wanted), step * growth)
        following = np.minimum(following, until)
        self.step = np.minimum(np.where(self.alive, following, self.step), LONGEST_STEP)
        self.run_.failed[self.lanes[shrunk]] = True
        self._end_lanes(shrunk)

    def _growth(self, step: Array, size: Array, accepted: NDArray[np.bool_]) -> Array:
        """Return how many times longer the next step may be, by the error of this one and, after a fill, by its trend.

        As a fill dies away a step may be longer than the one before foretold; so may then the next (Gustafsson, 1994,
        cited from memory). Later that saves little, and slopes of hold times would err more.
        """
        growth = 0.9 * np.maximum(size, 1e-10) ** (-1.0 / self.run_.tolerance.method.order)
        trend = np.clip(growth * step / self.foretold, 1.0, MOST_TREND)
        self.foretold = np.where(accepted, growth * step, self.foretold)
        has_trend = accepted & (self.time < FILL_IS_OVER)
        return np.clip(np.where(has_trend, growth * trend, growth), 0.2, 6.0)

    def _until_corner(self) -> Array:
        """Return how long a step may be, (n,): to the next corner on the way, if the contents are water. [s]"""
        state = self.state[CONTENTS]
        if not self.run_.network.contents.is_water:
            return np.full_like(state, np.inf)
        with np.errstate(all="ignore"):
            away = (CORNERS[:, None] - state) / self.slope
        left = np.where(away > 0.0, away, np.inf).min(axis=0)
        return left * (1.0 + CORNER_SHARE) + SHORTEST_TO_CORNER

    def _evaporating_mass(self, step: Array) -> Array:
        """Return what open contents lose in a step, from the rate and its change in the step before."""
        rate = self.loss_rate + 0.5 * step * self.loss_change
        return np.clip(rate * step, -0.1 * self.mass, 0.1 * self.mass)

    def _accept(self, accepted: NDArray[np.bool_], step: Array, state: Array, lost: Array) -> None:
        run, lanes = self.run_, self.lanes
        time = np.where(accepted, self.time + step, self.time)
        new_state = np.where(accepted, state, self.state)
        lost = np.where(accepted, lost, 0.0)
        # The step held the mean of the mass before and after: so what leaves takes the mean enthalpy along.
        run.removed[lanes] += 0.5 * lost * (self.state[CONTENTS] + new_state[CONTENTS])
        run.evaporated[lanes] += lost
        self.mass = self.mass - lost
        before, self.state = (self.time, self.state[CONTENTS], self.slope, self.loss_rate), new_state
        self.time = time
        self._evaluate()
        self.loss_change = np.where(accepted, (self.loss_rate - before[3]) / step, self.loss_change)
        self._find_crossings(accepted, step, before[0], before[1], before[2])
        if run.steps is not None:
            for k in np.flatnonzero(accepted & self.alive):
                run.steps[lanes[k]].append((time[k], new_state[CONTENTS, k], self.slope[k]))
        crossed = np.all(~np.isnan(run.crossings[:, lanes]), axis=0) & (time >= run.at_least)
        self._end_lanes(accepted & (crossed | (self.end - time <= 1e-9)))
        if run.progress is not None:
            run.progress(float(np.mean(np.minimum(run.time / np.maximum(run.horizon, 1.0), 1.0))))

    def _evaluate(self) -> None:
        """Keep the rate of the contents' enthalpy and of their evaporation at the present state."""
        heating, self.loss_rate = self.stepper.evaluate(self.state, self.room.at(self.time))
        self.slope = heating / self.mass

    def _find_crossings(
        self, accepted: NDArray[np.bool_], step: Array, time: Array, before: Array, slope: Array
    ) -> None:
        """Note limits passed since a time, where the contents' enthalpy was `before` and changed with `slope`."""
        after, crossings = self.state[CONTENTS], self.run_.crossings
        for row, limit in enumerate(self.limits):
            sides = (before - limit) * (after - limit)
            is_new = accepted & (sides <= 0.0) & (before != limit) & np.isnan(crossings[row, self.lanes])
            hits = np.flatnonzero(is_new & (time >= 0.0))  # a preheat is not part of the run
            if len(hits):
                share = _root_of_cubic(
                    step[hits], before[hits], after[hits], slope[hits], self.slope[hits], limit[hits]
                )
                crossings[row, self.lanes[hits]] = time[hits] + share * step[hits]

    def _until_limit(self, accepted: NDArray[np.bool_], step: Array, state: Array) -> Array:
        """Return how long a step should be to end at a limit that it passes midway; infinite where it does not, (n,).

        A wall that errs by a tenth of a kelvin may be a third of the difference that drives the heat: so the slope at
        the end of a coarse step does not tell where the limit lies within it.
        """
        until = np.full_like(step, np.inf)
        before, after = self.state[CONTENTS], state[CONTENTS]
        for row, limit in enumerate(self.limits):
            passed = accepted & ((before > limit) != (after > limit))
            hits = np.flatnonzero(passed & np.isnan(self.run_.crossings[row, self.lanes]) & (self.time >= 0.0))
            if not len(hits):
                continue
            slope, rise = self.slope[hits], (after - before)[hits] / step[hits]
            share = _root_of_cubic(step[hits], before[hits], after[hits], slope, 2.0 * rise - slope, limit[hits])
            near = np.minimum(share, 1.0 - share) * step[hits] < NEAR_A_LIMIT
            until[hits] = np.minimum(until[hits], np.where(near, np.inf, BEYOND_A_LIMIT * share * step[hits]))
        return until

    def _start(self) -> None:
        run = self.run_
        self._evaluate()
        if run.steps is not None:
            for k, lane in enumerate(self.lanes):
                run.steps[lane].append((self.time[k], self.state[CONTENTS, k], self.slope[k]))

    def _end_lanes(self, ended: NDArray[np.bool_]) -> None:
        if ended.any():
            self.alive = self.alive & ~ended
            self._write_back(np.flatnonzero(ended))

    def _write_back(self, local: Indices) -> None:
        lanes = self.lanes[local]
        self.run_.time[lanes] = self.time[local]
        self.run_.state[:, lanes] = self.state[:, local]
        self.run_.mass[lanes] = self.mass[local]

    def _thin_out(self) -> None:
        keep = np.flatnonzero(self.alive)
        self.stepper, self.room = self.stepper.take_lanes(keep), self.room.take_lanes(keep)
        self.lanes, self.end, self.time = self.lanes[keep], self.end[keep], self.time[keep]
        self.state, self.mass, self.limits = self.state[:, keep], self.mass[keep], self.limits[:, keep]
        self.step, self.alive, self.foretold = self.step[keep], self.alive[keep], self.foretold[keep]
        self.loss_rate, self.loss_change = self.loss_rate[keep], self.loss_change[keep]
        self.began, self.short_steps = self.began[keep], self.short_steps[keep]
        self._evaluate()


def _root_of_cubic(width: Array, value_0: Array, value_1: Array, slope_0: Array, slope_1: Array, level: Array) -> Array:
    """Return where in a step, 0 to 1, the interpolating cubic passes a level, to rounding.

    By Newton's steps, and by halving where one would leave what lies between the last points on either side.
    """
    rise, wanted = value_1 - value_0, level - value_0
    a, b = width * slope_0 - rise, -width * slope_1 + rise
    low, high = np.zeros_like(width), np.ones_like(width)
    share, moves = wanted / rise, np.ones(len(width), dtype=bool)
    for _ in range(MOST_ROOT_STEPS):
        if not moves.any():
            break
        bend = a * (1.0 - share) + b * share
        away = share * (rise + (1.0 - share) * bend) - wanted
        passed = np.where(rise < 0.0, away <= 0.0, away >= 0.0)
        low, high = np.where(passed, low, share), np.where(passed, share, high)
        slope = rise + (1.0 - 2.0 * share) * bend + share * (1.0 - share) * (b - a)
        following = share - away / np.where(slope == 0.0, 1.0, slope)
        following = np.where((following >= low) & (following <= high), following, 0.5 * (low + high))
        moves &= np.abs(following - share) > ROOT_IS_FOUND
        share = np.where(moves, following, share)
    return share


MOST_ROOT_STEPS, ROOT_IS_FOUND = 60, 1e-15


def initial_state(network: Network) -> Array:
    """Return the state at the start, (N + 1, n), walls at rest where the network asks for it."""
    if network.starts_at_rest:
        first = network.phases[0]
        return steady_state(network, first, network.initial[CONTENTS], network.room.at(first.start))
    return np.vstack([network.initial, np.zeros((1, network.lane_count))])


def steady_state(network: Network, phase: Phase, contents_enthalpy: Array, room: Array) -> Array:
    """Return the state in which everything but the contents has come to rest, (N + 1, n).

    Implicit Euler steps of growing length, the contents held, come near it; damped Newton steps finish.
    """
    rhs = RightHandSide(network, phase.links)
    state = np.empty((network.node_count + 1, network.lane_count))
    state[:] = 0.5 * (contents_temperature(network.contents, contents_enthalpy) + room)
    state[CONTENTS], state[-1] = contents_enthalpy, 0.0
    rest = _Rest(rhs, room, rhs.capacities(phase.mass)[:-1])
    moving = np.ones(network.lane_count, dtype=bool)
    for steps in EULER_STEPS:
        for step in steps:
            state = np.where(moving, rest.moved(state, rest.change(state, step)), state)
        for _ in range(MOST_NEWTON_STEPS):
            unrest, allowed = rest.unrest(state)
            moving = unrest > allowed
            if not moving.any():
                return state
            state = np.where(moving, rest.damped(rest.change(state, np.inf), state, unrest), state)
    return state


EULER_STEPS = (np.geomspace(1.0, 1e6, 13), np.geomspace(0.1, 1e5, 80))
"""Steps on the way to rest [s]; the second, finer way is for lanes that Newton's method did not bring there."""

MOST_NEWTON_STEPS, MOST_HALVINGS = 100, 20


@dataclass(frozen=True)
class _Rest:
    """The way to the state of rest: steps towards it, and how far from it a state is."""

    rhs: RightHandSide
    room: Array
    capacities: Array

    @cached_property
    def matrix(self) -> StepMatrix:
        return StepMatrix(self.rhs)

    def unrest(self, state: Array) -> tuple[Array, Array]:
        """Return the heat that nodes but the contents take up, and how much of it may stay, (n,). [W]"""
        flows = self.rhs.flows(self.rhs.temperatures(state, self.room))
        heating = np.abs(self.rhs.heating(flows)[1:-1])
        return sum_of_rows(heating), 1e-9 * np.maximum.reduce(np.abs(flows), axis=0)

    def change(self, state: Array, step: float) -> Array:
        """Return the change of an implicit Euler step [s]; an infinite one is Newton's. (N, n)"""
        here = self.rhs.linearised(state, self.room)
        diagonal = self.capacities / step
        diagonal[CONTENTS] = 1e30
        slopes = self.rhs.state_slopes(state, here.temperatures)
        factors = self.matrix.factorise(diagonal, here.by_start, here.by_end, slopes)
        return np.clip(self.matrix.elimination.solve(factors, self.rhs.heating(here.flows)[:-1]), -30.0, 30.0)

    def moved(self, state: Array, change: Array) -> Array:
        """Return the state after a change, kept between contents and room: there is no other source but sunlight.

        Above boiling vapour's flow no longer grows, and no step would find back. Sunlight gets 60 K more.
        """
        after = state.copy()
        after[:-1] += change
        contents = contents_temperature(self.rhs.network.contents, state[CONTENTS])
        coldest, warmest = np.minimum(contents, self.room), np.maximum(contents, self.room)
        sunny = 60.0 * np.any(self.rhs.network.sources > 0.0, axis=0)
        after[1:-1] = np.clip(after[1:-1], coldest, warmest + sunny)
        return after

    def damped(self, change: Array, state: Array, unrest: Array) -> Array:
        """Return the state after a change, halved in each lane until it brings rest: films set in with a kink."""
        share = np.ones_like(unrest)
        for _ in range(MOST_HALVINGS):
            trial = self.moved(state, share * change)
            is_worse = ~(self.unrest(trial)[0] < unrest)
            if not is_worse.any():
                break
            share = np.where(is_worse, 0.5 * share, share)
        return self.moved(state, share * change)
