"""An invented bench whose truth is known: the galley of a coastal ferry tries containers for the night watch.

Every number is made: what no ruler sees is drawn from the priors of `uncertainty`, container by container; each run
has its own fill, pour, room and seal; two thermometers are off, round and scatter; three runs go wrong in the ways
runs go wrong. The truth stands beside the readings in `truth.json`, which nothing but tests and curious people reads.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container
from geometries.design_file import load_container
from geometries.files import write_text
from geometries.numeric import Array
from geometries.overrides import with_overrides
from thermal_model.assemble.lanes import Lanes
from thermal_model.bench.columns import File
from thermal_model.bench.write.demo_plan import (
    CONTAINERS,
    FILL_SPREAD,
    FIRST_DAY,
    POUR_SPREAD,
    PROBES,
    ROOM_SPREAD,
    RUNS,
    SIDE_BY_SIDE,
    TIME_SPREAD,
    DemoProbe,
    DemoRun,
    bench_text,
)
from thermal_model.bench.write.descriptor import write_descriptor
from thermal_model.bench.write.tables import table_text
from thermal_model.follow import Followed, follow
from thermal_model.scenario import Scenario, WallStart
from thermal_model.solver.stepping import PlainStepper
from thermal_model.uncertainty import PRIORS, Scope, perturbed_container
from thermal_model.unknowns import UNKNOWN_NAMES, Unknowns
from thermal_model.words.documents import plain

MINUTE, HOUR = 60.0, 3600.0
ZERO = ZERO_CELSIUS

TRUTH_FILE = "truth.json"

SEAL_SPREAD = 0.25
"""Of the logarithm of lid contact and annulus exchange from run to run."""

MARK = 60.0
"""Hold times in the truth file are to this temperature. [C]"""


@dataclass(frozen=True)
class _Happened:
    """What really happened in a run: the numbers are in SI."""

    plan: DemoRun
    values: dict[str, float]
    fill: float
    start: float
    room: float
    truth: dict[str, Any]

    @property
    def batch(self) -> tuple[str, str]:
        """Runs alike in this are one network with a lane each."""
        shapes = self.plan.mishap in ("lid not seated", "container not soaked")
        return self.plan.container, self.plan.mishap if shapes else ""


def write_demo(folder: Path, seed: int = 1) -> None:
    """Write the demo bench into a folder that exists.

    Parameters
    ----------
    folder : Path
    seed : int
        Another seed makes other pieces of the same containers, other thermometer readings, the same plan.

    Raises
    ------
    InputError
        If a file can't be written.
    """
    generator = np.random.default_rng([seed, *b"galley"])
    pieces = {name: _drawn(generator, _names(Scope.CONTAINER)) for name in CONTAINERS}
    common = _drawn(generator, _names(Scope.COMMON))
    air = np.random.default_rng([seed, *b"air"])
    happened = [_happen(plan, pieces[plan.container] | common | _drawn(air, OF_THE_AIR), generator) for plan in RUNS]
    curves = _curves(happened)
    readings = [row for curve in curves for row in _reading_rows(curve, generator)]
    passings = [row for curve in curves for row in _passing_rows(curve, generator)]
    texts = {
        File.BENCH: bench_text(),
        File.RUNS: table_text(File.RUNS, [_run_row(one) for one in happened], _RUN_COLUMNS),
        File.READINGS: table_text(File.READINGS, readings, ("run", "time", "temperature")),
        File.PASSINGS: table_text(File.PASSINGS, passings),
        File.PROBE_CHECKS: table_text(File.PROBE_CHECKS, _check_rows(generator)),
        TRUTH_FILE: json.dumps(_truth(seed, pieces, common, curves), indent=2) + "\n",
    }
    for name, text in texts.items():
        write_text(folder / name, text)
    write_descriptor(folder)


_RUN_COLUMNS = ("run", "container", "date", "probe", "contents", "fill", "poured at", "room", "walls", "note")


# --- what is true -----------------------------------------------------------------------------------------------


def _drawn(generator: np.random.Generator, names: Iterable[str]) -> dict[str, float]:
    """Draw unknowns from their priors."""
    return {name: float(PRIORS[name].values(generator.standard_normal(1))[0]) for name in names}


def _names(scope: Scope) -> list[str]:
    """Return the unknowns of a scope, but for the room's air."""
    return [name for name, prior in PRIORS.items() if prior.scope is scope and name not in OF_THE_AIR]


OF_THE_AIR = ("open_surface", "draught")
"""Unknowns that are a run's own here, whatever their scope: no run of the demo is open."""


