"""Makes the first answer as quick as the later ones: what is slow to load is loaded while the page opens."""

import subprocess
import sys
import threading

from geometries.design_file import load_container
from thermal_model.follow import follow
from thermal_model.scenario import Scenario
from thermal_model.solver.steppers import compiled_stepper, is_kept, use_compiled_from_now
from thermal_model.uncertainty import draw_sample

COMPILE = "from thermal_model.workbench.warm import run_compiled; run_compiled()"


def warm_up() -> threading.Thread:
    """Load the compiled kernel in the background; where none is kept, a process of its own makes it first."""
    thread = threading.Thread(target=_load, daemon=True)
    thread.start()
    return thread


def run_compiled() -> None:
    """Run a container once with the compiled kernel, which compiles it where none is kept."""
    sample = draw_sample(load_container("single_wall_steel"), Scenario(), 0, 1)
    follow(sample, [333.15], stepper=compiled_stepper())


def _load() -> None:
    if not is_kept():
        done = subprocess.run([sys.executable, "-c", COMPILE], capture_output=True, check=False)
        if done.returncode:
            return  # without it answers take longer, and are the same
    run_compiled()
    use_compiled_from_now()
