"""Small bench folders, written as a tester would."""

from pathlib import Path

BENCH = """
name = "galley"
[spreads]
poured_at = "0.5 C"
room = "1 C"
fill = "2 %"
time = "10 s"
video_step = "5 s"
[probes.pen]
resolution = "0.1 C"
offset_spread = "0.5 C"
noise = "0.1 C"
[probes.wireless]
resolution = "0.5 C"
offset_spread = "0.5 C"
noise = "0.1 C"
[containers.flask]
design = "slim_neck_double_seal"
[containers.cup]
design = "stoneware_cup"
"""

RUNS = """run,container,date,probe,contents,fill [mL],poured at [C],room [C],walls,note
r1,flask,2026-04-20 09:00,pen,tea,500,92,20,soaked,first
r2,flask,2026-04-21 09:00,wireless,tea,500,92,21,soaked,
"""

READINGS = """run,time [min],temperature [C]
r1,0,89.8
r1,60,86.1
r1,120,83.0
r2,2,90.0
r2,480,59.5
"""


def bench_folder(folder: Path, **files: str) -> Path:
    """Write a folder; keywords replace or add files: runs, readings, passings, room, probe_checks, bench."""
    texts = {"bench": BENCH, "runs": RUNS, "readings": READINGS} | files
    for name, text in texts.items():
        path = folder / ("bench.toml" if name == "bench" else f"{name}.csv")
        path.write_bytes(text.encode("utf-8"))
    return folder


def cooling_rows(run: str, times: list[float], start: float, room: float, hours: float) -> list[str]:
    """Rows of an exponential cooling curve with one time constant; times in minutes."""
    from math import exp

    return [f"{run},{time:g},{room + (start - room) * exp(-time / 60.0 / hours):.1f}" for time in times]
