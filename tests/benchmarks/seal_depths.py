"""Walk a seal down every plug of the catalogue in steps of 0.1 mm: `python -m tests.benchmarks.seal_depths`.

Hold times hot (90 to 60 C) and cold (4 to 10 C), 90 % full. Allowed: no step of more than half a per cent; hot, no
depth at which a container holds shorter by more than two per mille than with the seal higher up (a seal that is moved
down from the rim touches more of the neck at first). Beside that no seal, one on the rim, and the design's own. Exits
with 1 if a walk leaves what is allowed.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from geometries.container import Container, closed_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.numeric import Array
from geometries.overrides import with_overrides
from thermal_model.batch import Table, evaluate
from thermal_model.scenario import Scenario

STEP = 1e-4
LARGEST_STEP, LARGEST_FALL = 0.005, 0.002
HOUR = 3600.0

RUNS = {"hot": ("90 C", "20 C", 333.15), "cold": ("4 C", "20 C", 283.15)}


@dataclass(frozen=True)
class Walk:
    """Hold times of a design over the depth of a single seal. [m, s]"""

    design: Container
    run: str
    depths: Array
    times: Array
    without: float
    own: float

    @property
    def steps(self) -> Array:
        """Relative, from each depth to the next."""
        return np.diff(np.log(self.times))

    @property
    def fall(self) -> float:
        """By how much a deeper seal holds shorter than a higher one at the most, relative."""
        return float(np.max(np.maximum.accumulate(self.times) / self.times - 1.0))

    @property
    def is_allowed(self) -> bool:
        """Whether no step is too large, and hot no fall."""
        is_smooth = np.max(np.abs(self.steps)) <= LARGEST_STEP
        return bool(is_smooth and (self.run == "cold" or self.fall <= LARGEST_FALL))


def walks() -> Iterator[Walk]:
    """Every design of the catalogue with a plug, hot and cold."""
    for design in map(load_container, catalogue_names()):
        if design.lid is not None and design.lid.plug is not None:
            for run in RUNS:
                yield walk(design, run)


def walk(design: Container, run: str) -> Walk:
    """One design with a single seal at every depth."""
    assert design.lid is not None
    assert design.lid.plug is not None
    deepest = float(design.lid.plug.depth)
    if design.body.neck is not None:
        deepest = min(deepest, float(design.body.neck.length))
    depths = np.append(np.arange(0.0, deepest, STEP), deepest)
    start, room, limit = RUNS[run]
    case = Scenario.model_validate({"start": start, "room": room, "fill": f"{0.9e6 * closed_capacity(design)} mL"})
    single = with_overrides(design, {"lid.seals": [{"depth": "0 mm"}]})

    def times(container: Container, numbers: dict[str, Array]) -> Array:
        return evaluate(container, case, Table(numbers, {}), [limit]).hold_times[0]

    return Walk(
        design=design,
        run=run,
        depths=depths,
        times=times(single, {"lid.seals.0.depth": depths}),
        without=float(times(with_overrides(design, {"lid.seals": []}), {})[0]),
        own=float(times(design, {})[0]),
    )


def main() -> int:
    """Print each walk; 1 if one leaves what is allowed."""
    left = 0
    for found in walks():
        worst = int(np.argmax(np.abs(found.steps)))
        ends = " ".join(f"{time / HOUR:.2f}" for time in (found.without, found.times[0], found.times[-1], found.own))
        print(
            f"{found.design.name:26s} {found.run:4s} largest step {abs(found.steps[worst]):.3%} at "
            f"{1e3 * found.depths[worst]:4.1f} mm, largest fall {found.fall:.3%}; none, rim, foot, own seals {ends} h"
            + ("" if found.is_allowed else "  NOT ALLOWED")
        )
        left += not found.is_allowed
    return int(left > 0)


if __name__ == "__main__":
    sys.exit(main())
