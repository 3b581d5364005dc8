"""Random valid designs over the whole schema, under conditions of every kind: what must hold of any of them.

Run as `python -m tests.benchmarks.random_designs [designs] [first seed]`, 10 000 from 0 if left out. Kinds (materials,
gaps, gases, layers, plugs, seals, holes, contents, ice, openings, schedules of the room, preheat, upside down) are
drawn for 25 designs at a time, their numbers for each. Every run must end, without a NaN; its energy must balance to
1e-6; contents under a lid, without sun, must end between start and room. Seeds of what fails are printed and kept in
`random_designs_failed.csv` in the working directory.
"""

import csv
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geometries.checks import dimension_problems
from geometries.container import Container, closed_capacity
from geometries.design_file import catalogue_names, load_container
from geometries.errors import InputError
from geometries.overrides import with_overrides, with_values
from tests.thermal_model.runs import numeric_leaves
from thermal_model.assemble.lanes import Lanes
from thermal_model.follow import Followed, follow
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import Outcome
from thermal_model.solver.steppers import compiled_stepper

EACH = 25
"""Designs of the same kinds."""

BALANCE = 1e-6
SLACK = 0.05
"""By which contents may pass start or room: walls at rest and the solver's error. [K]"""

METALS = ["stainless_304", "titanium", "aluminium", "copper"]
WALLS = [*METALS, "borosilicate_glass", "stoneware", "polypropylene"]
LIDS = ["polypropylene", "copolyester", "bamboo", "cork", "stainless_304", "silicone_rubber"]
GASES = ["air", "argon", "krypton", "xenon", "helium", "hydrogen", "carbon_dioxide", "nitrogen"]
DRINKS = ["water", "tea", "milk", "thick_soup", "vegetable_oil", "fruit_juice"]


def random_kinds(generator: np.random.Generator) -> Container:
    """A design of the catalogue with kinds drawn anew; what makes no container is left as it was."""
    container = load_container(str(generator.choice(catalogue_names())))
    for path, choices in _kinds(container, generator):
        if generator.uniform() < 0.5:
            try:
                container = with_overrides(container, {path: choices})
            except InputError:
                continue
    return container


def _kinds(container: Container, generator: np.random.Generator) -> list[tuple[str, Any]]:
    pick = generator.choice
    mouth = "0 mm"
    plug = {"kind": str(pick(["hollow", "solid", "open", "foam"])), "depth": f"{generator.uniform(3, 45):.1f} mm"}
    plug["clearance"] = f"{generator.uniform(0.3, 8):.2f} mm"
    found: list[tuple[str, Any]] = [
        ("body.wall.material", str(pick(WALLS))),
        ("body.exterior.surface", str(pick(["paint", "stainless_polished", "wood"]))),
        ("body.gap.kind", str(pick(["vacuum", "air", "foam"]))),
        ("body.gap.gas", str(pick(GASES))),
        ("body.gap.shields", int(generator.integers(0, 4))),
        ("body.gap.pressure", f"{10 ** generator.uniform(-4, 5):.3g} Pa"),
        ("lid.plug", plug if generator.uniform() < 0.6 else None),
        ("lid.seals", [{"depth": mouth}, {"depth": plug["depth"]}][: int(generator.integers(0, 3))]),
        ("lid.skirt_length", f"{generator.uniform(0, 25):.1f} mm"),
        ("lid.overhang", f"{generator.uniform(0, 8):.1f} mm"),
        ("lid.openings", [{"kind": "vent", "diameter": f"{generator.uniform(0.5, 12):.1f} mm"}]),
    ]
    for number in range(0 if container.lid is None else len(container.lid.layers)):
        found.append((f"lid.layers.{number}.material", str(pick(LIDS))))
        found.append((f"lid.layers.{number}.filling", str(pick(["air", "foam"]))))
    if container.body.neck is not None and generator.uniform() < 0.3:
        found.append(("body.neck.shoulder_height", "0 mm"))
    return [*found, ("lid", None)] if generator.uniform() < 0.1 else found


def random_scenario(generator: np.random.Generator) -> Scenario:
    """Hot, cold, iced, opened, poured from, upside down, in rooms that change."""
    while True:
        try:
            return Scenario.model_validate(_conditions(generator))
        except InputError:
            continue


