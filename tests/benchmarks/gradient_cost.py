"""What a gradient costs in plain solves, and how far it is from the derivative; ratios from one run.

Run as `python -m tests.benchmarks.gradient_cost [repeats]`. Three hold times by fifteen numbers of design, scenario
and unknowns: the design and its fifteen neighbours are lanes of one block. A plain solve is

- one design alone, by the same stepper (the compiled one steps eight lanes at a time, so alone it has seven idle);
- one design of a batch of 512, by the compiled stepper: the least a solve can cost here.

All at the engine's default tolerance. Times are the processor's own, of one thread, the least of the repeats. The
error is against central differences a thousandth apart at a twentieth of the tolerance, as elasticities.
"""

import sys
import threading
import time
from collections.abc import Callable

import numpy as np

from geometries.design_file import load_container
from geometries.numeric import Array
from thermal_model.assemble.build import assemble
from thermal_model.batch import with_numbers
from thermal_model.follow import DEFAULT_HORIZON, limit_enthalpies
from thermal_model.gradients import gradients
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper, integrate
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.solver.stepping import PlainStepper, Tolerance

DESIGN, LIMITS = "slim_neck_double_seal", (343.15, 333.15, 323.15)
SCENARIO = Scenario.model_validate({"start": "90 C", "room": "20 C", "fill": "500 mL"})
NUMBERS = {
    "body.neck.mouth_diameter": 0.044,
    "body.neck.length": 0.045,
    "body.inside_depth": 0.236,
    "body.inside_diameter": 0.066,
    "body.wall.inner_thickness": 0.0004,
    "body.gap.width": 0.004,
    "lid.layers.0.thickness": 0.002,
    "lid.layers.2.thickness": 0.0025,
    "lid.plug.depth": 0.04,
    "lid.plug.clearance": 0.0025,
    "scenario.fill": 0.0005,
    "scenario.start": 363.15,
    "scenario.room": 293.15,
    "unknowns.gap_emissivity": 1.0,
    "unknowns.exterior_film": 1.0,
}


def plain_solve(lanes: int, stepper: MakeStepper) -> None:
    """Solve designs that differ a little, assembly included."""
    numbers = {"body.neck.mouth_diameter": np.linspace(0.044, 0.044 * (1.0 + 1e-3 * (lanes > 1)), lanes)}
    container, scenario, unknowns = with_numbers(load_container(DESIGN), SCENARIO, numbers)
    network = assemble(container, scenario, unknowns, lanes=lanes)
    levels = limit_enthalpies(scenario, LIMITS, lanes)
    found = integrate(network, levels, np.full(lanes, DEFAULT_HORIZON), stepper=stepper)
    assert np.isfinite(found.crossing_times).all()


def elasticities(stepper: MakeStepper, **how: object) -> Array:
    """Percent of each hold time per percent of each number, (3, 15)."""
    found = gradients(load_container(DESIGN), SCENARIO, LIMITS, list(NUMBERS), stepper=stepper, **how)
    return found.slopes * np.array(list(NUMBERS.values())) / found.hold_times[:, None]


def cost(task: Callable[[], object], repeats: int) -> float:
    """Seconds of the processor, in a thread of its own: the compiled stepper keeps to it there."""
    found: list[float] = []

    def run() -> None:
        for _ in range(repeats):
            began = time.thread_time()
            task()
            found.append(time.thread_time() - began)

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    return min(found)


def main() -> None:
    """Print the table."""
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    compiled = compiled_stepper()
    plain_solve(8, compiled)  # compiles, or loads what is compiled
    in_batch = cost(lambda: plain_solve(512, compiled), 1) / 512
    print(f"{DESIGN}, three hold times by {len(NUMBERS)} numbers: the gradient in plain solves")
    print(f"a solve in a batch of 512, compiled: {1e3 * in_batch:.2f} ms")
    sharp = elasticities(compiled, relative_step=1e-3, tolerance=Tolerance(2.5e-6, 2.5e-4))
    print(f"{'stepper':>9} {'alone [ms]':>11} {'gradient [ms]':>14} {'/ alone':>8} {'/ in a batch':>13} {'error':>8}")
    for name, stepper in (("plain", PlainStepper), ("compiled", compiled)):
        alone = cost(lambda stepper=stepper: plain_solve(1, stepper), repeats)  # type: ignore[misc]
        whole = cost(lambda stepper=stepper: elasticities(stepper), repeats)  # type: ignore[misc]
        error = np.abs(elasticities(stepper) - sharp).max()
        row = f"{name:>9} {1e3 * alone:11.1f} {1e3 * whole:14.1f} {whole / alone:8.2f} {whole / in_batch:13.1f}"
        print(f"{row} {error:8.1e}", flush=True)


if __name__ == "__main__":
    main()
