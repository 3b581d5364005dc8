"""What a batch costs per design, against SciPy on the same network; ratios from one run, no pass by time.

Run as `python -m tests.benchmarks.engine_speed [lanes ...]`, or with `--kinds` for every design of the catalogue, with
the default engine and with the coarser one of maps. The two scripts it stands beside are what a user would
write today, one design at a time:

- constant properties: numpy, each link's conductance fixed at rest, films growing with the fourth root of the
  difference; solve_ivp, LSODA, rtol 1e-6, its own finite-difference Jacobian;
- our laws: the very right-hand side of the engine under LSODA, rtol 1e-6 (`tests.reference_solver`).

The engine runs at its default tolerance, which keeps hold times within 0.5 s.
"""

import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any

import numpy as np

from geometries.container import Container, closed_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.numeric import Array
from geometries.overrides import with_values
from tests.reference_solver import solve_reference
from tests.thermal_model.solver.counted import Counted
from thermal_model.assemble.build import assemble
from thermal_model.follow import LANES_AT_ONCE, limit_enthalpies
from thermal_model.scenario import Scenario
from thermal_model.solver.compiled.stepper import CompiledStepper
from thermal_model.solver.compiled.tables import tables_of
from thermal_model.solver.cores import cores, side_by_side
from thermal_model.solver.engine import MakeStepper, integrate, steady_state
from thermal_model.solver.network import CONTENTS, LinkGroup, Network
from thermal_model.solver.rates import RightHandSide
from thermal_model.solver.stepping import SCREENING, PlainStepper, Tolerance
from thermal_model.solver.trace import traced
from thermal_model.unknowns import Unknowns

DESIGN, LIMIT, HORIZON = "slim_neck_double_seal", 333.15, 6e5
FILMS = {"vertical_face", "horizontal_face", "headspace_film", "wetted_film"}
SCENARIO = Scenario.model_validate({"start": "90 C", "room": "20 C", "fill": "600 mL"})


def kind(container: Container, lanes: int) -> Network:
    """A network of one design, seven tenths full, whose walls shine more or less."""
    fill = 0.7 * float(closed_capacity(container))
    factors = np.random.default_rng(1).uniform(0.9, 1.1, lanes)
    unknowns = Unknowns(exterior_film=factors, gap_emissivity=factors)
    return assemble(container, SCENARIO.model_copy(update={"fill": fill}), unknowns, lanes=lanes)


def batch(lanes: int) -> Network:
    """A network of designs that differ in mouth and pocket."""
    generator = np.random.default_rng(1)
    values = {
        "body.neck.mouth_diameter": generator.uniform(0.030, 0.060, lanes),
        "lid.layers.1.depth": generator.uniform(0.005, 0.020, lanes),
    }
    return assemble(with_values(load_container(DESIGN), values), SCENARIO, lanes=lanes)


def at_rest(group: LinkGroup, temperatures: Array) -> tuple[Array, Array]:
    """Conductances of links and the differences that they are taken at, 1 K at least: between nodes of one temperature
    a user would take a film at a typical difference."""
    start, end = temperatures[group.start], temperatures[group.end]
    middle, half = 0.5 * (start + end), 0.5 * (start - end)
    half = np.where(half < 0.0, np.minimum(half, -0.5), np.maximum(half, 0.5))
    flow = group.law.flow(middle + half, middle - half, *group.parameters)
    return np.abs(flow / (2.0 * half))[:, 0], 2.0 * half[:, 0]


def constant_property_rates(net: Network) -> Callable[[float, Array], Array]:
    """The right-hand side a user would write: conductances fixed at rest, films by the fourth root."""
    phase = net.phases[0]
    rhs = RightHandSide(net, phase.links)
    room = net.room.at(np.zeros(1))
    state = steady_state(net, phase, np.array([0.9 * net.initial[CONTENTS, 0]]), room)
    temperatures = rhs.temperatures(state, room)
    conductances, differences = zip(*(at_rest(group, temperatures) for group in phase.links.groups), strict=True)
    conductance, difference = np.concatenate(conductances), np.concatenate(differences)
    start, end = phase.links.start, phase.links.end
    names = np.concatenate([[group.law.name] * len(group.start) for group in phase.links.groups])
    power = np.where(np.isin(names, list(FILMS)), 0.25, 0.0)
    capacity = np.append(net.capacities[:, 0], 1.0)
    capacity[CONTENTS] = phase.mass[0] * 4190.0

    def rates(_: float, y: Array) -> Array:
        values = np.append(y, room[0])
        gap = values[start] - values[end]
        flow = conductance * gap * (np.abs(gap / difference) + 1e-12) ** power
        total = np.zeros_like(values)
        np.add.at(total, start, -flow)
        np.add.at(total, end, flow)
        return (total / capacity)[:-1]

    return rates