def _conditions(generator: np.random.Generator) -> dict[str, Any]:
    between, chance = generator.uniform, lambda share: generator.uniform() < share
    drink = str(generator.choice(DRINKS)) if chance(0.4) else "water"
    given: dict[str, Any] = {"contents": drink, "room": f"{between(-20, 45):.1f} C"}
    given["start"] = f"{between(60, 99) if chance(0.6) else between(1, 12):.1f} C"
    if chance(0.2) and drink == "water":
        given |= {"ice": f"{between(5, 150):.0f} g", "start": f"{between(0.5, 12):.1f} C"}
    if chance(0.25):
        given["openings"] = [{"at": f"{between(5, 60):.0f} min", "duration": f"{between(5, 300):.0f} s"}]
        given["openings"][0] |= {"pour": f"{between(0, 40):.0f} mL"} if chance(0.6) else {}
        given["openings"][0] |= {"every": f"{between(61, 200):.0f} min"} if chance(0.4) else {}
    if chance(0.15):
        rooms = [f"{between(-20, 45):.1f} C" for _ in range(3)]
        given["room_profile"] = {"times": ["0 h", "2 h", "5 h"], "temperatures": rooms, "in_steps": chance(0.5)}
    if chance(0.15):
        given["preheat"] = {"duration": f"{between(1, 10):.0f} min", "temperature": f"{between(1, 99):.0f} C"}
    elif chance(0.2):
        given["walls"] = "preheated"
    if chance(0.1):
        given["orientation"] = "inverted"
    given |= {"wind": f"{between(0, 15):.1f} m/s"} if chance(0.2) else {}
    given |= {"sunlight": f"{between(0, 1000):.0f} W/m2"} if chance(0.15) else {}
    return given | {"relative_humidity": float(between(0, 1)), "stands_on": str(generator.choice(["wood", "nothing"]))}


@dataclass(frozen=True)
class Batch:
    """Designs of the same kinds, those among them that are containers, and their conditions."""

    seed: int
    runs: Lanes
    limits: tuple[float, float]


def random_batch(seed: int) -> Batch:
    """Draw kinds, numbers and conditions."""
    generator = np.random.default_rng([11, seed])
    while True:
        base, scenario = random_kinds(generator), random_scenario(generator)
        moved = {path: value * generator.uniform(0.6, 1.5, EACH) for path, value in numeric_leaves(base)}
        moved = {path: np.minimum(values, 1.0) if "emissivity" in path else values for path, values in moved.items()}
        sound = np.ones(EACH, dtype=bool)
        for problem in dimension_problems(with_values(base, moved)):
            sound &= ~np.broadcast_to(problem.mask, EACH)
        if sound.any():
            break
    container = with_values(base, {path: values[sound] for path, values in moved.items()})
    count = int(sound.sum())
    share = np.where(generator.uniform(size=count) < 0.15, 1.0, generator.uniform(0.1, 1.0, count))
    filled = scenario.model_copy(update={"fill": share * np.broadcast_to(closed_capacity(container), count)})
    start, room = float(scenario.start), float(scenario.room)
    return Batch(seed, Lanes(container, filled, count=count), (0.7 * start + 0.3 * room, 0.4 * start + 0.6 * room))


def complaints(batch: Batch, found: Followed) -> list[tuple[int, str]]:
    """What is wrong with each run, by lane."""
    scenario, lid = batch.runs.scenario, batch.runs.container.lid
    valid, start, room = found.outcome != Outcome.INVALID, float(scenario.start), float(scenario.room)
    failed = found.outcome == Outcome.FAILED
    reached_none = (found.outcome == Outcome.REACHED) & np.isnan(found.hold_times).any(axis=0)
    sound = valid & ~failed
    wrong = {
        "failed": failed & ~(found.end_time >= found.known_until),
        "reached without a time": reached_none,
        "not a number": sound & ~np.isfinite(found.final_temperature + found.heat_to_room + found.balance_error),
        "energy out of balance": sound & ~(found.balance_error < BALANCE),
    }
    is_plain = lid is not None and not scenario.openings and scenario.room_profile is None and scenario.preheat is None
    if is_plain and float(scenario.sunlight) == 0.0:
        low, high = min(start, room, 273.15 if float(scenario.ice) > 0.0 else 1e3), max(start, room)
        outside = (found.final_temperature < low - SLACK) | (found.final_temperature > high + SLACK)
        wrong["beyond start and room"] = sound & outside
    return [(int(lane), name) for name, mask in wrong.items() for lane in np.flatnonzero(mask)]


def main(designs: int, first: int) -> int:
    """Print what failed and how many ran; 1 if something failed."""
    done, seed, counts = 0, first, Counter[str]()
    with Path("random_designs_failed.csv").open("w", newline="") as file:
        kept = csv.writer(file)
        kept.writerow(["seed", "lane", "what"])
        while done < designs:
            try:
                batch = random_batch(seed)
                found = follow(batch.runs, batch.limits, stepper=compiled_stepper())
                told = complaints(batch, found)
                ran = int(np.sum(found.outcome != Outcome.INVALID))
                counts.update(Outcome(value).name for value in found.outcome.tolist())
            except Exception as error:  # any exception is a finding
                told, ran = [(-1, f"{type(error).__name__}: {error}"[:200])], 1
            for lane, what in told:
                kept.writerow([seed, lane, what])
                print(f"seed {seed} lane {lane}: {what}", flush=True)
                counts["wrong"] += 1
            done, seed = done + ran, seed + 1
    print(f"{done} designs of {seed - first} sets of kinds: {dict(counts)}")
    return 1 if counts["wrong"] else 0


if __name__ == "__main__":
    sys.exit(main(*(int(text) for text in (*sys.argv[1:], *("10000", "0")[len(sys.argv) - 1 :]))))
