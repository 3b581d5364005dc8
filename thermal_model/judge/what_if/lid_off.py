"""What it costs to take the lid off for half a minute: a step of u, by temperature of the contents, room and fill.

The engine is asked with the lid taken off now and then, and without; a step is that after which the closed container
would be where the opened one is, just before the lid comes off again.
"""

from dataclasses import dataclass

import numpy as np

from geometries.numeric import Array
from thermal_model.follow import Followed, follow
from thermal_model.judge.what_if.grids import NodeGrid
from thermal_model.judge.what_if.runs import DrawnContainer, curves, progress, time_unit
from thermal_model.scenario import Opening
from thermal_model.solver.scatter import Indices
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.solver.stepping import SCREENING

SECONDS_OFF = 30.0
"""How long the lid is off. [s]"""

OPENINGS = 3
"""In each run that the engine makes."""

USUAL_PERIOD = 3600.0
"""Between openings [s]; less where the container is not hot or cold for so long."""

FINE_TIMES = 600
"""Of the closed container's curve."""


@dataclass(frozen=True)
class LidOff:
    """Steps of u: terms(temperature, room, share) . coefficients, times the factor of the draw.

    Attributes
    ----------
    coefficients : (m,) array
        [-]
    factors : (n,) array
        Zero where there is no lid. [-]
    runs : int
    """

    coefficients: Array
    factors: Array
    runs: int

    def steps(self, temperature: Array, room: Array, share: Array) -> Array:
        """Return the step of u of each draw, (n,), at its contents' temperature and fill. [K, K, -]"""
        found = self.coefficients @ terms(temperature, room, share)
        return self.factors * np.maximum(found, 0.0)


def terms(temperature: Array, room: Array, share: Array) -> Array:
    """Return (m, n) terms of a step: heat that goes with the air, and with vapour, each to more or less contents.

    [K, K, -]
    """
    vapour = np.exp((temperature - 333.15) / 22.0) * 40.0 / np.abs(temperature - room)
    one = np.ones_like(temperature)
    return np.stack([one, one / share, vapour, vapour / share, vapour * one * share])


def no_lid(draws: int) -> LidOff:
    """Return that there is no lid to take off."""
    return LidOff(np.zeros(len(terms(*np.ones((3, 1)) + np.arange(3.0)[:, None]))), np.zeros(draws), 0)


def what_openings_take(drawn: DrawnContainer, unit: Array) -> LidOff:
    """Ask the engine what openings of the lid take."""
    side = drawn.side
    start, room, share = NodeGrid(np.array(side.start), np.array(side.room), np.array([0.3, 0.65, 1.0])).points()
    draws, nodes = np.flatnonzero(np.isfinite(unit)), len(start)
    middle = (np.full(len(draws), value) for value in (max(side.start), np.mean(side.room), 0.7))
    # The best guess at every node, and each draw in one condition.
    draw = np.concatenate([np.zeros(nodes, dtype=np.intp), draws])
    both = (np.concatenate(pair) for pair in zip((start, room, share), middle, strict=True))
    temperature, step = _steps(drawn, unit, draw, *both)
    design = terms(temperature[:, :nodes].ravel(), np.tile(room, OPENINGS), np.tile(share, OPENINGS))
    of_best, taken = step[:, :nodes].ravel(), np.nansum(step[:, nodes:], axis=0)
    good = np.isfinite(of_best)
    coefficients = np.linalg.lstsq(design[:, good].T, of_best[good], rcond=1e-3)[0]
    factors = np.ones(len(unit))
    if taken[0] > 0.0:
        factors[draws] = np.clip(taken / taken[0], 0.2, 5.0)
    return LidOff(np.asarray(coefficients, dtype=float), factors, 2 * len(draw))


def _steps(
    drawn: DrawnContainer, unit: Array, draw: Indices, start: Array, room: Array, share: Array
) -> tuple[Array, Array]:
    """Return temperatures at which the lid comes off, and steps of u, (k, n) each. [K, -]"""
    side = drawn.side
    own = time_unit(side, unit[draw], start, room, share)
    period = np.minimum(USUAL_PERIOD, own / (OPENINGS + 1))
    at = np.arange(1.0, OPENINGS + 1.0)[:, None] * period
    read = at + period
    fill = share * drawn.full[draw]
    openings = tuple(Opening(at=1.0, duration=SECONDS_OFF).model_copy(update={"at": time}) for time in at)
    opened = _run(drawn, draw, start, room, fill, openings, read[-1])
    # The opened container is ahead of the closed one.
    until = read[-1] + 2.0 * period
    closed = _run(drawn, draw, start, room, fill, (), until)
    start, room = drawn.misread.own(start, room, draw)
    fine = np.linspace(0.0, 1.0, FINE_TIMES)[:, None] ** 1.5 * until
    curve = progress(side, start, room, curves(closed, fine))
    before, later = (progress(side, start, room, curves(opened, times)) for times in (at, read))
    step = np.full(at.shape, np.nan)
    for run in range(len(start)):
        if np.isnan(curve[:, run]).any() or np.isnan(later[:, run]).any():
            continue
        alike = np.interp(later[:, run], curve[:, run], fine[:, run]) - period[run]
        step[:, run] = np.interp(alike, fine[:, run], curve[:, run]) - before[:, run]
    return room + (start - room) * np.exp(-before), step


def _run(
    drawn: DrawnContainer,
    draw: Indices,
    start: Array,
    room: Array,
    fill: Array,
    openings: tuple[Opening, ...],
    until: Array,
) -> Followed:
    lanes = drawn.lanes(draw, start, room, fill, openings)
    return follow(lanes, [np.nan], horizon=until, record=True, tolerance=SCREENING, stepper=compiled_stepper())