def constant_property_solution(net: Network, rates: Callable[[float, Array], Array]) -> Any:
    """What SciPy finds for one design."""
    from scipy.integrate import solve_ivp

    first = net.initial[:, 0].copy()
    first[CONTENTS] = SCENARIO.start

    def crossing(_: float, y: Array) -> float:
        return float(y[CONTENTS] - LIMIT)

    crossing.terminal = True  # type: ignore[attr-defined]
    solution = solve_ivp(rates, (0.0, HORIZON), first, method="LSODA", rtol=1e-6, atol=1e-6, events=crossing)
    assert len(solution.t_events[0]) == 1
    return solution


def constant_property_script(net: Network) -> float:
    """Seconds for one design with SciPy, its conductances at hand."""
    rates = constant_property_rates(net)
    began = time.perf_counter()
    constant_property_solution(net, rates)
    return time.perf_counter() - began


def our_laws_under_lsoda(net: Network) -> float:
    """Seconds for one design with the reference solver at 1e-6."""
    limits = limit_enthalpies(SCENARIO, [LIMIT], 1)[:, 0]
    began = time.perf_counter()
    solve_reference(net, limits, 5e4, relative_tolerance=1e-6)
    return time.perf_counter() - began


def coolprop_share(seconds: float, net: Network) -> float:
    """Seconds of the constant-property script if each evaluation took water's and air's properties from CoolProp.

    Not run whole: it would take minutes. What one evaluation's calls cost is measured, and their number counted: four
    properties for every film (density, conductivity, viscosity, heat capacity; Prandtl and Rayleigh follow).
    """
    from CoolProp.CoolProp import PropsSI

    films = sum(len(group.start) for group in net.phases[0].links.groups if group.law.name in FILMS)
    began = time.perf_counter()
    for _ in range(20):
        for name in ("D", "L", "V", "C"):
            PropsSI(name, "T", 333.15, "P", 101325.0, "Water")
    per_film = (time.perf_counter() - began) / 20
    return seconds + films * per_film * constant_property_evaluations(net)


def constant_property_evaluations(net: Network) -> int:
    """Evaluations of the right-hand side that the constant-property script takes."""
    return int(constant_property_solution(net, constant_property_rates(net)).nfev)


def engine(lanes: int, stepper: MakeStepper) -> float:
    """Seconds per design in a batch, assembly included."""
    began = time.perf_counter()
    net = batch(lanes)
    result = integrate(net, limit_enthalpies(SCENARIO, [LIMIT], lanes), np.full(lanes, HORIZON), stepper=stepper)
    assert np.isfinite(result.crossing_times).all()
    return (time.perf_counter() - began) / lanes


def threads_against_one(lanes: int) -> float:
    """How many times faster all cores are than one: a batch stepped from the main thread, and from another."""
    net, limits, horizon = batch(lanes), limit_enthalpies(SCENARIO, [LIMIT], lanes), np.full(lanes, HORIZON)

    def seconds() -> float:
        began = time.perf_counter()
        integrate(net, limits, horizon, stepper=CompiledStepper)
        return time.perf_counter() - began

    with ThreadPoolExecutor(1) as other:
        pairs = [(other.submit(seconds).result(), seconds()) for _ in range(5)]
    return float(np.median([alone / together for alone, together in pairs]))


def operations_of_a_design(lanes: int) -> float:
    """Additions, multiplications, divisions, roots and choices of numbers that one design takes, each counted once."""
    net, limits = batch(lanes), limit_enthalpies(SCENARIO, [LIMIT], lanes)
    counted = Counted(CompiledStepper)
    integrate(net, limits, np.full(lanes, HORIZON), stepper=counted.make)
    links = net.phases[0].links
    tables, _ = tables_of(links, net.node_count)
    laws = sum(
        len(group.start) * len(traced(group.law.flow, ["start", "end", *group.law.parameters])[0].operations)
        for group in links.groups
    )
    sums, rows = 2 * len(links.start), net.node_count + 1
    factorisation = 2 * len(tables.update) + len(tables.later) + 5 * len(links.start)
    solution = 4 * len(tables.later) + rows
    stages = 15 * rows * (2 + 3)  # what earlier stages add to the state and to the right-hand side
    of_step = 5 * laws + 6 * (sums + solution) + factorisation + stages
    of_evaluation = 3 * laws + 2 * sums
    return (of_step * counted.lanes_stepped + of_evaluation * counted.lanes_evaluated) / lanes


