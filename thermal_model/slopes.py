"""How a run answers to what is not known: slopes of hold time and temperatures by every unknown, in one batch.

The run at the best guess, and with each unknown a step up and a step down, are lanes of one network.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from geometries.container import Container
from geometries.errors import InputError, InputProblem
from geometries.numeric import Array
from thermal_model.assemble.build import assemble
from thermal_model.follow import DEFAULT_HORIZON, reachable_limits
from thermal_model.prediction import check_fill, check_limits
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper, Outcome, Trajectory, integrate
from thermal_model.solver.network import Network
from thermal_model.solver.rates import contents_temperature
from thermal_model.solver.stepping import PlainStepper
from thermal_model.uncertainty import PRIORS, Scope, perturbed_container, perturbed_scenario
from thermal_model.unknowns import UNKNOWN_NAMES, Unknowns

STEP = 0.5
"""Of the central differences, in standard deviations of the prior: the mean slope over what is likely, not the slope at
a point, since some priors are wide."""

LANES = 1 + 2 * len(PRIORS)
"""Of a run and its neighbours."""

LASTING = tuple(name for name, prior in PRIORS.items() if prior.scope is not Scope.RUN)
"""Unknowns that a later run shares: what can be learnt."""

PASSING = tuple(name for name, prior in PRIORS.items() if prior.scope is Scope.RUN)
"""Unknowns that are anew in each run."""

CENTRE = dict.fromkeys(PRIORS, 0.0)
"""The best guess of every unknown, in units of its prior."""


@dataclass(frozen=True)
class Response:
    """Temperatures that a run would show, and how they answer to what is not known.

    Attributes
    ----------
    temperatures : (k,) array
        [K]
    lasting, passing : (k, p), (k, q) array
        Slopes by the unknowns, in units of their priors. [K]
    excess : (k,) array
        Over the room. [K]
    """

    temperatures: Array
    lasting: Array
    passing: Array
    excess: Array


def _split(slopes: Mapping[str, Array]) -> tuple[Array, Array]:
    """Return slopes by unknown as arrays of the lasting and of the passing ones, unknowns last."""
    return tuple(np.stack([slopes[name] for name in names], axis=-1) for names in (LASTING, PASSING))  # type: ignore[return-value]


def log_hold_time(
    container: Container,
    scenario: Scenario,
    limit: float,
    centre: Mapping[str, float] = CENTRE,
    stepper: MakeStepper = PlainStepper,
) -> tuple[float, Array, Array]:
    """Return a hold time, and the slopes of its logarithm by the unknowns in units of their priors.

    Parameters
    ----------
    container : Container
    scenario : Scenario
    limit : float
        [K]
    centre : mapping of str to float
        Where the unknowns are, in units of their priors.
    stepper : callable
        As of `integrate`.

    Returns
    -------
    float
        With the unknowns at the centre. [s]
    (p,), (q,) array
        By the lasting unknowns, and by the passing ones. [-]

    Raises
    ------
    InputError
        If the limit can't be reached, or is not within the horizon.
    """
    check_limits(scenario, [limit], can_evaporate=container.lid is None or bool(scenario.openings))
    designs, run, network = _around(container, scenario, centre)
    levels = reachable_limits(designs, run, [limit], network.lane_count)
    times = integrate(network, levels, np.full(network.lane_count, DEFAULT_HORIZON), stepper=stepper).crossing_times[0]
    if not np.isfinite(times).all():
        message = f"{limit - 273.15:.1f} C is not reached within {DEFAULT_HORIZON / 86400.0:g} days; take another limit"
        raise InputError(InputProblem(message, "until"))
    return float(times[0]), *_split(_slopes(np.log(times)))


def temperature_response(
    container: Container,
    scenario: Scenario,
    times: Array,
    centre: Mapping[str, float] = CENTRE,
    stepper: MakeStepper = PlainStepper,
) -> Response:
    """Return the temperatures at the readings of a run, and their slopes by the unknowns."""
    _, _, network = _around(container, scenario, centre)
    temperatures = contents_at(network, times, stepper)
    lasting, passing = _split(_slopes(temperatures))
    room = np.stack([network.room.at(np.full(network.lane_count, time))[0] for time in times])
    excess = np.maximum(np.abs(temperatures[:, 0] - room), 1e-3)
    return Response(temperatures[:, 0], lasting, passing, excess)


def contents_at(network: Network, times: Array, stepper: MakeStepper = PlainStepper) -> Array:
    """Return the contents' temperature at k times in n lanes, (k, n). [K]"""
    never = np.full((1, network.lane_count), np.nan)
    horizon = np.full(network.lane_count, float(times[-1]))
    trajectory: Trajectory = integrate(network, never, horizon, record=True, stepper=stepper)
    if np.any(trajectory.outcome == Outcome.FAILED):
        raise InputError("the computation of a candidate run failed; leave it out")
    lanes = [trajectory.enthalpy_at(lane, times) for lane in range(network.lane_count)]
    return np.asarray(contents_temperature(network.contents, np.stack(lanes, axis=1)))


def _around(
    container: Container, scenario: Scenario, centre: Mapping[str, float]
) -> tuple[Container, Scenario, Network]:
    """Return a run at the centre, then with each unknown a step up and a step down, as lanes of one network."""
    check_fill(container, scenario)
    normals = {name: np.full(LANES, centre[name]) for name in PRIORS}
    for number, name in enumerate(PRIORS):
        normals[name][1 + 2 * number : 3 + 2 * number] += [STEP, -STEP]
    values = {name: prior.values(normals[name]) for name, prior in PRIORS.items()}
    designs = perturbed_container(container, values)
    run = perturbed_scenario(designs, scenario, values)
    unknowns = Unknowns(**{name: values[name] for name in UNKNOWN_NAMES})
    return designs, run, assemble(designs, run, unknowns, lanes=LANES)


def _slopes(results: Array) -> dict[str, Array]:
    """Return central differences by each unknown from results whose last axis is the lanes of `_around`."""
    up, down = results[..., 1::2], results[..., 2::2]
    return {name: (up - down)[..., k] / (2.0 * STEP) for k, name in enumerate(PRIORS)}
