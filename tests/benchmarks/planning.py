"""Print how a plan keeps what it promises: `python -m tests.benchmarks.planning`.

Power: benches are invented and tested with SciPy's own t tests. Next run: truths are drawn from the priors and run
through the engine, with what differs from run to run, the probe's errors and a loss of heat that goes astray; what a
bench then knows of the target is exact Bayes by importance sampling over an emulator of the engine, which shares no
line with the algebra that gives the advice.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy import stats

from geometries.container import Container
from geometries.design_file import load_container
from geometries.numeric import Array
from geometries.validation import validated
from thermal_model.assemble.lanes import Lanes
from thermal_model.bench.records import Probe
from thermal_model.follow import follow
from thermal_model.gradients import LASTING, PASSING, temperature_response, temperatures_at
from thermal_model.plan.next_run import MODEL_ERROR, Candidate, advise, reading_covariance, usual_candidates
from thermal_model.plan.repeats import ContainerComparison, Repeatability, repeats_for
from thermal_model.plan.run_length import reading_times
from thermal_model.plan.schedule import balance_of, crossover_schedule
from thermal_model.scenario import Scenario
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.uncertainty import PRIORS, perturbed_runs

# --- power ------------------------------------------------------------------------------------------------------

SIMULATED = 500

CASES = (
    (0.05, Repeatability(0.03, 0.02), 0.8),
    (0.03, Repeatability(0.02, 0.01), 0.8),
    (0.10, Repeatability(0.04, 0.03), 0.9),
    (0.04, Repeatability(0.025, 0.0), 0.9),
)
"""Difference, scatter, power wanted."""

PROBE_BIAS = 0.02
"""What one probe makes of log hold time against the other [-]: a crossover must not care."""


@dataclass(frozen=True)
class PowerCase:
    """A plan, and the share of invented benches that found the difference."""

    comparison: ContainerComparison
    repeats: int
    stated: float
    found: float

    def __str__(self) -> str:
        return (
            f"{self.comparison.value}, {self.repeats} runs each: stated {self.stated:.1%}, found {self.found:.1%} of "
            f"{SIMULATED} (allowed 3 points)"
        )


def power_cases(simulated: int = SIMULATED, seed: int = 1) -> Iterator[PowerCase]:
    generator = np.random.default_rng(seed)
    for difference, repeatability, power in CASES:
        for comparison in ContainerComparison:
            plan = repeats_for(comparison, difference, repeatability, power=power)
            assert plan.repeats is not None
            p = p_values(comparison, difference, repeatability, plan.repeats, simulated, generator)
            yield PowerCase(comparison, plan.repeats, plan.power, float(np.mean(p < 0.05)))


def p_values(
    comparison: ContainerComparison,
    difference: float,
    repeatability: Repeatability,
    repeats: int,
    benches: int,
    generator: np.random.Generator,
) -> Array:
    """Invent runs of two containers and test them as planned, (benches,)."""
    within = repeatability.within_day * generator.standard_normal((2, benches, repeats))
    days = repeatability.between_days * generator.standard_normal((2, benches, repeats))
    if comparison is ContainerComparison.UNPAIRED:
        first, second = within[0] + days[0] + difference, within[1] + days[1]
        return np.asarray(stats.ttest_ind(first, second, axis=1).pvalue)
    apart = within[0] - within[1] + difference
    if comparison is ContainerComparison.PAIRED:
        return np.asarray(stats.ttest_1samp(apart, 0.0, axis=1).pvalue)
    half = repeats // 2
    # Probes swapped: in half the pairs one probe's bias is on the first container, in half on the second. The half
    # sum of the two means is free of it: the same t as of the first group against the second with its sign turned.
    one, other = apart[:, :half] + PROBE_BIAS, apart[:, half:] - PROBE_BIAS
    return np.asarray(stats.ttest_ind(one, -other, axis=1).pvalue)


# --- schedule ---------------------------------------------------------------------------------------------------


def schedule_lines() -> Iterator[str]:
    names = [f"container_{k:02d}" for k in range(30)]
    for per_day in (2, 4, 6, 10):
        schedule = crossover_schedule(names, ["pen", "wireless"], per_day=per_day)
        yield f"30 containers, 2 probes, {per_day} a day, {schedule.days} days: {balance_of(schedule)}"


# --- the run that teaches most ----------------------------------------------------------------------------------

DESIGNS = ("slim_neck_double_seal", "single_seal_plug", "wide_mouth_disc", "air_pocket_lid", "clearance_insert")
TRUTHS = 20
"""Benches invented for each design: a hundred in all."""

DRAWS = 400
"""Of the engine for each emulator."""

SAMPLES = 60_000
"""Of the emulator for each posterior."""

CURVED = 8
"""Unknowns, the most effective ones, in whose products and powers an emulator is more than linear."""

LENGTH = 8.0 * 3600.0
PROBE = Probe("pen")

TARGETS = (({"fill": "300 mL", "start": "90 C", "room": "10 C"}, 333.15), ({"start": "4 C", "room": "28 C"}, 283.15))


@dataclass(frozen=True)
class NextCase:
    """An invented bench: width of the target's 90 % interval after the advised run, and after each of the others."""

    design: str
    advised: str
    width: float
    others: Array
    sample: float

    @property
    def is_as_good(self) -> bool:
        return self.width <= float(self.others.mean()) * (1.0 + 1e-9)


