"""Which stepper a batch gets: the compiled one if at hand, or where there are enough designs to compile for."""

from collections.abc import Callable
from functools import lru_cache

from thermal_model.solver.engine import MakeStepper
from thermal_model.solver.own_laws import are_own
from thermal_model.solver.stepping import PlainStepper

WORTH_COMPILING = 1000
"""Designs from which some seconds of compiling, once for a machine, is won back or nearly so."""


def stepper_for(designs: int) -> MakeStepper:
    """Return what to step so many designs with; the results agree to rounding, about 1e-9 of a hold time.

    Loading a kept kernel takes a fiftieth of a second, and even a single design gains more. A process asks once whether
    one is kept, so that its answers agree to the bit while another process compiles.
    """
    return compiled_stepper() if _loaded or designs >= WORTH_COMPILING or _was_kept() else PlainStepper


def use_compiled_from_now() -> None:
    """Have every batch of this process, however small, step with the compiled kernel: for one that answers for long."""
    compiled_stepper()
    _loaded.append(True)


def is_kept() -> bool:
    """Tell whether the kernel is compiled already, for these sources and this processor."""
    from thermal_model.solver.compiled.machine_code import is_kept as found

    return found()


@lru_cache(maxsize=1)
def _was_kept() -> bool:
    return is_kept()


_loaded: list[bool] = []


def stepper_of_study(designs: int) -> MakeStepper:
    """Return what to step a study of so many designs with, the same on every machine, so that it ends the same."""
    return compiled_stepper() if designs >= WORTH_COMPILING else PlainStepper


COMPILING = "compiling the solver for this machine, some seconds, once; later runs use what is kept"

_told: list[Callable[[str], None]] = []


def tell_of_compiling(tell: Callable[[str], None]) -> None:
    """Have a function called with COMPILING, once, before the kernel is compiled in this process."""
    _told[:] = [tell]


def compiled_stepper() -> MakeStepper:
    """Return the compiled stepper, or the plain one where laws are a script's own; the compiler is imported here."""
    if are_own():
        return PlainStepper
    if _told and not is_kept():
        _told.pop()(COMPILING)
    from thermal_model.solver.compiled.stepper import CompiledStepper

    return CompiledStepper