def _happen(plan: DemoRun, factors: dict[str, float], generator: np.random.Generator) -> _Happened:
    """Turn a plan into what really happened: nothing is quite as it is written down."""
    seal = float(np.exp(SEAL_SPREAD * generator.standard_normal()))
    fill = plan.fill * (1.0 + FILL_SPREAD * generator.standard_normal())
    poured = min(plan.poured + POUR_SPREAD * generator.standard_normal(), 99.5)
    room = plan.room + ROOM_SPREAD * generator.standard_normal()
    values = factors | {name: factors[name] * seal for name in ("lid_contact", "annulus_exchange")}
    if plan.mishap == "lid not seated":
        values["lid_leak"] = LIFTED_LID_LEAK
    truth = {"seal_factor": seal, "fill_mL": fill, "poured_C": poured, "room_C": room, "mishap": plan.mishap}
    return _Happened(plan, values, 1e-6 * fill, poured + ZERO, room + ZERO, truth)


LIFTED_LID_DIAMETER = 10
"""Of the hole that leaks as much as a lid that is not screwed home does. [mm]"""

LIFTED_LID_LEAK = 1.5
"""Factor on the exchange through that hole."""

TOUCHING_OFFSET = -2.5
"""What a probe that touches the wall shows less, hot. [K]"""


LONGEST_HOLD = 14.0 * 86400.0
"""No run is followed longer. [s]"""


def _curves(happened: list[_Happened]) -> list["_Curve"]:
    """Follow every run; those that share a network go together."""
    found: dict[str, _Curve] = {}
    for batch in dict.fromkeys(one.batch for one in happened):
        members = [one for one in happened if one.batch == batch]
        together = _followed(members)
        found |= {one.plan.name: _Curve(one, together, lane) for lane, one in enumerate(members)}
    return [found[one.plan.name] for one in happened]


def _followed(members: list[_Happened]) -> Followed:
    values = {name: np.array([one.values[name] for one in members]) for name in members[0].values}
    container = perturbed_container(_base(members[0].plan), values)
    scenario = _scenario(members)
    unknowns = Unknowns(**{name: values[name] for name in UNKNOWN_NAMES})
    is_cold = np.array([one.start < MARK + ZERO for one in members])
    end = np.array([one.plan.hours * HOUR + 600.0 for one in members])
    return follow(
        Lanes(container, scenario, unknowns, len(members)),
        np.where(is_cold, np.nan, MARK + ZERO)[None],
        horizon=np.where(is_cold, end.max(), LONGEST_HOLD),
        at_least=float(end.max()),
        record=True,
        stepper=PlainStepper,
    )


def _base(plan: DemoRun) -> Container:
    base = load_container(plan.container)
    if plan.mishap != "lid not seated":
        return base
    slit = {"kind": "vent", "diameter": f"{LIFTED_LID_DIAMETER} mm", "closed": False}
    return with_overrides(base, {f"lid.openings.0.{key}": value for key, value in slit.items()})


def _scenario(members: list[_Happened]) -> Scenario:
    """Return the scenario of a batch; all contents of the demo are water, or as water."""
    is_warm = members[0].plan.mishap == "container not soaked"
    scenario = Scenario(walls=WallStart.PREHEATED if is_warm else WallStart.ROOM)
    numbers = {field: np.array([getattr(one, field) for one in members]) for field in ("start", "room", "fill")}
    return scenario.model_copy(update=numbers)


@dataclass(frozen=True)
class _Curve:
    """The true temperature of a run's contents."""

    happened: _Happened
    found: Followed
    lane: int

    def celsius(self, times: Array) -> Array:
        """Return the temperature at times [s]. [C]"""
        return self.found.temperature(self.lane, np.maximum(times, 0.0)) - ZERO

    def time_to(self, celsius: float, shown_more: float) -> float:
        """Return when a display that shows so much more than the truth passes a mark. [s]"""
        times = np.linspace(1.0, float(self.found.end_time[self.lane]), 20_000)
        shown = self.celsius(times) + shown_more
        below = np.flatnonzero(shown < celsius)
        return float(times[below[0]]) if len(below) else float("inf")


# --- what is written down ---------------------------------------------------------------------------------------


def _probe(name: str) -> DemoProbe:
    return next(probe for probe in PROBES if probe.name == name)


def _shown(probe: DemoProbe, celsius: Array, extra: float, generator: np.random.Generator) -> Array:
    """Return what a display shows. [C]"""
    noisy = celsius + probe.bias + extra + probe.noise * generator.standard_normal(celsius.shape)
    return np.round(np.round(noisy / probe.resolution) * probe.resolution, 6)


