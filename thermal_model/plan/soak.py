"""How long a container has to stand empty between runs until nothing of it remembers the run before.

The model's own network says so: what is inside is air instead of a drink, everything starts at rest with the contents
of the run before, and the time is wanted at which the last node has come back to the room.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geometries.container import Container
from geometries.errors import InputError
from geometries.numeric import Array
from thermal_model.assemble.build import assemble
from thermal_model.assemble.checks import is_possible
from thermal_model.assemble.timeline import LONGEST_RUN
from thermal_model.scenario import Opening, Scenario, WallStart
from thermal_model.solver.engine import Outcome, integrate
from thermal_model.solver.network import CONTENTS, Network
from thermal_model.solver.rates import contents_temperature
from thermal_model.solver.steppers import stepper_for
from thermal_model.solver.stepping import Tolerance
from thermal_model.uncertainty import PRIORS, Belief, draw_sample, low_median_high
from thermal_model.work_done import ShareDone

DEFAULT_TOLERANCE = 0.5
"""Of the room that counts as back at it: as well as simple thermometers agree; judgement. [K]"""

AIR_DENSITY, AIR_HEAT_CAPACITY = 1.2, 1007.0
"""At 20 C; Incropera/DeWitt, table A.4, from memory. [kg m-3, J kg-1 K-1]"""

AIR_FILM = 5.0
"""Between dry walls and the air inside, radiation among them included [W m-2 K-1]: free convection of air at a few
kelvin gives 3 to 5, worn steel adds 1; judgement."""

FILM_SPREAD = PRIORS["headspace_film"].width
"""Of the logarithm of this film: as the headspace's own."""

SHORTEST, LONGEST, TIMES = 120.0, 2 * 86400.0, 14
"""Times at which the network is looked at: from two minutes to two days, evenly in the logarithm. [s]"""

COARSE = Tolerance(contents=1e-2, others=1e-2, at_fill=0.0)
"""A hundredth of a kelvin is fine where half of one is looked for."""

NO_VAPOUR = "vegetable_oil"
"""Contents that give no vapour lend their place to dry air."""


@dataclass(frozen=True)
class Soak:
    """How long to stand empty.

    Attributes
    ----------
    container : Container
    is_lid_on : bool
    tolerance : float
        [K]
    low, median, high : float
        Quantiles 5, 50 and 95 % of the time until everything is within the tolerance; infinite beyond two days. [s]
    slowest : str
        Node that comes last at best guess.
    draws : int
        That were computed.
    failed : int
        Draws besides those that could not be.
    """

    container: Container
    is_lid_on: bool
    tolerance: float
    low: float
    median: float
    high: float
    slowest: str
    draws: int = 0
    failed: int = 0


