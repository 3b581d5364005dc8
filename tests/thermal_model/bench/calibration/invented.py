"""Benches whose truth is known: drawn from the prior, watched with noise, rounding and outliers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometries.container import Container
from geometries.design_file import load_container
from geometries.numeric import Array
from thermal_model.bench.calibration.coordinates import Coordinates
from thermal_model.bench.calibration.fit import Problem
from thermal_model.bench.calibration.likelihood import DEGREES_OF_FREEDOM
from thermal_model.bench.calibration.run_faults import SHARES, widths_of
from thermal_model.bench.records import Bench, Passing, Probe, ProbeCheck, Reading, Run
from thermal_model.scenario import Scenario

KITCHEN_LOG = Probe("log", resolution=0.5, offset_spread=0.5, noise=0.1)
DIAL = Probe("dial", resolution=0.2, offset_spread=0.8, noise=0.15)

LOG, START_AND_END, VIDEO, GUESS = "log", "start_and_end", "video", "guess"
"""Kinds of evidence: a full log; one start and one end; marks read off a video; above after so long, below later."""


@dataclass(frozen=True)
class Plan:
    """A run that is to be made."""

    container: str
    kind: str = LOG
    probe: str = "log"
    start: str = "90 C"
    fill: str | None = None
    room: str = "21 C"
    hours: float = 6.0
    readings: int = 13
    room_spread: float = 0.5
    start_spread: float = 0.4
    inverted: bool = False
    share: float = 0.9
    """Of the capacity, where no fill is given."""
    piece: int = 0
    """Pieces of one design are containers of their own."""

    @property
    def name(self) -> str:
        """Of the container."""
        return f"{self.container}_{self.piece}" if self.piece else self.container


def bench_of(plans: Sequence[Plan], probes: Sequence[Probe] = (KITCHEN_LOG, DIAL), name: str = "galley") -> Bench:
    """A bench whose readings are still to come: zeros at the times somebody looks."""
    containers = {plan.name: load_container(plan.container) for plan in plans}
    runs = tuple(_run(number, plan, containers[plan.name]) for number, plan in enumerate(plans))
    checks = (ProbeCheck("log", "dial", 0.0, 0.0, 2),) if len(probes) > 1 else ()
    return Bench(name, containers, {probe.name: probe for probe in probes}, runs, checks)


def _run(number: int, plan: Plan, container: Container) -> Run:
    from geometries.container import closed_capacity

    fill = plan.fill or f"{plan.share * closed_capacity(container) * 1e6:.0f} mL"
    scenario = Scenario.model_validate(
        {
            "start": plan.start,
            "room": plan.room,
            "fill": fill,
            "orientation": "inverted" if plan.inverted else "upright",
        }
    )
    end = 3600.0 * plan.hours
    counts = {LOG: plan.readings, START_AND_END: 2, VIDEO: 0, GUESS: 0}
    times = np.linspace(120.0, end, counts[plan.kind]) if counts[plan.kind] else np.empty(0)
    readings = tuple(Reading(float(t), 0.0, 10.0, 2 + k, plan.probe) for k, t in enumerate(times))
    return Run(
        name=f"run_{number + 1}",
        container=plan.name,
        probe=plan.probe,
        container_at_run=container,
        scenario=scenario,
        date=None,
        start_spread=plan.start_spread,
        room_spread=plan.room_spread,
        fill_spread=0.01,
        readings=readings,
        passings=_looks(plan, end),
        note="",
        line=2 + number,
    )


def _looks(plan: Plan, end: float) -> tuple[Passing, ...]:
    """Times, as marks to be set from the truth: points for a video, an interval for a guess."""
    if plan.kind == VIDEO:
        return tuple(Passing(0.0, t, t, 2 + k, plan.probe) for k, t in enumerate(np.linspace(0.1, 1.0, 6) * end))
    if plan.kind == GUESS:
        return (Passing(0.0, 0.9 * end, end, 2, plan.probe), Passing(0.0, end, np.inf, 3, plan.probe))
    return ()


@dataclass(frozen=True)
class Invented:
    """A bench with readings, and the truth they come from."""

    bench: Bench
    truth: Array


def invent(plain: Bench, seed: int, *, refinement: int = 1, truth: Array | None = None) -> Invented:
    """Draw the truth from the prior, and what displays then show."""
    generator = np.random.default_rng(seed)
    coordinates = Coordinates.of_bench(plain)
    x = _drawn(plain, coordinates, generator, seed) if truth is None else truth
    shown = Problem(plain, refinement).predicted(x)
    assert np.all(np.isfinite(shown.predicted)), "the truth can't be followed"
    return Invented(_with_readings(plain, shown.predicted, shown.evidence, generator), x)


OF_THE_AIR = ("open_surface", "draught")
"""Drawn apart, so that a seed stands for the same bench as before there were these."""


def _drawn(plain: Bench, coordinates: Coordinates, generator: np.random.Generator, seed: int) -> Array:
    """Draw how the runs went, and every coordinate from its prior, (p,)."""
    widths = widths_of(coordinates, plain.runs, generator.choice(len(SHARES), size=len(plain.runs), p=SHARES))
    is_air = np.array([c.name in OF_THE_AIR for c in coordinates.listed])
    x = np.random.default_rng([seed, *b"air"]).standard_normal(coordinates.count)
    x[~is_air] = generator.standard_normal(int(np.sum(~is_air)))
    return x * widths


def _with_readings(plain: Bench, predicted: Array, evidence: object, generator: np.random.Generator) -> Bench:
    rows = iter(predicted.tolist())
    runs = []
    for run in plain.runs:
        probe = plain.probes[run.probe]
        readings = tuple(replace(r, temperature=_shown(next(rows), probe, generator)) for r in run.readings)
        passings = tuple(_passing(p, next(rows), probe, generator) for p in run.passings)
        runs.append(replace(run, readings=readings, passings=passings))
    checks = tuple(
        replace(
            check,
            first_temperature=300.0 + _shown(next(rows), plain.probes[check.first], generator),
            second_temperature=300.0 + _noise(plain.probes[check.second], generator),
        )
        for check in plain.checks
    )
    return replace(plain, runs=tuple(runs), checks=checks)


def _noise(probe: Probe, generator: np.random.Generator) -> float:
    return float(probe.noise * generator.standard_t(DEGREES_OF_FREEDOM))


def _shown(value: float, probe: Probe, generator: np.random.Generator) -> float:
    noisy = value + _noise(probe, generator)
    return round(noisy / probe.resolution) * probe.resolution if probe.resolution else noisy


def _passing(look: Passing, value: float, probe: Probe, generator: np.random.Generator) -> Passing:
    """A mark near what stood there: as passed, within the interval, or two kelvin beyond and not yet passed."""
    if np.isinf(look.latest):
        return replace(look, mark=value - 2.0 + _noise(probe, generator))
    return replace(look, mark=_shown(value, probe, generator))


DESIGNS = (
    "slim_neck_double_seal",
    "single_seal_plug",
    "wide_mouth_disc",
    "thin_disc_lid",
    "air_pocket_lid",
    "clearance_insert",
    "honeycomb_insert",
    "three_layer_wall",
)


def random_plans(generator: np.random.Generator) -> list[Plan]:
    """One to three containers with one to three runs each: hot and cold, full and half, of every kind of evidence."""
    plans = []
    for container in generator.choice(DESIGNS, size=generator.integers(1, 4), replace=False):
        for _ in range(generator.integers(1, 4)):
            plan = random_plan(generator, str(container), is_hot=generator.random() < 0.75)
            inverted, share = bool(generator.random() < 0.1), float(generator.choice([0.5, 0.75, 0.95]))
            plans.append(replace(plan, inverted=inverted, share=share))
    return plans


def hot_plans(generator: np.random.Generator) -> list[Plan]:
    """One to three containers, each benched hot and at one fill; of every kind of evidence."""
    plans = []
    for container in generator.choice(DESIGNS, size=generator.integers(1, 4), replace=False):
        share = float(generator.choice([0.5, 0.6, 0.7]))
        for _ in range(generator.integers(1, 4)):
            plans.append(replace(random_plan(generator, str(container), is_hot=True), share=share))
    return plans


def random_plan(generator: np.random.Generator, container: str, *, is_hot: bool) -> Plan:
    """A run of any kind of evidence, upright, its fill left open."""
    return Plan(
        container,
        kind=str(generator.choice([LOG, LOG, START_AND_END, VIDEO, GUESS])),
        probe=str(generator.choice(["log", "dial"])),
        start=f"{generator.uniform(80.0, 96.0) if is_hot else generator.uniform(1.0, 6.0):.1f} C",
        room=f"{generator.uniform(19.0, 23.0):.1f} C",
        hours=float(generator.uniform(2.0, 8.0)),
        readings=int(generator.integers(5, 40)),
    )
