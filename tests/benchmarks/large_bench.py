"""A bench of many different containers, invented: what a galley would have after it measured everything on board.

Each is a starter design with other sizes, and a piece of its own: what no ruler sees is drawn from the priors. Two runs
a container, hot and logged, every fifth also iced. Usage, to write one:

    python -m tests.benchmarks.large_bench FOLDER --containers 40
"""

import argparse
import tomllib
from pathlib import Path
from typing import Any

import numpy as np

from geometries.constants import ZERO_CELSIUS
from geometries.container import Container
from geometries.design_file import catalogue_names, catalogue_path, load_container, save_container
from geometries.errors import InputError
from geometries.overrides import with_overrides
from thermal_model.assemble.contents import filled_volume
from thermal_model.follow import follow
from thermal_model.scenario import Scenario
from thermal_model.solver.stepping import PlainStepper
from thermal_model.uncertainty import PRIORS, Scope, draw_sample, perturbed_runs

PLACES = ("bridge", "engine_room", "deck", "mess", "night_watch", "purser", "car_deck", "galley")
"""Where on the ferry a container stands: names that are invented."""

SIZES = {
    "body.inside_diameter": (0.9, 1.25),
    "body.outside_diameter": (1.0, 1.2),
    "body.inside_depth": (0.85, 1.3),
    "body.outside_height": (0.85, 1.3),
    "body.neck.mouth_diameter": (0.85, 1.1),
}
"""Factors within which a size of a starter design is changed. [-]"""

MINUTE = 60.0


def write_large_bench(folder: Path, count: int, seed: int = 1) -> None:
    """Write a bench of so many different containers into a folder that exists."""
    generator = np.random.default_rng([seed, *b"large bench"])
    starters = sorted(catalogue_names())
    bench = ['name = "large_bench"', "", "[probes.wireless]", 'resolution = "0.5 C"', 'offset_spread = "0.8 C"']
    runs = ["run,container,date,probe,contents,fill [mL],poured at [C],room [C],walls"]
    readings = ["run,time [min],temperature [C]"]
    for number in range(count):
        container = another(starters[number % len(starters)], number, generator)
        save_container(container, folder / f"{container.name}.toml")
        bench += ["", f"[containers.{container.name}]", f'design = "{container.name}.toml"']
        for start, hours in ((92.0, 6.0), (90.0, 4.0)) if number % 5 else ((92.0, 6.0), (4.0, 6.0)):
            run = f"run-{len(runs)}"
            fill, room, rows = logged(container, start + ZERO_CELSIUS, hours, (seed, seed + len(runs)), generator)
            date = f"2026-05-{1 + number // 2:02d} {9 + number % 2:02d}:00"
            contents = "tea" if start > 50.0 else "water"
            runs.append(f"{run},{container.name},{date},wireless,{contents},{fill:.0f},{start:g},{room:.1f},soaked")
            readings += [f"{run},{time:g},{shown:g}" for time, shown in rows]
    for file, lines in (("bench.toml", bench), ("runs.csv", runs), ("readings.csv", readings)):
        (folder / file).write_text("\n".join(lines) + "\n", encoding="utf-8")


def another(starter: str, number: int, generator: np.random.Generator) -> Container:
    """Return a starter design with other sizes, a name and a title; sizes that make no container are drawn again."""
    document = tomllib.loads(catalogue_path(starter).read_text(encoding="utf-8"))
    place = PLACES[number % len(PLACES)]
    named = {
        "name": f"{starter}_{place}_{number + 1}",
        "title": f"{starter} of the {place} ({number + 1})".replace("_", " "),
    }
    while True:
        changed = {
            path: f"{float(value.split()[0]) * generator.uniform(*SIZES[path]):.1f} mm"
            for path in SIZES
            if (value := _at(document, path)) is not None
        }
        try:
            return with_overrides(load_container(starter), named | changed)
        except InputError:
            continue


def _at(document: Any, path: str) -> str | None:
    for key in path.split("."):
        document = document.get(key, {})
    return document or None


def logged(
    container: Container, start: float, hours: float, seeds: tuple[int, int], generator: np.random.Generator
) -> tuple[float, float, list[tuple[float, float]]]:
    """Return fill [mL], room [C] and readings [min, C] of a piece of a container, every 10 minutes.

    The first seed is the bench's, so that the piece is the same in each of its runs; the second is the run's.
    """
    room = float(generator.uniform(18.0, 23.0))
    scenario = Scenario(start=start, room=room + ZERO_CELSIUS)
    piece, run = (draw_sample(container, scenario, 2, seed, own=container.name).standard_normals for seed in seeds)
    drawn = {name: prior.values((run if prior.scope is Scope.RUN else piece)[name]) for name, prior in PRIORS.items()}
    lanes = perturbed_runs(container, scenario, drawn, 3)
    end = hours * 60.0 * MINUTE
    found = follow(lanes, [np.nan], horizon=np.full(3, end), record=True, stepper=PlainStepper)
    times = np.arange(MINUTE, end, 10.0 * MINUTE)
    celsius = found.temperature(1, times) - ZERO_CELSIUS + 0.12 * generator.standard_normal(len(times))
    fill = 1e6 * float(np.asarray(filled_volume(container, scenario)))
    return fill, room, list(zip((times / MINUTE).tolist(), (0.5 * np.round(2.0 * celsius)).tolist(), strict=True))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    parser.add_argument("--containers", type=int, default=40)
    asked = parser.parse_args()
    asked.folder.mkdir()
    write_large_bench(asked.folder, asked.containers)


if __name__ == "__main__":
    main()