def matrix_product_rate() -> float:
    """Operations a second of numpy's matrix product on all cores: what the machine can do at best."""
    size = 1500
    a = np.random.default_rng(1).random((size, size))
    seconds = []
    for _ in range(5):
        began = time.perf_counter()
        a @ a
        seconds.append(time.perf_counter() - began)
    return float(2.0 * size**3 / min(seconds))


def followed(container: Container, lanes: int, tolerance: Tolerance) -> None:
    """Put a batch of one kind together, and integrate it."""
    limits, horizon = limit_enthalpies(SCENARIO, [LIMIT], lanes), np.full(lanes, HORIZON)
    integrate(kind(container, lanes), limits, horizon, stepper=CompiledStepper, tolerance=tolerance)


def print_kinds() -> None:
    """Print what a design of every kind costs, against the constant-property script on it."""
    lanes = LANES_AT_ONCE
    tolerances = {"default": Tolerance(), "quick": SCREENING}
    batches = 2 * cores()
    print(f"batches of {lanes} designs side by side on {cores()} cores; scripts: one by one")
    print(f"{'design':24} {'nodes':>5} {'links':>5} {'script [ms]':>12} {'default':>9} {'quick':>9}   ratios")
    ratios = []
    for name in catalogue_names():
        container = load_container(name)
        one = kind(container, 1)
        script = min(constant_property_script(one) for _ in range(3))
        each = []
        for tolerance in tolerances.values():
            seconds = []
            for _ in range(3):
                work = partial(followed, container, lanes, tolerance)
                began = time.perf_counter()
                list(side_by_side([work] * batches, lambda: None))
                seconds.append((time.perf_counter() - began) / (batches * lanes))
            each.append(min(seconds))
        ratios.append([script / cost for cost in each])
        told = "   ".join(f"{ratio:.0f}" for ratio in ratios[-1])
        costs = " ".join(f"{1e3 * cost:9.3f}" for cost in each)
        print(f"{name:24} {one.node_count:5} {len(one.phases[0].links.start):5} {1e3 * script:12.1f} {costs}   {told}")
    for name, column in zip(tolerances, np.array(ratios).T, strict=True):
        print(f"{name}: {column.min():.0f} to {column.max():.0f}, geometric mean {np.exp(np.log(column).mean()):.0f}")


def main() -> None:
    """Print the table."""
    if "--kinds" in sys.argv:
        print_kinds()
        return
    sizes = [int(text) for text in sys.argv[1:]] or [1, 16, 64, 512, 4096]
    one = batch(1)
    engine(8, CompiledStepper)  # compiles, or loads what is compiled
    plain = float(np.median([constant_property_script(one) for _ in range(5)]))
    scripts = {
        "LSODA 1e-6, constant properties": plain,
        "the same calling CoolProp": coolprop_share(plain, one),
        "LSODA 1e-6, our laws": our_laws_under_lsoda(one),
    }
    print(f"{DESIGN}, {one.node_count} nodes, {len(one.phases[0].links.start)} links, 90 to 60 C")
    print(f"scripts: solve_ivp, LSODA, rtol 1e-6, atol 1e-6; engine: default tolerance; {cores()} cores")
    for name, seconds in scripts.items():
        print(f"{name:34} {1e3 * seconds:10.1f} ms a design")
    print(f"{'engine':>9} {'lanes':>6} {'ms a design':>12}   " + "   ".join(f"{name} / engine" for name in scripts))
    for kind, stepper in (("plain", PlainStepper), ("compiled", CompiledStepper)):
        for lanes in sizes if kind == "compiled" else [n for n in sizes if n <= 512]:
            cost = engine(lanes, stepper)
            ratios = "   ".join(f"{seconds / cost:>{len(name) + 9}.0f}" for name, seconds in scripts.items())
            print(f"{kind:>9} {lanes:>6} {1e3 * cost:>12.3f}   {ratios}")
    print(f"all cores against one: {threads_against_one(2048):.2f}x")
    operations, peak = operations_of_a_design(256), matrix_product_rate()
    rate = operations / min(engine(4096, CompiledStepper) for _ in range(3))
    print(
        f"operations a design {operations / 1e6:.2f} million; {rate / 1e9:.1f} of {peak / 1e9:.1f} thousand million a "
        f"second that numpy's matrix product does: {100.0 * rate / peak:.0f} %"
    )


if __name__ == "__main__":
    main()
