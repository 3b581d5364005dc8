"""The solver compiled in the background, after the first command that computed something: nobody waits for it.

Only for someone who watches; a script's commands start nothing. HOLDTIME_COMPILE=never turns it off.
"""

import os
import subprocess
import sys

from thermal_model.solver.compiled.kept import claim_compiling, end_compiling
from thermal_model.solver.steppers import is_kept

SWITCH = "HOLDTIME_COMPILE"

NOTE = "compiling the solver in the background, once for this machine; what computes much is faster from then on"


def compile_ahead() -> None:
    """Begin to compile, and say so in one line, if someone watches and nothing is kept yet."""
    if not sys.stderr.isatty() or os.environ.get(SWITCH) == "never" or is_kept() or not claim_compiling():
        return
    try:
        subprocess.Popen(
            [sys.executable, "-m", "thermal_model.cli.compile_ahead"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
    except OSError:
        end_compiling()
        return
    print(f"holdtime: note: {NOTE}", file=sys.stderr, flush=True)


def compile_now() -> None:
    """Compile, and keep what was compiled: the first steps of a run need all of it."""
    from geometries.design_file import load_container
    from thermal_model.assemble.lanes import Lanes
    from thermal_model.follow import follow
    from thermal_model.scenario import Scenario
    from thermal_model.solver.steppers import compiled_stepper

    if hasattr(os, "nice"):
        os.nice(10)
    try:
        follow(Lanes(load_container("thin_disc_lid"), Scenario()), [333.15], horizon=60.0, stepper=compiled_stepper())
    finally:
        end_compiling()


if __name__ == "__main__":
    compile_now()
