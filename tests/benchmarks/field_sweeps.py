"""Every number of a design and of a scenario, from end to end: no jump, no wrong direction, no field without effect.

Run as `python -m tests.benchmarks.field_sweeps [designs] [seed]`. Designs of the catalogue are moved at random; then
one number after another takes 41 values over its range, zero included where it is allowed, hot and cold. Where two
neighbours lie far apart, the place between them is halved until the difference is gone, or stays: that is a jump. Which
way a hold time must go stands beside the field (`more` in its schema).
"""

import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from geometries.checks import dimension_problems
from geometries.container import Container, closed_capacity, fill_height
from geometries.design_file import catalogue_names, load_container
from geometries.numeric import Array
from geometries.overrides import with_values
from geometries.ranges import NumberField
from tests.thermal_model.runs import numeric_leaves
from thermal_model.batch import Table, evaluate
from thermal_model.scenario import Scenario
from thermal_model.solver.engine import MakeStepper, Outcome
from thermal_model.solver.steppers import compiled_stepper
from thermal_model.study.ranges import SCENARIO, number_fields

VALUES = 41
FAR, JUMP = 0.01, 0.005
"""Neighbours this far apart in the logarithm of a hold time are looked at; what stays of it is a jump."""

HALVINGS = 14
WRONG_WAY = 2e-3
"""Against its direction a hold time may go by this in its logarithm over the whole range: the solver's error."""

NO_EFFECT = 1e-7
HORIZON = 40 * 86400.0

CONDITIONS = {
    "hot": (Scenario.model_validate({"start": "90 C", "room": "20 C"}), 333.15),
    "cold": (Scenario.model_validate({"start": "4 C", "room": "25 C"}), 285.15),
}

SPANS = {
    "scenario.start": (335.15, 371.15),
    "scenario.room": (263.15, 318.15),
    "scenario.wind": (0.0, 12.0),
    "scenario.draught": (0.0, 1.0),
    "scenario.sunlight": (0.0, 1000.0),
    "scenario.relative_humidity": (0.0, 1.0),
    "body.gap.pressure": (0.0, 1e5),
}
"""Ranges of numbers that are no sizes. [SI]"""

COLD_SPANS = {"scenario.start": (274.15, 284.15), "scenario.room": (288.15, 318.15)}


@dataclass
class Finding:
    """What a field did over all designs."""

    swept: int = 0
    failed: list[str] = field(default_factory=list)
    jumps: list[tuple[float, str]] = field(default_factory=list)
    wrong: list[tuple[float, str]] = field(default_factory=list)
    moved: float = 0.0


def random_designs(count: int, seed: int) -> Iterator[tuple[str, Container]]:
    """Designs of the catalogue in turn, every size moved by up to 30 %; what makes no container is drawn again."""
    names = list(catalogue_names())
    for number in range(count):
        name = names[number % len(names)]
        base = load_container(name)
        generator = np.random.default_rng([seed, number])
        while True:
            moved = {
                path: float(value * generator.uniform(0.7, 1.3))
                for path, value in numeric_leaves(base)
                if value > 0.0 and not path.endswith("emissivity")
            }
            container = with_values(base, moved)
            if not dimension_problems(container):
                yield f"{name}#{number}", container
                break


def span(found: NumberField, container: Container, condition: str) -> tuple[float, float] | None:
    """Range over which a field is swept, None for one that is not. [SI]"""
    if found.path == "scenario.fill":
        capacity = float(closed_capacity(container))
        # The last few per cent reach the lid, which then is wetted: `tests/published` holds that to physics.
        return 0.05 * capacity, 0.93 * capacity
    special = SPANS | (COLD_SPANS if condition == "cold" else {})
    if found.path in special:
        return special[found.path]
    if found.path.startswith(SCENARIO) or found.path.startswith("unsure"):
        return None
    if ".seals." in found.path and (container.lid is None or container.lid.plug is None):
        return None  # on the rim: squeezed flat, at no other depth
    if found.path.endswith("shield_emissivity") and not (container.body.gap and container.body.gap.shields):
        return None  # kept for the day when there are shields
    if found.path.endswith("emissivity"):
        return 0.01, 1.0
    if found.value is None:
        return None
    allows_zero = bool(found.quantity.allows(0.0))
    if found.value == 0.0:
        return 0.0, 0.02
    return (0.0 if allows_zero else found.value * 0.02), 4.0 * found.value


def direction(path: str, container: Container, condition: str) -> int:
    """+1 where more of a field must make contents last longer, -1 shorter, 0 where it depends."""
    place: object = container if not path.startswith(SCENARIO) else CONDITIONS[condition][0]
    keys = path.removeprefix(SCENARIO).split(".")
    for key in keys[:-1]:
        place = place[int(key)] if isinstance(place, tuple) else getattr(place, key)
    extra = type(place).model_fields[keys[-1]].json_schema_extra  # type: ignore[attr-defined]
    more = extra.get("more", "") if isinstance(extra, dict) else ""
    if more == "warmer":
        return 1 if condition == "hot" else -1
    return {"longer": 1, "shorter": -1}.get(str(more), 0)


def values_over(path: str, bounds: tuple[float, float]) -> Array:
    """Values from end to end: evenly, but for a pressure, which matters by its powers of ten."""
    if path == "body.gap.pressure":
        return np.append(bounds[0], np.geomspace(1e-5, bounds[1], VALUES - 1))
    return np.linspace(*bounds, VALUES)


