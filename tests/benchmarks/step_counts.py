"""The most steps that a phase takes: every design of the catalogue in every scenario that comes along, 200 draws each.

Run as `python -m tests.benchmarks.step_counts [scenario ...]`. Where a law has a corner, steps may stay at a thousandth
of a second to the end of a run, which then never comes; no figure of accuracy tells. Allowed: 1000 a phase.
"""

import sys

from geometries.design_file import catalogue_names, load_container
from geometries.errors import InputError
from tests.thermal_model.solver.counted import Counted
from thermal_model.follow import follow
from thermal_model.judge.scenario_library import library_names, load_carry_scenario
from thermal_model.solver.compiled.stepper import CompiledStepper
from thermal_model.solver.stepping import SCREENING, Tolerance
from thermal_model.uncertainty import draw_sample

DRAWS, ALLOWED = 200, 1000


def most_steps(design: str, name: str, tolerance: Tolerance) -> int:
    """The most that a phase takes, of all draws together; 0 where the run can't be."""
    container, wanted = load_container(design), load_carry_scenario(name)
    limits = [float(limit.temperature) for limit in wanted.limits]
    counted = Counted(CompiledStepper)
    try:
        sample = draw_sample(container, wanted.for_container(container), DRAWS, 1)
        follow(sample, limits, tolerance=tolerance, stepper=counted.make)
    except InputError:
        return 0
    return counted.most_steps


def main(*names: str) -> int:
    """Print the most of each scenario, by engine."""
    highest = 0
    for name in names or library_names():
        told = []
        for engine, tolerance in (("default", Tolerance()), ("quick", SCREENING)):
            counts = {design: most_steps(design, name, tolerance) for design in catalogue_names()}
            worst = max(counts, key=lambda design: counts[design])
            highest = max(highest, counts[worst])
            told.append(f"{engine} {counts[worst]:5d} ({worst})")
        print(f"{name:32} {'   '.join(told)}", flush=True)
    print(f"most steps of a phase {highest} (allowed {ALLOWED})")
    return int(highest > ALLOWED)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
