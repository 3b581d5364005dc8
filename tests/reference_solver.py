"""Reference integration with SciPy: slow, clear, and the judge of the engine.

It integrates the same right-hand side, one lane, phase after phase.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.numeric import Array
from thermal_model.solver.engine import initial_state
from thermal_model.solver.network import CONTENTS, Network
from thermal_model.solver.rates import RightHandSide


@dataclass(frozen=True)
class ReferenceSolution:
    """Crossing times of a single lane, (m,), NaN where a limit was not reached, and the final state. [s]"""

    crossing_times: Array
    final_state: Array
    evaluations: int


def solve_reference(
    network: Network,
    limits: Array,
    horizon: float,
    *,
    relative_tolerance: float = 1e-10,
    method: str = "LSODA",
) -> ReferenceSolution:
    """Integrate one lane with a SciPy solver.

    Parameters
    ----------
    network : Network
        With one lane.
    limits : (m,) array
        Specific enthalpies at which the time is wanted. [J kg-1]
    horizon : float
        [s]
    relative_tolerance : float
        Also the absolute tolerance, for states in their own scale.
    method : str
        Of `scipy.integrate.solve_ivp`.

    Raises
    ------
    ValueError
        If the network has more than one lane.
    RuntimeError
        If SciPy's solver gives up.
    """
    from scipy.integrate import solve_ivp

    if network.lane_count != 1:
        raise ValueError("the reference solver takes one lane")
    state = np.append(initial_state(network)[:, 0], network.phases[0].mass[0])
    scale = np.full(len(state), 1.0)
    scale[CONTENTS], scale[-2] = 4186.0, 1e4
    crossings = np.full(len(limits), np.nan)
    evaluations = 0
    for before, phase in zip((None, *network.phases), network.phases, strict=False):
        start, end = float(phase.start[0]), float(min(phase.end[0], horizon))
        if start >= horizon:
            break
        if phase.contents_enthalpy is not None:
            state[CONTENTS] = phase.contents_enthalpy[0]
        if before is not None:
            state[-1] += phase.mass[0] - before.mass[0]
        solution = solve_ivp(
            _rates_of(RightHandSide(network, phase.links)),
            (start, end),
            state,
            method=method,
            rtol=relative_tolerance,
            atol=relative_tolerance * scale * 10.0,
            dense_output=True,
        )
        if not solution.success:
            raise RuntimeError(f"{method}: {solution.message}")
        evaluations += solution.nfev
        if start >= 0.0:
            _find_crossings(solution, limits, crossings)
        state = solution.y[:, -1]
    return ReferenceSolution(crossings, state, evaluations)


def _rates_of(rhs: RightHandSide) -> Callable[[float, Array], Array]:
    """Return the rates for SciPy: the state as in `RightHandSide`, then the mass of the contents."""

    def rates(time: float, y: Array) -> Array:
        room = rhs.network.room.at(np.array([time]))
        temperatures = rhs.temperatures(y[:-1, None], room)
        flows = rhs.flows(temperatures)
        change = rhs.heating(flows) / rhs.capacities(y[-1:])
        return np.append(change[:, 0], -rhs.evaporation_rate(flows, temperatures))

    return rates


def _find_crossings(solution: Any, limits: Array, crossings: Array) -> None:
    from scipy.optimize import brentq

    for row, limit in enumerate(limits):
        path = solution.y[CONTENTS] - limit
        passed = np.flatnonzero((path[:-1] * path[1:] <= 0.0) & (path[:-1] != 0.0))
        if len(passed) and np.isnan(crossings[row]):
            low, high = solution.t[passed[0]], solution.t[passed[0] + 1]
            crossings[row] = brentq(lambda t, level=limit: solution.sol(t)[CONTENTS] - level, low, high, xtol=1e-9)
