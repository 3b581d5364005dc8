"""The page's server killed with -9 at random moments, while taps come in and while answers are typed: nothing is lost.

    python -m tests.benchmarks.workbench_kills [--kills 20] [--seed 1]

Allowed: no tap missing that the server said was on disk, none twice, no row that can't be read, no half file, no draft
without the last answer that the page was told of; 0 in all. A tap that was on its way when the server died may be there
or not: the browser sends it again, here it is sent again too, and counted once.
"""

import argparse
import json
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import httpx2

from geometries.questions import design_text
from thermal_model.bench.columns import File
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.write.new_bench import make_bench
from thermal_model.bench.write.rows import rows_of

ENTER = "from thermal_model.cli.main import run; run()"
LONGEST = 1.5
"""Until a kill, after the server answers. [s]"""


def main() -> None:
    """Print how many taps and typed answers were kept, and how many were lost."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "kitchen"
        folder.mkdir()
        answers = {"mouth": "46 mm", "outside": "76 mm", "capacity": "500 mL"}
        (folder / "slim.toml").write_text(design_text(answers, "slim"), encoding="utf-8")
        make_bench(folder / "galley", {"slim": "../slim.toml"}, {"pen": {"resolution": "0.1 C"}})
        taps_lost = taps_under_kills(folder, asked.kills, chance)
        drafts_lost = drafts_under_kills(folder, asked.kills, chance)
    sys.exit(bool(taps_lost or drafts_lost))


def taps_under_kills(folder: Path, kills: int, chance: random.Random) -> int:
    """Tap, a run a kill, and return how many taps are lost, twice there or not read."""
    kept: list[str] = []
    pending: list[dict[str, str]] = []
    for number in range(kills):
        run = f"tea_{number}"

        def tap(client: httpx2.Client, run: str = run) -> None:
            if not pending:
                count = len(kept)
                at, shown = time.time() + 40.0 * count, 91.0 - 0.002 * count
                pending.append({"look": "reading", "at": f"{at:.1f}", "temperature": f"{shown:.3f} C"})
            posted(client, f"/benches/galley/runs/{run}/tap", pending[0])
            kept.append(pending.pop()["temperature"])

        def begin(client: httpx2.Client, run: str = run) -> None:
            start = {"run": run, "container": "slim", "probe": "pen", "poured_at": "92 C", "room": "20 C"}
            client.post("/benches/galley/runs", data=start)

        until_killed(folder, chance.uniform(0.0, LONGEST), begin, tap)
    found = [row["temperature"] for _, row in rows_of(folder / "galley" / File.READINGS)]
    lost, twice = len([tap for tap in kept if tap not in found]), len(found) - len(set(found))
    rows = sum(len(run.readings) for run in read_bench(folder / "galley").runs)
    parts = [path.name for path in (folder / "galley").iterdir() if path.suffix == ".part"]
    print(f"{kills} kills, {len(kept)} taps told as kept, {len(found)} in the file, {rows} read")
    print(f"lost {lost}, twice {twice}, unread {len(found) - rows}, half files left {len(parts)} (allowed 0 each)")
    return lost + twice + abs(len(found) - rows)


def drafts_under_kills(folder: Path, kills: int, chance: random.Random) -> int:
    """Type answers, a draft a kill, and return how many drafts lack the last answer that was told, or are damaged."""
    told, lost = 0, 0
    for number in range(kills):
        draft, mouths = f"unsaved_{number:08x}", [""]

        def type_one(client: httpx2.Client, draft: str = draft, mouths: list[str] = mouths) -> None:
            mouth = f"{30.0 + 0.01 * len(mouths):.2f} mm"
            asked = {"draft": draft, "changed": "1", "window": "w", "digest": "", "number": str(len(mouths))}
            mouths.append(mouth)
            posted(client, "/follow/best", {"mouth": mouth, "outside": "76 mm", **asked})

        until_killed(folder, chance.uniform(0.0, LONGEST), type_one, type_one)
        sent = mouths[1:]  # the last one was on its way
        told += max(len(sent) - 1, 0)
        if len(sent) > 1:
            try:
                answers = json.loads((folder / f"{draft}.draft.json").read_text(encoding="utf-8"))["answers"]
            except (OSError, ValueError):
                answers = {}
            lost += answers.get("mouth") not in sent[-2:]
    print(f"{kills} kills, {told} typed answers told as kept; drafts without the last one {lost} (allowed 0)")
    return lost


def posted(client: httpx2.Client, path: str, data: dict[str, str]) -> None:
    """Post, and stop everything if that is refused."""
    answer = client.post(path, data=data)
    if answer.status_code != 200:
        raise SystemExit(f"refused: {answer.text[:300]}")


def until_killed(
    folder: Path, delay: float, begin: Callable[[httpx2.Client], None], act: Callable[[httpx2.Client], None]
) -> None:
    """Start the server, and act again and again until it is killed."""
    command = [sys.executable, "-c", ENTER, "open", str(folder), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    link = next(m.group() for line in process.stdout if (m := re.search(r"http://\S+", line)))
    base = link.partition("/enter")[0]
    killer = threading.Timer(delay, lambda: os.kill(process.pid, signal.SIGKILL))
    headers = {"origin": base, "accept": "application/json"}
    with httpx2.Client(base_url=base, headers=headers, trust_env=False) as client:
        client.get(link)
        begin(client)
        killer.start()
        try:
            while True:
                act(client)
        except httpx2.TransportError:
            pass
    killer.join()
    process.wait()
    process.stdout.close()


if __name__ == "__main__":
    main()
