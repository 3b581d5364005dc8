"""Two identical containers, benched apart: how often they are called different; and unlike ones, how often alike.

Run as `python -m tests.benchmarks.tiers [benches]`. Truths are drawn from the prior; both containers get the same one,
their runs differ in all that differs from run to run. Allowed: called different in at most 5 % of 500 benches.
"""

import sys
from dataclasses import replace

import numpy as np

from geometries.numeric import Array
from tests.thermal_model.bench.calibration.invented import GUESS, LOG, START_AND_END, Plan, bench_of, invent
from thermal_model.bench.calibration.coordinates import Coordinates, Owner
from thermal_model.bench.calibration.fit import fit
from thermal_model.bench.calibration.posterior import belief
from thermal_model.bench.records import Bench
from thermal_model.judge.compare import Entry, rank
from thermal_model.scenario import Scenario

DESIGN = "single_seal_plug"
CASE = Scenario.model_validate({"start": "90 C", "room": "20 C", "fill": "400 mL"})
LIMIT, DRAWS = 333.15, 200
NAMES = ("first", "second")
RUNS = (Plan(DESIGN, LOG, "log"), Plan(DESIGN, START_AND_END, "dial"), Plan(DESIGN, GUESS, "dial"))


def bench_of_twins() -> Bench:
    """Two containers of one design, each with the same three kinds of runs."""
    plain = bench_of(RUNS + RUNS)
    owners = [name for name in NAMES for _ in RUNS]
    runs = tuple(replace(run, container=owner) for run, owner in zip(plain.runs, owners, strict=True))
    return replace(plain, containers=dict.fromkeys(NAMES, plain.containers[DESIGN]), runs=runs)


def truth(coordinates: Coordinates, seed: int, difference: float) -> Array:
    """What is true of both: drawn from the prior; the second's gap shines by so many prior widths less."""
    generator = np.random.default_rng([seed, 7])
    x = generator.standard_normal(coordinates.count)
    for place, coordinate in enumerate(coordinates.listed):
        if coordinate.kind is Owner.CONTAINER and coordinate.owner == NAMES[1]:
            x[place] = x[coordinates.place(Owner.CONTAINER, NAMES[0], coordinate.name)]
            if coordinate.name == "gap_emissivity":
                x[place] -= difference
    return x


def are_told_apart(seed: int, difference: float) -> bool:
    """Whether a bench of twins puts them in two tiers."""
    plain = bench_of_twins()
    made = invent(plain, seed, truth=truth(Coordinates.of_bench(plain), seed, difference))
    found = fit(made.bench)
    entries = [Entry(name, plain.containers[name], belief(found, name, seats_anew=False)) for name in NAMES]
    return rank(entries, CASE, LIMIT, draws=DRAWS, seed=seed).standings[-1].tier > 1


def main() -> None:
    """Print the shares."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    for difference, benches in ((0.0, count), (2.0, max(count // 10, 10))):
        told = sum(are_told_apart(seed, difference) for seed in range(benches))
        what = "identical" if not difference else f"gap emissivity {difference:g} prior widths apart"
        allowed = "at most 5 %" if not difference else "the more, the better"
        print(f"{what}: told apart in {told} of {benches} benches, {100.0 * told / benches:.1f} % ({allowed})")


if __name__ == "__main__":
    main()
