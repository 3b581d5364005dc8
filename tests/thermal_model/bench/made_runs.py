"""Runs made in memory, of contents that cool exponentially: every number that should come out is known."""

from collections.abc import Sequence
from datetime import datetime
from functools import cache

import numpy as np

from geometries.container import Container
from geometries.design_file import load_container
from geometries.overrides import with_overrides
from thermal_model.bench.records import Bench, Passing, Probe, ProbeCheck, Reading, Run
from thermal_model.scenario import Scenario

HOUR, ZERO = 3600.0, 273.15
PEN = Probe("pen", resolution=0.1, offset_spread=0.5, noise=0.1)
WIRELESS = Probe("wireless", resolution=0.5, offset_spread=0.5, noise=0.1)
PROBES = {"pen": PEN, "wireless": WIRELESS}
LOG = np.arange(0.0, 10.0 * HOUR, 300.0)


@cache
def flask() -> Container:
    return load_container("slim_neck_double_seal")


def celsius(times: np.ndarray, start: float, room: float, hours: float) -> np.ndarray:
    return room + (start - room) * np.exp(-times / HOUR / hours)


def true_hold_time(start: float, room: float, hours: float, limit: float) -> float:
    """Seconds from a start to a limit [C], with a time constant in hours."""
    return float(hours * HOUR * np.log((start - room) / (limit - room)))


def made_run(
    name: str = "r",
    *,
    probe: str = "pen",
    shown: np.ndarray | None = None,
    times: np.ndarray = LOG,
    poured: float = 90.0,
    room: float = 20.0,
    passings: Sequence[Passing] = (),
    day: int = 1,
    container: str = "flask",
    fill: str = "500 mL",
    start_spread: float = 0.4,
    room_spread: float = 0.3,
    time_spread: float = 0.0,
) -> Run:
    """Return a run whose display showed some temperatures [C] at times [s]."""
    shown = celsius(times, poured, room, 15.0) if shown is None else shown
    rows = enumerate(zip(times.tolist(), shown.tolist(), strict=True), start=2)
    scenario = with_overrides(
        Scenario(), {"fill": fill, "start": f"{poured} C", "room": f"{room} C", "contents": "tea"}
    )
    return Run(
        name=name,
        container=container,
        probe=probe,
        container_at_run=flask(),
        scenario=scenario,
        date=datetime(2026, 4, day, 9, 0),
        start_spread=start_spread,
        room_spread=room_spread,
        fill_spread=0.02,
        readings=tuple(Reading(t, value + ZERO, time_spread, line, probe) for line, (t, value) in rows),
        passings=tuple(passings),
        note="",
        line=2,
    )


def made_bench(runs: Sequence[Run], checks: Sequence[ProbeCheck] = ()) -> Bench:
    return Bench("made", {"flask": flask()}, dict(PROBES), tuple(runs), tuple(checks))


def displayed(values: np.ndarray, probe: Probe, generator: np.random.Generator, bias: float = 0.0) -> np.ndarray:
    """What a display shows of true temperatures [C]."""
    noisy = values + bias + probe.noise * generator.standard_normal(values.shape)
    return np.round(noisy / probe.resolution) * probe.resolution
