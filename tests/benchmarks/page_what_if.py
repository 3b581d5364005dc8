"""The what-if panel against the engine: hold times and ends of ranges, in random conditions that the panel allows.

Wanted: best guesses within 1 % or 1 min, ends of ranges within 3 %. Usage:

    python -m tests.benchmarks.page_what_if --states 1000 --opened 100
"""

import argparse
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from geometries.design_file import load_container
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.demo import write_demo
from thermal_model.judge.compare import Entry
from thermal_model.judge.what_if.grids import Grids
from thermal_model.judge.what_if.model import PERIODS, SHORT, Misses, misses, random_states, rounded
from thermal_model.judge.what_if.reduced import AskedState
from thermal_model.judge.what_if.runs import DrawnContainer
from thermal_model.judge.what_if.side import COLD, HOT, Side
from thermal_model.judge.what_if.tables import make_tables
from thermal_model.report.page.knowledge import known_of
from thermal_model.scenario import Scenario


def entries(designs: list[str]) -> list[Entry]:
    """Designs as they are described, or the calibrated containers of the demo bench."""
    if designs:
        return [Entry(name, load_container(name)) for name in designs]
    with TemporaryDirectory() as folder:
        bench = Path(folder) / "galley_bench"
        bench.mkdir()
        write_demo(bench, 1)
        return list(known_of(read_bench(bench)).entries)


def held_to_the_engine(
    side: Side, entry: Entry, closed: int, opened: int, draws: int, seed: int
) -> tuple[Misses | None, Misses | None, float, int]:
    """Misses with the lid on and now and then off, the time it took to make the tables [s], and their runs."""
    grids, generator = Grids.of(side), np.random.default_rng([seed, *entry.name.encode(), *side.name.encode()])
    began = time.monotonic()
    drawn = DrawnContainer.of(entry, side, Scenario(), draws, 1)
    tables = rounded(make_tables(drawn, grids))
    took = time.monotonic() - began
    shut = random_states(side, closed, generator)
    open_ = [
        AskedState(s.start, s.room, s.limit, share=s.share, every=float(generator.choice(PERIODS)))
        for s in random_states(side, opened, generator)
    ]
    both = [misses(drawn, grids, tables, states) if states else None for states in (shut, open_)]
    return both[0], both[1], took, tables.runs


def told(name: str, found: Misses) -> None:
    """Print how far off, and what share is beyond what is wanted."""
    known = np.isfinite(found.best) & np.isfinite(found.best_engine)
    relative, seconds = found.best_relative[known], found.best_seconds[known]
    beyond = (relative > 0.01) & (seconds > 60.0)
    ends = found.ends_relative
    late = np.abs(found.ends - found.ends_engine)
    is_end, is_short = np.isfinite(ends), found.ends_engine < SHORT
    over = ends[is_end] > 0.03
    short = over & (late[is_end] < 60.0)
    latest = found.ends_engine[is_end][over].max(initial=0.0)
    print(
        f"{name:34s} {len(known):5d} states, {int((~known).sum())} not answered; best guess: median "
        f"{100 * np.median(relative):.3f} %, worst {100 * relative.max():.2f} %, beyond 1 % and 1 min "
        f"{100 * beyond.mean():.2f} %; ends: median {100 * np.median(ends[is_end]):.3f} %, 99th of 100 "
        f"{100 * np.quantile(ends[is_end], 0.99):.2f} %, worst {100 * ends[is_end].max():.1f} %, beyond 3 % "
        f"{100 * over.mean():.2f} % (of these {100 * short.mean():.2f} % by less than 1 min; the latest after "
        f"{latest:.0f} s), infinite "
        f"{int((~is_end).sum())}; after {SHORT / 60:.0f} min beyond 3 % {int((over & ~is_short[is_end]).sum())}, "
        f"before (marked on the page) beyond a minute {int((late[is_end & is_short] > 60.0).sum())} of "
        f"{int(is_short.sum())}",
        flush=True,
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--states", type=int, default=1000, help="with the lid on, over all containers and both sides")
    parser.add_argument("--opened", type=int, default=100, help="with the lid off now and then")
    parser.add_argument("--draws", type=int, default=100)
    parser.add_argument("--seed", type=int, default=2)
    parser.add_argument("--designs", nargs="*", default=[], help="starter designs instead of the calibrated demo bench")
    asked = parser.parse_args()
    listed = entries(asked.designs)
    parts = 2 * len(listed)
    everything: dict[str, list[Misses]] = {"lid on": [], "lid off now and then": []}
    spent, runs = 0.0, 0
    for side in (HOT, COLD):
        for entry in listed:
            shut, open_, took, count = held_to_the_engine(
                side, entry, -(-asked.states // parts), -(-asked.opened // parts), asked.draws, asked.seed
            )
            spent, runs = spent + took, runs + count
            for (name, kept), found in zip(everything.items(), (shut, open_), strict=True):
                if found is not None:
                    told(f"{side.name}, {entry.name[:20]}, {name[:8]}", found)
                    kept.append(found)
    for name, kept in everything.items():
        if kept:
            whole = kept[0]
            for found in kept[1:]:
                whole = whole.joined(found)
            told(f"ALL, {name}", whole)
    print(f"tables: {spent / parts:.1f} s and {runs / parts:.0f} runs for a container and side")


if __name__ == "__main__":
    main()
