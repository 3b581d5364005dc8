"""What the galley of the demo bench plans: its thermometers, containers and runs, as they are written down."""

from dataclasses import dataclass
from datetime import datetime

FILL_SPREAD, POUR_SPREAD, ROOM_SPREAD, TIME_SPREAD = 0.015, 0.4, 0.5, 10.0
"""Standard deviations of what is written down against what was: [-, K, K, s]."""


@dataclass(frozen=True)
class DemoProbe:
    """A thermometer and how wrong it is. [K]"""

    name: str
    resolution: float
    bias: float
    noise: float
    note: str


PROBES = (
    DemoProbe("wireless", 0.5, 0.7, 0.12, "stays inside under the lid and sends a reading every 5 minutes"),
    DemoProbe("pen", 0.1, -0.4, 0.12, "read by hand"),
)

CONTAINERS = ("slim_neck_double_seal", "single_seal_plug", "wide_mouth_disc", "stoneware_cup")


@dataclass(frozen=True)
class DemoRun:
    """A run as planned.

    Attributes
    ----------
    name, container, probe : str
    day : int
        After the first.
    kind : str
        How it is watched: "log", "looks", "video", "brackets" or "ends".
    hours : float
        How long.
    fill : float
        [mL]
    poured, room : float
        [C]
    contents : str
    mishap : str
        "", "lid not seated", "probe touching the wall" or "container not soaked".
    """

    name: str
    container: str
    probe: str
    day: int
    kind: str
    hours: float = 8.0
    fill: float = 500.0
    poured: float = 92.0
    room: float = 20.5
    contents: str = "tea"
    mishap: str = ""


SLIM, PLUG, WIDE, CUP = CONTAINERS
RUNS = (
    DemoRun("slim-1", SLIM, "wireless", 0, "log"),
    DemoRun("plug-1", PLUG, "pen", 0, "looks", hours=7.0),
    DemoRun("wide-1", WIDE, "wireless", 0, "log", hours=5.0),
    DemoRun("slim-2", SLIM, "pen", 1, "looks", poured=91.0, room=21.5),
    DemoRun("plug-2", PLUG, "wireless", 1, "log", hours=7.0, room=21.5),
    DemoRun("wide-2", WIDE, "wireless", 1, "log", hours=5.0, poured=93.0, room=21.5),
    DemoRun("slim-3", SLIM, "wireless", 2, "log", room=19.5),
    DemoRun("plug-3", PLUG, "wireless", 2, "log", hours=7.0, poured=91.5, room=19.5),
    DemoRun("wide-3", WIDE, "wireless", 2, "log", hours=5.0, room=19.5),
    DemoRun("slim-4", SLIM, "wireless", 3, "log", room=20.0, mishap="lid not seated"),
    DemoRun("plug-4", PLUG, "wireless", 3, "log", hours=7.0, room=20.0, mishap="probe touching the wall"),
    DemoRun("wide-4", WIDE, "wireless", 3, "log", hours=5.0, room=20.0, mishap="container not soaked"),
    DemoRun("slim-5", SLIM, "pen", 4, "video", room=20.0, poured=90.5),
    DemoRun("plug-5", PLUG, "pen", 4, "brackets", hours=7.0, room=20.0),
    DemoRun("wide-5", WIDE, "pen", 4, "ends", hours=4.0, room=20.0, contents="broth"),
    DemoRun("slim-iced", SLIM, "wireless", 5, "log", hours=10.0, poured=4.0, room=22.0, contents="water"),
    DemoRun("cup-1", CUP, "pen", 5, "looks", hours=1.5, fill=220.0, room=22.0, poured=88.0),
)

FIRST_DAY = datetime(2026, 4, 20, 9, 0)

SIDE_BY_SIDE = (
    ("pen", "ice_water", 0.0),
    ("wireless", "pen", 58.0),
    ("wireless", "pen", 71.0),
    ("pen", "ice_water", 0.0),
)
"""Checks of the thermometers: two names, and the true temperature of the bath. [C]"""


def bench_text() -> str:
    """Return the demo's `bench.toml`."""
    lines = [
        "# The galley of a coastal ferry tries containers for the night watch. Invented; the truth is in truth.json.",
        'name = "galley_bench"',
        "",
        "[spreads]  # standard deviations, unless a row says otherwise",
        f'poured_at = "{POUR_SPREAD} C"',
        f'room = "{ROOM_SPREAD} C"',
        f'fill = "{100.0 * FILL_SPREAD:g} %"',
        f'time = "{TIME_SPREAD:g} s"',
        'video_step = "15 s"',
    ]
    for probe in PROBES:
        lines += [
            "",
            f"[probes.{probe.name}]",
            f'resolution = "{probe.resolution} C"',
            'offset_spread = "0.8 C"  # nobody has checked it',
            f'noise = "{probe.noise} C"',
            f'note = "{probe.note}"',
        ]
    for name in CONTAINERS:
        lines += ["", f"[containers.{name}]", f'design = "{name}"']
    return "\n".join(lines) + "\n"
