"""The page's server killed with -9 at random moments while taps come in: nothing told as kept is lost.

    python -m tests.benchmarks.workbench_kills [--kills 20] [--seed 1]

Allowed: no tap missing that the server said was on disk, none twice, no row that can't be read, no half file; 0 in all.
A tap that was on its way when the server died may be there or not: the browser sends it again, here it is sent again
too, and counted once.
"""

import argparse
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import httpx2

from geometries.questions import design_text
from thermal_model.bench.columns import File
from thermal_model.bench.read.folder import read_bench
from thermal_model.bench.read.thinning import MOST_READINGS
from thermal_model.bench.write.new_bench import make_bench
from thermal_model.bench.write.rows import rows_of

ENTER = "from thermal_model.cli.main import run; run()"
WHERE = "/benches/galley/runs/tea"
LONGEST = 1.5
"""Until a kill, after the first tap was kept. [s]"""

MOST_TAPS = MOST_READINGS - 20
"""After which no session begins: of a longer run only some readings are used, as of any log."""


def main() -> None:
    """Print how many taps were kept, and how many were lost."""
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
        kept: list[str] = []
        pending: list[dict[str, str]] = []
        for number in range(asked.kills):
            session(folder, chance.uniform(0.0, LONGEST), kept, pending, is_first=number == 0)
            if len(kept) > MOST_TAPS:
                break
        kills = number + 1
        found = [row["temperature"] for _, row in rows_of(folder / "galley" / File.READINGS)]
        lost = [tap for tap in kept if tap not in found]
        twice = len(found) - len(set(found))
        rows = len(read_bench(folder / "galley").runs[0].readings)
        parts = [path.name for path in (folder / "galley").iterdir() if path.suffix == ".part"]
    print(f"{kills} kills, {len(kept)} taps told as kept, {len(found)} in the file, {rows} read")
    print(f"lost {len(lost)}, twice {twice}, unread {len(found) - rows}, half files left {len(parts)} (allowed 0 each)")
    sys.exit(bool(lost or twice or len(found) != rows))


def session(folder: Path, delay: float, kept: list[str], pending: list[dict[str, str]], *, is_first: bool) -> None:
    """Start the server, tap until it is killed, and note what it said was kept."""
    command = [sys.executable, "-c", ENTER, "open", str(folder), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    link = next(m.group() for line in process.stdout if (m := re.search(r"http://\S+", line)))
    base = link.partition("/enter")[0]
    killer = threading.Timer(delay, lambda: os.kill(process.pid, signal.SIGKILL))
    headers = {"origin": base, "accept": "application/json"}
    with httpx2.Client(base_url=base, headers=headers, trust_env=False) as client:
        client.get(link)
        if is_first:
            run = {"run": "tea", "container": "slim", "probe": "pen", "poured_at": "92 C", "room": "20 C"}
            client.post("/benches/galley/runs", data=run)
        killer.start()
        try:
            while len(kept) < MOST_READINGS:
                if not pending:
                    count = len(kept)
                    at, shown = time.time() + 40.0 * count, 91.0 - 0.002 * count
                    pending.append({"look": "reading", "at": f"{at:.1f}", "temperature": f"{shown:.3f} C"})
                answer = client.post(f"{WHERE}/tap", data=pending[0])
                if answer.status_code != 200:
                    raise SystemExit(f"refused: {answer.text[:300]}")
                kept.append(pending.pop()["temperature"])
        except httpx2.TransportError:
            pass
    killer.join()
    process.wait()
    process.stdout.close()


if __name__ == "__main__":
    main()