class Sweeper:
    """One design under one condition."""

    def __init__(self, container: Container, condition: str, stepper: MakeStepper) -> None:
        self.container, self.condition, self.stepper = container, condition, stepper
        scenario, self.limit = CONDITIONS[condition]
        self.scenario = scenario.model_copy(update={"fill": 0.7 * float(closed_capacity(container))})

    def times(self, path: str, values: Array) -> tuple[Array, NDArray[np.int64]]:
        """Hold times at values, and what became of each."""
        table = Table({path: values}, {})
        result = evaluate(self.container, self.scenario, table, [self.limit], horizon=HORIZON, stepper=self.stepper)
        return result.hold_times[0], result.outcome

    def sweep(self, found: NumberField, bounds: tuple[float, float], into: Finding, name: str) -> None:
        """Sweep one field and note what is wrong."""
        values = values_over(found.path, bounds)
        times, outcome = self.times(found.path, values)
        where = f"{name} {self.condition}"
        into.swept += 1
        bad = outcome == Outcome.FAILED
        if bad.any():
            into.failed.append(f"{where} at {values[bad][0]:.6g}")
        good = np.flatnonzero(outcome == Outcome.REACHED)
        if len(good) < 2:
            return
        logs = np.log(times[good])
        into.moved = max(into.moved, float(np.ptp(logs)))
        self._directions(found.path, values[good], logs, into, where)
        steps = np.abs(np.diff(logs))
        adjacent = np.diff(good) == 1
        far = good[:-1][adjacent & (steps > FAR)]
        for k, size in zip(far, self._jumps(found.path, values[far], values[far + 1]), strict=True):
            if size > JUMP:
                into.jumps.append((size, f"{where} near {values[k]:.6g}"))

    def _directions(self, path: str, values: Array, logs: Array, into: Finding, where: str) -> None:
        sign = direction(path, self.container, self.condition)
        if path == "scenario.fill":
            # Within the mouth's width of lid or neck cold contents may lose more by steel and lid than they gain in
            # volume, about a tenth of the best fill's time; a finer network says the same.
            body = self.container.body
            air = 2.0 * body.mouth_radius + (body.neck.length if body.neck is not None else 0.0)
            logs = logs[fill_height(self.container, values) <= body.depth - air]
        if sign and len(logs):
            back = np.maximum.accumulate(sign * logs) - sign * logs
            k = int(back.argmax())
            if back[k] > WRONG_WAY:
                into.wrong.append((float(back[k]), f"{where} before {values[k]:.6g}"))

    def _jumps(self, path: str, low: Array, high: Array) -> list[float]:
        """What is left of each step when the place between is narrowed to a ten-thousandth, all in one table."""
        low, high, sizes = low.copy(), high.copy(), np.zeros(len(low))
        open_ = np.arange(len(low))
        for _ in range(HALVINGS // 3):
            if not len(open_):
                break
            values = np.linspace(low[open_], high[open_], 9, axis=1)
            times, outcome = (found.reshape(values.shape) for found in self.times(path, values.ravel()))
            logs = np.where(outcome == Outcome.REACHED, np.log(times), np.nan)
            steps = np.nan_to_num(np.abs(np.diff(logs, axis=1)))  # a step to nowhere is none
            widest = np.argmax(steps, axis=1)[:, None]
            low[open_] = np.take_along_axis(values, widest, axis=1)[:, 0]
            high[open_] = np.take_along_axis(values, widest + 1, axis=1)[:, 0]
            sizes[open_] = np.take_along_axis(steps, widest, axis=1)[:, 0]
            open_ = open_[sizes[open_] >= JUMP]
        return sizes.tolist()


def survey(designs: int, seed: int, conditions: tuple[str, ...] = ("hot", "cold")) -> dict[str, Finding]:
    """Sweep every field of random designs; what was found, by path with list numbers left out."""
    found: dict[str, Finding] = defaultdict(Finding)
    stepper = compiled_stepper()
    for name, container in random_designs(designs, seed):
        for condition in conditions:
            sweeper = Sweeper(container, condition, stepper)
            for number in number_fields(container, sweeper.scenario).values():
                bounds = span(number, container, condition)
                if bounds is not None:
                    key = ".".join("n" if part.isdecimal() else part for part in number.path.split("."))
                    sweeper.sweep(number, bounds, found[key], name)
    return dict(found)


def report(found: dict[str, Finding]) -> str:
    """One line a field, the worst examples below it."""
    lines = [f"{'field':38} sweeps  failed  jumps  wrong way  moves by"]
    for path, finding in sorted(found.items()):
        counts = f"{finding.swept:6}  {len(finding.failed):6}  {len(finding.jumps):5}  {len(finding.wrong):9}"
        effect = f"{np.expm1(finding.moved):.3g}" if finding.moved > NO_EFFECT else "NOTHING"
        lines.append(f"{path:38} {counts}  {effect}")
        lines += [f"    failed: {where}" for where in finding.failed[:2]]
        for word, cases in (("jump", finding.jumps), ("wrong way", finding.wrong)):
            lines += [f"    {word} {100 * size:.2f} %: {where}" for size, where in sorted(cases, reverse=True)[:2]]
    return "\n".join(lines)


if __name__ == "__main__":
    counts = [int(text) for text in sys.argv[1:3]]
    print(report(survey(counts[0] if counts else 300, counts[1] if len(counts) > 1 else 1)))