def soak(
    container: Container,
    scenario: Scenario,
    *,
    is_lid_on: bool,
    draws: int,
    seed: int,
    tolerance: float = DEFAULT_TOLERANCE,
    belief: Belief | None = None,
    progress: ShareDone | None = None,
) -> Soak:
    """Return how long a container takes to come back to the room after a run.

    Parameters
    ----------
    container : Container
    scenario : Scenario
        Of the run: its start is the temperature at which everything rests when the container is emptied, to be on
        the safe side; room, wind and what it stands on stay as they are.
    is_lid_on : bool
        Without, the lid lies open beside the container.
    draws : int
        0 gives the best guess alone.
    seed : int
    tolerance : float
        [K]
    belief : Belief, optional
    progress : callable, optional
        Called with the share of the work done.

    Raises
    ------
    InputError
        If the best guess, or every draw, could not be computed.

    Notes
    -----
    Wiped dry: drops that stay would evaporate and cool the walls below the room.
    """
    empty = emptied(scenario, is_lid_on=is_lid_on and container.lid is not None)
    sample = draw_sample(container, empty, draws, seed, belief=belief)
    film = AIR_FILM * np.exp(FILM_SPREAD * sample.standard_normals["headspace_film"])
    run = sample.scenario.model_copy(update={"pins": empty.pins.model_copy(update={"wetted_film": film})})
    times = np.geomspace(SHORTEST, LONGEST, TIMES)
    runs = replace(sample, scenario=run)
    possible = np.flatnonzero(is_possible(runs))
    back, slowest = np.full(sample.count, np.nan), ""
    if len(possible):
        some = runs.take(possible)
        lanes = np.repeat(np.arange(some.count), TIMES)
        network = assemble(some.container, some.scenario, some.unknowns, lanes=some.count).take_lanes(lanes)
        excess = _excess(network, np.tile(times, some.count), progress)
        largest = excess.max(axis=0).reshape(some.count, TIMES)
        back[possible] = [_time_within(times, row, tolerance) for row in largest]
        nominal = np.searchsorted(times, back[0]) if np.isfinite(back[0]) else TIMES
        slowest = network.names[int(excess[:, max(nominal - 1, 0)].argmax())]
    drawn = back[1:] if draws else back
    good = drawn[~np.isnan(drawn)]
    if np.isnan(back[0]) or not len(good):
        raise InputError(NOT_COMPUTED, source=container.name)
    low, median, high = low_median_high(good)
    failed = len(drawn) - len(good)
    return Soak(container, is_lid_on, tolerance, low, median, high, slowest, draws - failed, failed)


NOT_COMPUTED = (
    "the computation gave up on it standing empty; change a size or a condition a little, and please report the case"
)


def emptied(scenario: Scenario, *, is_lid_on: bool) -> Scenario:
    """Return what comes after a run: air inside, everything as warm as the contents were, the lid on or off."""
    air: dict[str, Any] = {
        "contents_density": AIR_DENSITY,
        "contents_heat_capacity": AIR_HEAT_CAPACITY,
        "wetted_film": AIR_FILM,
    }
    changes: dict[str, Any] = {
        "contents": NO_VAPOUR,
        "fill": None,
        "ice": 0.0,
        "walls": WallStart.PREHEATED,
        "preheat": None,
        "relative_humidity": 0.0,
        "openings": () if is_lid_on else (Opening(at="0 s", duration=f"{LONGEST_RUN} s"),),
        "pins": scenario.pins.model_copy(update=air),
    }
    return scenario.model_copy(update=changes)


def _excess(network: Network, horizons: Array, progress: ShareDone | None) -> Array:
    """Return how far each node is from the room at each lane's horizon, (N, n); NaN in lanes that failed. [K]"""
    never = np.full((1, len(horizons)), np.nan)
    how: dict[str, Any] = {"tolerance": COARSE, "stepper": stepper_for(len(horizons)), "progress": progress}
    trajectory = integrate(network, never, horizons, **how)
    temperatures = trajectory.final_state[:-1].copy()
    temperatures[CONTENTS] = contents_temperature(network.contents, temperatures[CONTENTS])
    excess = np.abs(temperatures - network.room.at(horizons))
    excess[:, trajectory.outcome == Outcome.FAILED] = np.nan
    return excess


def _time_within(times: Array, excess: Array, tolerance: float) -> float:
    """Return when an excess falls below a tolerance for good, exponential between the times; infinite if never."""
    if np.isnan(excess).any():
        return float("nan")
    beyond = np.flatnonzero(excess > tolerance)
    if not len(beyond):
        return float(times[0])
    last = int(beyond[-1])
    if last == len(times) - 1:
        return float("inf")
    logs = np.log(np.maximum(excess[[last, last + 1]], 1e-9))
    share = (logs[0] - np.log(tolerance)) / (logs[0] - logs[1])
    return float(times[last] + share * (times[last + 1] - times[last]))


def longest_soak(soaks: Sequence[Soak]) -> float:
    """Return a soak that does for several containers. [s]"""
    return max(one.high for one in soaks)