class Emulator:
    """Results of the engine as a polynomial of the unknowns: linear in all, of fourth order in the most effective."""

    def __init__(self, normals: Array, results: Array) -> None:
        linear, *_ = np.linalg.lstsq(np.column_stack([np.ones(len(normals)), normals]), results, rcond=None)
        self.chosen = np.argsort(-np.abs(linear[1:]).sum(axis=1))[:CURVED]
        features = self._features(normals)
        self.weights, *_ = np.linalg.lstsq(features, results, rcond=None)
        # Leverage-corrected: what the draws left out would show.
        leverage = np.einsum("ij,ji->i", features, np.linalg.pinv(features))
        self.error = np.sqrt(np.mean(((results - features @ self.weights) / (1.0 - leverage)[:, None]) ** 2, axis=0))

    def _features(self, normals: Array) -> Array:
        chosen = normals[:, self.chosen]
        first, second = np.triu_indices(CURVED)
        products = chosen[:, first] * chosen[:, second]
        return np.column_stack([np.ones(len(normals)), normals, products, chosen**3, chosen**4])

    def __call__(self, normals: Array) -> Array:
        return self._features(normals) @ self.weights


def _drawn(container: Container, scenario: Scenario, normals: dict[str, Array], lanes: int) -> Lanes:
    return perturbed_runs(container, scenario, {name: p.values(normals[name]) for name, p in PRIORS.items()}, lanes)


@dataclass(frozen=True)
class Learnt:
    """What the engine says of a design: truths, and emulators of every candidate and target."""

    container: Container
    candidates: tuple[Candidate, ...]
    times: Array
    truths: Array
    shown: dict[str, Array]
    emulators: dict[str, Emulator]
    noises: dict[str, Array]
    targets: tuple[Emulator, ...]


@cache
def learnt(name: str, draws: int = DRAWS, truths: int = TRUTHS) -> Learnt:
    """Run a design in draws of its priors, once for each candidate and target."""
    container, generator = load_container(name), np.random.default_rng([7, *name.encode()])
    candidates, times = tuple(usual_candidates(container, Scenario())), reading_times(LENGTH)[1:]
    lasting = generator.standard_normal((draws + truths, len(LASTING)))
    shown, emulators, noises = {}, {}, {}
    for candidate in candidates:
        # The first are exact in what is a run's own, to teach the emulator; the truths have it drawn.
        passing = np.vstack([np.zeros((draws, len(PASSING))), generator.standard_normal((truths, len(PASSING)))])
        normals = dict(zip((*LASTING, *PASSING), np.hstack([lasting, passing]).T, strict=True))
        runs = _drawn(container, candidate.scenario, normals, draws + truths)
        temperatures = temperatures_at(runs, times, compiled_stepper()).T
        emulators[candidate.name] = Emulator(lasting[:draws], temperatures[:draws])
        shown[candidate.name] = _as_read(temperatures[draws:], generator)
        response = temperature_response(container, candidate.scenario, times, stepper=compiled_stepper())
        noises[candidate.name] = reading_covariance(response, PROBE)
    targets = tuple(_target(container, fields, limit, lasting[:draws]) for fields, limit in TARGETS)
    return Learnt(container, candidates, times, lasting[draws:], shown, emulators, noises, targets)