def _looks_at(plan: DemoRun, generator: np.random.Generator) -> Array:
    """Return the times of a run's readings. [s]"""
    end = plan.hours * HOUR
    if plan.kind == "log":
        times = np.arange(60.0, end + 1.0, 300.0)
        # A wireless probe loses its link now and then, and sometimes for long.
        silent = generator.uniform(0.3, 0.6) * end
        lost = 45.0 * MINUTE if generator.random() < 0.3 else 0.0
        is_heard = (generator.random(len(times)) > 0.03) & ~((times > silent) & (times < silent + lost))
        is_heard[0] = is_heard[-1] = True
        return times[is_heard]
    if plan.kind == "looks":
        return np.concatenate([[120.0, 600.0], np.arange(0.5 * HOUR, end + 1.0, min(0.5 * HOUR, end / 6.0))])
    if plan.kind == "ends":
        return np.array([120.0, end])
    return np.array([120.0])


def _reading_rows(curve: _Curve, generator: np.random.Generator) -> list[dict[str, object]]:
    plan = curve.happened.plan
    probe = _probe(plan.probe)
    times = _looks_at(plan, generator)
    late = 0.0 if plan.kind == "log" else TIME_SPREAD
    celsius = curve.celsius(times + late * generator.standard_normal(len(times)))
    extra = TOUCHING_OFFSET if plan.mishap == "probe touching the wall" else 0.0
    shown = _shown(probe, celsius, extra, generator)
    return [
        {"run": plan.name, "time": float(time / MINUTE), "temperature": float(value)}
        for time, value in zip(times.tolist(), shown.tolist(), strict=True)
    ]


def _passing_rows(curve: _Curve, generator: np.random.Generator) -> list[dict[str, object]]:
    plan = curve.happened.plan
    probe = _probe(plan.probe)
    if plan.kind == "video":
        rows: list[dict[str, object]] = []
        for mark in (85.0, 80.0, 75.0, 70.0, 65.0, MARK):
            time = curve.time_to(mark, probe.bias + 0.5 * probe.noise * float(generator.standard_normal()))
            if time < plan.hours * HOUR:
                rows.append({"run": plan.name, "mark": mark, "passed at": round(time / MINUTE, 1)})
        return rows
    if plan.kind != "brackets":
        return []
    # The tester looks, waits, looks again: what is known is between which two looks the mark was passed.
    looks = np.arange(20.0 * MINUTE, plan.hours * HOUR + 1.0, 40.0 * MINUTE)
    rows = []
    for mark in (80.0, 70.0, MARK):
        time = curve.time_to(mark, probe.bias)
        before, after = looks[looks < time], looks[looks >= time]
        row: dict[str, object] = {"run": plan.name, "mark": mark}
        row |= {"above at": float(before[-1] / MINUTE)} if len(before) else {}
        row |= {"below at": float(after[0] / MINUTE)} if len(after) else {}
        rows.append(row)
    return rows


def _run_row(one: _Happened) -> dict[str, object]:
    plan = one.plan
    date = FIRST_DAY + timedelta(days=plan.day)
    return {
        "run": plan.name,
        "container": plan.container,
        "date": date.isoformat(sep=" ", timespec="minutes"),
        "probe": plan.probe,
        "contents": plan.contents,
        "fill": plan.fill,
        "poured at": plan.poured,
        "room": plan.room,
        "walls": "soaked",
        "note": _NOTES.get(plan.kind, ""),
    }


_NOTES = {
    "log": "logged",
    "looks": "looked at by hand",
    "video": "marks read off a video of the display",
    "brackets": "looked every 40 min and noted which marks were passed",
    "ends": "first and last reading only",
}


def _check_rows(generator: np.random.Generator) -> list[dict[str, object]]:
    rows = []
    for first, second, bath in SIDE_BY_SIDE:
        shown = [_bath_reading(name, bath, generator) for name in (first, second)]
        rows.append(dict(zip(_CHECK_COLUMNS, (first, shown[0], second, shown[1]), strict=True)))
    return rows


_CHECK_COLUMNS = ("first probe", "first temperature", "second probe", "second temperature")


def _bath_reading(name: str, bath: float, generator: np.random.Generator) -> float:
    """Return what is written down for a thermometer in a bath, or for the bath itself if it is ice water. [C]"""
    return bath if name == "ice_water" else float(_shown(_probe(name), np.array([bath]), 0.0, generator)[0])


def _truth(
    seed: int, pieces: dict[str, dict[str, float]], common: dict[str, float], curves: list[_Curve]
) -> dict[str, Any]:
    return {
        "about": "what was put into the invented readings; no command reads it",
        "seed": seed,
        "common": common,
        "containers": pieces,
        "probe_bias_K": {probe.name: probe.bias for probe in PROBES},
        "runs": {
            curve.happened.plan.name: curve.happened.truth
            | {"hold_time_to_60_C_s": plain(curve.found.hold_times[0, curve.lane])}
            for curve in curves
        },
    }
