"""Many designs at once: those alike in kind become the lanes of one batch, so that whole catalogues can be swept."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from geometries.container import Container
from geometries.materials import surface_emissivity
from geometries.numeric import Array
from geometries.overrides import with_overrides, with_values
from geometries.part import Part
from thermal_model.assemble.build import assemble
from thermal_model.follow import limit_enthalpies
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome, integrate, steady_state
from thermal_model.solver.network import CONTENTS, PATHS
from thermal_model.solver.rates import RightHandSide, contents_enthalpy, contents_temperature
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.solver.stepping import Tolerance
from thermal_model.unknowns import Unknowns

LONGEST = 20 * 86400.0
"""A run that has not reached its limit by then has none. [s]"""


COARSE = Tolerance(contents=5e-4, others=5e-2)
"""Ten times the usual tolerance: seconds in hold times of hours, where per cent are compared."""

QUICKLY: dict[str, Any] = {"tolerance": COARSE, "stepper": compiled_stepper()}


def hold_times(designs: Sequence[Container], fills: Sequence[float] | Array, limit: float, **scenario: Any) -> Array:
    """Hold time of each design with its fill [m3] to a limit [K], in a scenario; NaN if it is not reached. [s]"""
    times = np.full(len(designs), np.nan)
    for lanes, container, run in _batches(designs, fills, scenario):
        network = assemble(container, run, lanes=len(lanes))
        levels = limit_enthalpies(run, [limit], len(lanes))
        trajectory = integrate(
            network, levels, np.full(len(lanes), LONGEST), tolerance=COARSE, stepper=compiled_stepper()
        )
        assert np.all(trajectory.outcome != Outcome.FAILED)
        times[lanes] = trajectory.crossing_times[0]
    return times


def final_temperatures(
    designs: Sequence[Container], fills: Sequence[float] | Array, after: float, **scenario: Any
) -> Array:
    """Temperature of the contents of each design after a time [s]. [K]"""
    temperatures = np.full(len(designs), np.nan)
    for lanes, container, run in _batches(designs, fills, scenario):
        network = assemble(container, run, lanes=len(lanes))
        trajectory = integrate(
            network,
            np.full((1, len(lanes)), np.inf),
            np.full(len(lanes), after),
            tolerance=COARSE,
            stepper=compiled_stepper(),
        )
        assert np.all(trajectory.outcome == Outcome.NOT_REACHED)
        temperatures[lanes] = contents_temperature(network.contents, trajectory.final_state[CONTENTS])
    return temperatures


def heat_paths(
    designs: Sequence[Container],
    fills: Sequence[float] | Array,
    contents: float,
    unknowns: Unknowns | None = None,
    **scenario: Any,
) -> dict[str, Array]:
    """Heat loss coefficient of each design by path, at rest with the contents at a temperature [K]. [W K-1]"""
    paths = {path: np.full(len(designs), np.nan) for path in PATHS}
    for lanes, container, run in _batches(designs, fills, scenario):
        network = assemble(container, run, unknowns, lanes=len(lanes))
        enthalpy = np.full(len(lanes), contents_enthalpy(network.contents, contents))
        room = network.room.at(np.zeros(len(lanes)))
        state = steady_state(network, network.phases[-1], enthalpy, room)
        rhs = RightHandSide(network, network.phases[-1].links)
        flows = rhs.path_flows(rhs.flows(rhs.temperatures(state, room))) / (contents - room)
        for path, flow in zip(PATHS, flows, strict=True):
            paths[path][lanes] = flow
    return paths


def changed(container: Container, overrides: Mapping[str, object]) -> Container:
    """The design with some fields set anew, validated; a body given outside is first given inside."""
    return with_overrides(_by_inside(container), overrides)


def _by_inside(container: Container) -> Container:
    body = container.body
    document = container.model_dump(mode="json", exclude_unset=True)
    for name in ("outside_diameter", "outside_height"):
        document["body"].pop(name, None)
    document["body"] |= {"inside_diameter": metres(2.0 * body.radius), "inside_depth": metres(body.depth)}
    return Container.model_validate(document)


def metres(value: float) -> str:
    """A length as a design file writes it."""
    return f"{float(value)!r} m"


def _batches(
    designs: Sequence[Container], fills: Sequence[float] | Array, scenario: Mapping[str, Any]
) -> list[tuple[list[int], Container, Scenario]]:
    alike: dict[Any, list[int]] = defaultdict(list)
    plain = [_without_defaults(design) for design in designs]
    for lane, design in enumerate(plain):
        alike[_kind(design)].append(lane)
    run = Scenario.model_validate(dict(scenario))
    fill = np.asarray(fills, dtype=float)
    return [
        (lanes, _stacked([plain[lane] for lane in lanes]), run.model_copy(update={"fill": fill[lanes]}))
        for lanes in alike.values()
    ]


def _without_defaults(container: Container) -> Container:
    """The same design in numbers alone: no surface names, and every dimension that can be left out written down."""
    body, values = container.body, {}
    values["body.inside_diameter"], values["body.inside_depth"] = 2.0 * body.radius, body.depth
    values["body.inside_base_diameter"], values["body.lip.thickness"] = 2.0 * body.floor_radius, body.lip_thickness
    values |= _emissivity("body.exterior", "", body.exterior)
    values |= {"name": "design", "summary": ""}  # type: ignore[dict-item]
    if body.gap is not None:
        values["body.gap.base_width"] = body.base_gap_width
        values |= _emissivity("body.gap", "inner_", body.gap) | _emissivity("body.gap", "outer_", body.gap)
    if container.lid is not None:
        values |= _emissivity("lid.exterior", "", container.lid.exterior)
    return with_values(container, values)


def _emissivity(path: str, side: str, part: Part) -> dict[str, Any]:
    name, own = getattr(part, f"{side}surface"), getattr(part, f"{side}emissivity")
    return {f"{path}.{side}surface": "plastic", f"{path}.{side}emissivity": surface_emissivity(name, own)}


def _kind(value: Any) -> Any:
    """What makes two designs unlike: everything but their numbers, and of those being zero."""
    if isinstance(value, Part):
        return tuple((name, _kind(getattr(value, name))) for name in type(value).model_fields)
    if isinstance(value, tuple):
        return tuple(_kind(entry) for entry in value)
    if _is_number(value):
        return "zero" if value == 0 else "number"
    return value


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float | np.number) and not isinstance(value, bool)


def _stacked(values: Sequence[Any]) -> Any:
    first = values[0]
    if isinstance(first, Part):
        fields = {name: _stacked([getattr(value, name) for value in values]) for name in type(first).model_fields}
        return first.model_copy(update=fields)
    if isinstance(first, tuple):
        return tuple(_stacked(entries) for entries in zip(*values, strict=True))
    if all(value == first for value in values):
        return first
    assert _is_number(first)
    return np.array(values, dtype=float)
