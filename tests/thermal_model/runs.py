"""Runs that the tests share: a container at rest, a hold time, the accuracy they need."""

from collections.abc import Iterator
from typing import Any

import numpy as np
from pydantic import BaseModel

from geometries.container import Container
from geometries.numeric import Array
from thermal_model.assemble.build import assemble
from thermal_model.assemble.contents import contents_of
from thermal_model.follow import limit_enthalpies
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Trajectory, integrate, steady_state
from thermal_model.solver.network import CONTENTS, Network
from thermal_model.solver.rates import RightHandSide, contents_enthalpy
from thermal_model.solver.stepping import Tolerance

COARSE = Tolerance(5e-3, 0.5)
"""Hold times within seconds: enough to compare designs, and quick."""


def scenario(**options: Any) -> Scenario:
    return Scenario.model_validate(options)


def loss_at_rest(net: Network, case: Scenario, contents: float | None = None) -> tuple[float, Array]:
    """Heat that leaves the node of the contents, all else at rest, and the flows by path. [W]"""
    temperature = np.atleast_1d(case.start if contents is None else contents)
    enthalpy = np.atleast_1d(np.asarray(contents_enthalpy(contents_of(case), temperature), dtype=float))
    phase, room = net.phases[-1], net.room.at(np.zeros(1))
    rhs = RightHandSide(net, phase.links)
    state = steady_state(net, phase, enthalpy, room)
    flows = rhs.flows(rhs.temperatures(state, room))
    return -float(rhs.heating(flows)[CONTENTS, 0]), rhs.path_flows(flows)[:, 0]


def heat_loss_coefficient(container: Container, case: Scenario) -> float:
    """[W K-1]"""
    loss, _ = loss_at_rest(assemble(container, case), case)
    return loss / (float(case.start) - float(case.room))


def follow(
    container: Container, case: Scenario, *limits: float, horizon: float = 1e6, tolerance: Tolerance = COARSE
) -> Trajectory:
    """Integrate one lane to limit temperatures. [K]"""
    net = assemble(container, case)
    return integrate(net, limit_enthalpies(case, limits, 1), np.full(1, horizon), tolerance=tolerance)


def hold_time(container: Container, case: Scenario, limit: float, tolerance: Tolerance = COARSE) -> float:
    """[s]"""
    return float(follow(container, case, limit, tolerance=tolerance).crossing_times[0, 0])


def numeric_leaves(record: Any, prefix: str = "") -> Iterator[tuple[str, float]]:
    """Paths and values of all positive floats of a record."""
    if isinstance(record, BaseModel):
        items = [(name, getattr(record, name)) for name in type(record).model_fields]
    elif isinstance(record, tuple):
        items = [(str(i), value) for i, value in enumerate(record)]
    else:
        items = []
    for name, value in items:
        if isinstance(value, float) and value > 0.0:
            yield prefix + name, value
        else:
            yield from numeric_leaves(value, f"{prefix}{name}.")