def _target(container: Container, fields: dict[str, str], limit: float, lasting: Array) -> Emulator:
    normals = dict(zip(LASTING, lasting.T, strict=True)) | {name: np.zeros(len(lasting)) for name in PASSING}
    runs = _drawn(container, validated(Scenario, fields), normals, len(lasting))
    times = follow(runs, [limit], stepper=compiled_stepper()).hold_times[0]
    return Emulator(lasting, np.log(times)[:, None])


def _as_read(temperatures: Array, generator: np.random.Generator) -> Array:
    """Show temperatures as a thermometer would, whose run lost heat a little faster or slower than any unknown says."""
    room = 293.15
    excess = temperatures - room
    started = np.log(np.abs(excess[:, :1] / excess))
    astray = excess * np.exp(-MODEL_ERROR * generator.standard_normal((len(excess), 1)) * started)
    offset = PROBE.offset_spread * generator.standard_normal((len(excess), 1))
    read = room + astray + offset + PROBE.noise * generator.standard_normal(excess.shape)
    return np.round(read / PROBE.resolution) * PROBE.resolution


def next_cases(
    designs: tuple[str, ...] = DESIGNS, draws: int = DRAWS, truths: int = TRUTHS, samples: int = SAMPLES
) -> Iterator[NextCase]:
    for name in designs:
        bench = learnt(name, draws, truths)
        lasting = np.random.default_rng(11).standard_normal((samples, len(LASTING)))
        predicted = {c.name: bench.emulators[c.name](lasting) for c in bench.candidates}
        for number, (fields, limit) in enumerate(TARGETS):
            target = validated(Scenario, fields)
            advice = advise(bench.container, target, limit, bench.candidates, length=LENGTH, probe=PROBE)
            wanted = bench.targets[number](lasting)[:, 0]
            for truth in range(number, truths, len(TARGETS)):
                yield _case(bench, advice.lessons[0].candidate.name, truth, predicted, wanted)


def _case(bench: Learnt, advised: str, truth: int, predicted: dict[str, Array], wanted: Array) -> NextCase:
    widths, samples = {}, {}
    for candidate in bench.candidates:
        name = candidate.name
        noise = bench.noises[name] + np.diag(bench.emulators[name].error ** 2)
        weights = _weights(bench.shown[name][truth], predicted[name], noise)
        widths[name], samples[name] = _width(wanted, weights), 1.0 / np.sum(weights**2)
    others = np.array([width for name, width in widths.items() if name != advised])
    return NextCase(bench.container.name, advised, widths[advised], others, min(samples.values()))


def _weights(shown: Array, predicted: Array, noise: Array) -> Array:
    root = np.linalg.cholesky(noise)
    whitened = np.linalg.solve(root, (predicted - shown).T)
    logs = -0.5 * np.sum(whitened**2, axis=0)
    weights = np.exp(logs - logs.max())
    return weights / weights.sum()


def _width(values: Array, weights: Array) -> float:
    order = np.argsort(values)
    low, high = np.interp([0.05, 0.95], np.cumsum(weights[order]), values[order])
    return float(high - low)


def next_lines() -> Iterator[str]:
    cases = list(next_cases())
    good = sum(case.is_as_good for case in cases)
    for name in DESIGNS:
        bench = learnt(name)
        own = [case for case in cases if case.design == name]
        errors = max(float(e.error.max()) for e in bench.emulators.values())
        ratio = np.median([case.width / case.others.mean() for case in own])
        advised = ", ".join(sorted({case.advised for case in own}))
        yield (
            f"{name}: advised {advised}; interval {ratio:.2f} of that after the average other run (median); "
            f"emulator off by {errors:.2f} K at most, {min(case.sample for case in own):.0f} effective samples at least"
        )
    yield f"at least as good as the average alternative in {good} of {len(cases)} invented benches (allowed 90 %)"


def main() -> None:
    """Print all of it."""
    print("Planned repeats, tested with SciPy")
    for case in power_cases():
        print(f"  {case}")
    print("\nSchedules, counted")
    for line in schedule_lines():
        print(f"  {line}")
    print("\nThe run that teaches most")
    for line in next_lines():
        print(f"  {line}")


if __name__ == "__main__":
    main()
