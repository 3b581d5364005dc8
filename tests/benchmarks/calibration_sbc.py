"""Simulation-based calibration (Talts et al. 2018): truth drawn from the prior, ranked within its posterior.

Run as `python -m tests.benchmarks.calibration_sbc [benches]`, 200 if left out: half an hour. If a posterior is what it
says, the ranks are uniform (chi-square over 10 bins, 1 % level) and its 90 % intervals hold the truth in 85 to 95 % of
the benches. Ranked are unknowns, and the hold time of a condition that no bench has seen: full, from 4 C to 10 C.

S. Talts, M. Betancourt, D. Simpson, A. Vehtari and A. Gelman, Validating Bayesian inference algorithms with
simulation-based calibration, arXiv:1804.06788 (2018).
"""

import sys
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr
from scipy.stats import chi2

from geometries.container import Container, closed_capacity
from geometries.numeric import Array
from tests.thermal_model.bench.calibration.invented import Invented, bench_of, invent, random_plans
from thermal_model.assemble.build import assemble
from thermal_model.bench.calibration.coordinates import Coordinates, Owner
from thermal_model.bench.calibration.fit import Fit, fit
from thermal_model.follow import limit_enthalpies
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import integrate
from thermal_model.solver.steppers import stepper_for
from thermal_model.uncertainty import PRIORS, perturbed_container
from thermal_model.unknowns import UNKNOWN_NAMES, Unknowns

DRAWS, BINS, LEVEL = 99, 10, 0.01
UNSEEN_LIMIT, FULL = 283.15, 0.97
HORIZON = 5.0 * 86400.0
COMMON = ("exterior_film", "headspace_film")
OWN = ("gap_emissivity", "gap_pressure", "lid_contact", "wall_thickness")


@dataclass(frozen=True)
class Ranks:
    """Where the truth lies in its posterior, 0 to 1, by what is ranked; NaN where a bench has no such thing."""

    names: tuple[str, ...]
    shares: Array
    restless: int
    """Fits that did not come to rest; they count among the others."""

    def report(self) -> list[str]:
        """A line each: how many, chi-square over BINS, the share inside 90 % intervals."""
        critical = float(chi2.ppf(1.0 - LEVEL, BINS - 1))
        lines = [f"{'':28} {'benches':>8} {'chi-square':>11} (1 %: {critical:.1f})  {'in 90 %':>8}"]
        for name, column in zip(self.names, self.shares.T, strict=True):
            known = column[np.isfinite(column)]
            lines.append(f"{name:28} {len(known):8} {chi_square(known):11.1f} {'':11} {inside(known):8.1%}")
        return [*lines, f"{self.restless} of {len(self.shares)} fits did not come to rest"]


def chi_square(shares: Array) -> float:
    """Pearson's statistic of shares against a uniform distribution."""
    counts = np.histogram(shares, bins=BINS, range=(0.0, 1.0))[0]
    expected = len(shares) / BINS
    return float(np.sum((counts - expected) ** 2) / expected)


def inside(shares: Array) -> float:
    """Share of truths inside the central 90 % interval."""
    return float(np.mean((shares >= 0.05) & (shares <= 0.95)))


def unseen(container: Container) -> Scenario:
    """A full container, cold."""
    fill = FULL * float(closed_capacity(container))
    return Scenario().model_copy(update={"contents": "water", "fill": fill, "start": 277.15, "room": 294.15})


def unseen_hold_times(container: Container, names: tuple[str, ...], normals: Array) -> Array:
    """Hold times of the unseen condition, (n,), for (k, n) standard normals of some unknowns."""
    lanes = normals.shape[1]
    standard = {name: np.zeros(lanes) for name in PRIORS} | dict(zip(names, normals, strict=True))
    values = {name: prior.values(standard[name]) for name, prior in PRIORS.items()}
    scenario = unseen(container)
    unknowns = Unknowns(**{name: values[name] for name in UNKNOWN_NAMES})
    network = assemble(perturbed_container(container, values), scenario, unknowns, lanes=lanes)
    levels = limit_enthalpies(scenario, [UNSEEN_LIMIT], lanes)
    found = integrate(network, levels, np.full(lanes, HORIZON), stepper=stepper_for(lanes))
    return np.where(np.isfinite(found.crossing_times[0]), found.crossing_times[0], HORIZON)


def drawn_hold_times(found: Fit, container: str, seed: int) -> Array:
    """Hold times of the unseen condition over DRAWS draws of the posterior."""
    names, places = found.coordinates.belief_places(container)
    root = np.linalg.cholesky(found.spread[np.ix_(places, places)])
    drawn = found.centre[places][:, None] + root @ np.random.default_rng(seed).standard_normal((len(places), DRAWS))
    return unseen_hold_times(found.problem.bench.containers[container], names, drawn)


def true_hold_time(made: Invented, container: str) -> float:
    """Hold time of the unseen condition at the truth."""
    names, places = Coordinates.of_bench(made.bench).belief_places(container)
    return float(unseen_hold_times(made.bench.containers[container], names, made.truth[places][:, None])[0])


def ranked(benches: int, seed: int = 1, report: bool = False) -> Ranks:
    """Invent, fit and rank so many benches."""
    names = (*COMMON, *OWN, "offset of the first probe", "unseen hold time")
    rows, restless = [], 0
    for number in range(benches):
        generator = np.random.default_rng([seed, number])
        made = invent(bench_of(random_plans(generator)), seed=int(generator.integers(2**31)))
        found = fit(made.bench)
        restless += not found.converged
        rows.append(_ranks_of(made, found, number))
        if report:
            print(f"\r{number + 1} of {benches} benches", end="", file=sys.stderr, flush=True)
    return Ranks(names, np.array(rows), restless)


def _ranks_of(made: Invented, found: Fit, seed: int) -> list[float]:
    container = next(iter(made.bench.containers))
    places = [found.coordinates.place(Owner.COMMON, "", name) for name in COMMON]
    places += [found.coordinates.place(Owner.CONTAINER, container, name) for name in OWN]
    places.append(found.coordinates.place(Owner.PROBE, next(iter(made.bench.probes)), "offset"))
    shares = [float(ndtr((made.truth[p] - found.centre[p]) / found.standard_deviation(p))) for p in places]
    below = np.sum(drawn_hold_times(found, container, seed) < true_hold_time(made, container))
    return [*shares, (float(below) + 0.5) / (DRAWS + 1.0)]


def main() -> None:
    """Print the table."""
    benches = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    ranks = ranked(benches, report=True)
    print("\n" + "\n".join(ranks.report()))


if __name__ == "__main__":
    main()
