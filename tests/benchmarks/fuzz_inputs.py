"""Damaged inputs: how many of many end in anything but a result or plain lines, and how each of those did.

    python -m tests.benchmarks.fuzz_inputs --cases 100000 --seed 0

Valid files and command lines are damaged where it hurts: a value, a key, a cell, a line, a unit, a byte. Most cases go
to the readers of files, one in `--command-share` to the command itself. Allowed: nothing on the list of failures.
"""

import argparse
import json
import random
import re
import signal
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import chdir, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from geometries.design_file import catalogue_path, load_container
from geometries.errors import InputError
from geometries.files import read_text
from tests.cli.calibration_files import calibration
from tests.thermal_model.bench.folders import bench_folder
from thermal_model.api.records import from_json
from thermal_model.bench.calibration.calibration_file import read_calibration
from thermal_model.bench.read.folder import read_bench
from thermal_model.cli import progress
from thermal_model.cli.contract import MOST_PROBLEMS
from thermal_model.cli.main import app
from thermal_model.cli.scenario_options import ScenarioOptions, read_scenario
from thermal_model.judge.scenario_library import load_carry_scenario
from thermal_model.room_file import read_room_file

LONGEST = 5.0
"""Processor time that a case may take without telling how far it is. [s]"""

MOST = 60.0
"""Processor time after which a case that does tell is left alone. [s]"""

NASTY = [
    "", " ", "0", "-0", "-1", "0.0", "1", "1e308", "-1e308", "1e-320", "1e400", "nan", "inf", "-inf", "9" * 400,
    "9" * 10_000, "1" + "0" * 5000 + ".5", "1/0", "0/0", "1e308 min", "1e308 mm", "1e-300 mm", "0 mm", "-5 mm", "5e3 m",
    "1e300 mL", "500 mL", "20 C", "-300 C", "1e9 C", "0 K", "1e308 K", "1e308 d", "200 F", "1,5 mm", "1.2.3", "0x10",
    "1_000", "true", "[]", "{}", "[[]]", "[" * 5000, "{a=" * 500, "[1" + "]" * 3, "9999-12-31", "10000-01-01",
    "0000-00-00", "2026-02-30", "9999-12-31 23:59", "24:61", "99:99:99", "1e9 h", "a" * 305, "x" * 5000, "\x1b[2J",
    "\r", "\n", "\t", "\0", "=1+1", "@SUM(A1)", "+1", "-x", "\u202e", "\ud7ff", "é", "°", "µ", "'", '"', '"""', "\\",
    "\\u0000", "%s", "{0}", "../..", ".", "/", "~", "#", ";", ",", "|", "a.b", "a" + ".a" * 3000, "lid.layers.9",
    "1e5 W/(m2 K)", "0.5", "1.0000001", "2", "W/m2", "min", "5 kg**kg", "5 (((((m", "5 m**999", "at 2h for 20s", "x=1",
]  # fmt: skip
BYTES = [b"\xff", b"\x00", b"\xef\xbb\xbf", b"\x80", b"\x1b", b"\r", b"\xc3\x28", b"\n\n", b'"', b"[", b"="]
_TOKEN = re.compile(r'"[^"\n]*"|[\w.+-]+|[^\s\w]')


LONGEST_TEXT = 5_000_000
"""Most characters that one line grows to."""


class TookTooLongError(BaseException):
    """A case that took more processor time than it may, as nothing between here and there catches."""


class StillComputingError(BaseException):
    """A case that goes on computing, and tells so."""


def damaged(text: str, draw: random.Random) -> bytes:
    """A text, damaged in one to three places."""
    for _ in range(draw.choice((1, 1, 1, 2, 3))):
        text = draw.choice(_DAMAGES)(text, draw)
    data = text.encode("utf-8", "surrogatepass")
    if draw.random() < 0.1:
        place = draw.randrange(len(data) + 1)
        data = data[:place] + draw.choice(BYTES) + data[place + draw.randrange(2) :]
    return data


def _token(text: str, draw: random.Random) -> str:
    tokens = [*_TOKEN.finditer(text)]
    if not tokens:
        return draw.choice(NASTY)
    token, new = draw.choice(tokens), draw.choice(NASTY)
    if token.group().startswith('"') and draw.random() < 0.7:
        new = json.dumps(new)
    return text[: token.start()] + new + text[token.end() :]


def _line(text: str, draw: random.Random) -> str:
    lines = text.splitlines() or [""]
    place, other = draw.randrange(len(lines)), draw.randrange(len(lines))
    kind = draw.randrange(5)
    if kind == 0:
        del lines[place]
    elif kind == 1:
        lines.insert(other, lines[place])
    elif kind == 2:
        lines[place], lines[other] = lines[other], lines[place]
    elif kind == 3:
        lines.insert(place, draw.choice(NASTY))
    else:
        lines = lines[:place]
    return "\n".join(lines) + "\n"


def _character(text: str, draw: random.Random) -> str:
    place = draw.randrange(len(text) + 1)
    return text[:place] + draw.choice(["", *'"[]{}=,.;-#\\ \t\n0e']) + text[place + draw.randrange(3) :]


def _many(text: str, draw: random.Random) -> str:
    lines = text.splitlines(keepends=True) or [""]
    place, times = draw.randrange(len(lines)), draw.choice((2, 50, 500))
    if len(lines[place]) * times > LONGEST_TEXT:  # a file in one long line, three times over, fills the memory
        times = 2
    return "".join([*lines[:place], lines[place] * times, *lines[place + 1 :]])


def _swapped(text: str, draw: random.Random) -> str:
    tokens = [*_TOKEN.finditer(text)]
    if len(tokens) < 2:
        return text
    first, second = sorted(draw.sample(tokens, 2), key=lambda token: token.start())
    middle = text[first.end() : second.start()]
    return text[: first.start()] + second.group() + middle + first.group() + text[second.end() :]


_DAMAGES = (_token, _token, _token, _token, _line, _character, _swapped, _many)


@dataclass(frozen=True)
class Reader:
    """A reader of files.

    Attributes
    ----------
    name : str
    files : dict of str to str
        Valid ones, by name.
    read : callable
    """

    name: str
    files: dict[str, str]
    read: Callable[[], Any]


def readers(folder: Path) -> list[Reader]:
    """Readers of every kind of file, on valid files in a folder."""
    designs = ("slim_neck_double_seal", "foam_jug", "glass_refill_flask", "handled_tumbler_straw", "honeycomb_insert")
    found = []
    for design in designs:
        text = catalogue_path(design).read_text(encoding="utf-8")
        found.append(Reader(f"design {design}", {"design.toml": text}, lambda: load_container("design.toml")))
    for scenario in ("night_watch_sips", "iced_water_at_the_helm"):
        import thermal_model

        text = (Path(thermal_model.__path__[0]) / "scenarios" / f"{scenario}.toml").read_text(encoding="utf-8")
        found.append(Reader(f"carry {scenario}", {"carry.toml": text}, lambda: load_carry_scenario("carry.toml")))
    plain = 'contents = "tea"\nstart = "92 C"\nfill = "400 mL"\nroom = "14 C"\nice = "0 g"\n'
    plain += '[[openings]]\nat = "30 min"\nevery = "30 min"\nduration = "15 s"\npour = "25 mL"\n[pins]\n'
    plain += 'exterior_film = "10 W/m2K"\n'
    found.append(
        Reader("scenario", {"scenario.toml": plain}, lambda: read_scenario(ScenarioOptions(file=Path("scenario.toml"))))
    )
    room = "time [min],temperature [C]\n0,20\n100,21.5\n200,22\n"
    found.append(Reader("room", {"room.csv": room}, lambda: read_room_file(Path("room.csv"), False)))
    known = calibration(folder / "known.json", slim_neck_double_seal={})
    found.append(Reader("calibration", {"known.json": known.read_text()}, lambda: read_calibration(Path("known.json"))))
    from thermal_model.api.records import to_json
    from thermal_model.scenario import Scenario

    record = {"record.json": to_json(Scenario())}
    found.append(Reader("record", record, lambda: from_json(read_text(Path("record.json")))))
    return [*found, Reader("bench", _bench_files(folder), lambda: read_bench(Path("bench")))]


def _bench_files(folder: Path) -> dict[str, str]:
    (folder / "bench").mkdir(exist_ok=True)
    bench_folder(
        folder / "bench",
        passings="run,mark [C],passed at [min]\nr1,80,180\n",
        room="run,time [min],room [C]\nr1,0,20\nr1,180,21\n",
        probe_checks="first probe,first temperature [C],second probe,second temperature [C]\npen,60.2,wireless,60.5\n",
    )
    return {f"bench/{path.name}": path.read_text(encoding="utf-8") for path in (folder / "bench").iterdir()}


LINES: list[list[str]] = [
    ["predict", "design.toml", "--no-interval", "--fill", "400 mL", "--until", "60C", "--room", "20 C"],
    ["predict", "design.toml", "--no-interval", "--scenario", "scenario.toml", "--until", "50C"],
    ["predict", "design.toml", "--no-interval", "--room-file", "room.csv", "--open", "at 1h for 20s pour 50mL"],
    [
        "predict",
        "design.toml",
        "--no-interval",
        "--set",
        "body.neck.mouth_diameter=45 mm",
        "--pin",
        "gap_conductance=1",
    ],
    ["predict", "design.toml", "--draws", "5", "--calibration", "known.json", "--preheat", "5 min at 95 C"],
    ["predict", "design.toml", "--no-interval", "--ice", "100g", "--start", "4C", "--until", "10C", "--json"],
    ["carry", "design.toml", "--no-interval", "--to", "carry.toml"],
    ["check", "design.toml", "--claim", "hot for 6 h", "--above", "60C", "--draws", "5"],
    ["compare", "design.toml", "thin_disc_lid", "--no-interval", "--no-cold", "--until", "60C"],
    ["explain", "design.toml", "--against-fill", "half", "--no-interval"],
    ["bench", "check", "bench"],
    ["bench", "reduce", "bench", "--json"],
    ["bench", "new", "fresh"],
    ["plan", "soak", "design.toml"],
    ["plan", "run", "design.toml", "--fill", "400 mL", "--until", "60C"],
    ["plan", "repeats", "--difference", "5%", "--repeatability", "3%"],
    ["plan", "schedule", "--count", "4", "--probes", "2", "--per-day", "4"],
    ["designs", "show", "design.toml", "--json"],
    ["designs", "copy", "single_seal_plug", "copied.toml"],
    ["sweep", "design.toml", "--vary", "body.neck.mouth_diameter=35..40 mm:2", "--until", "60C"],
    ["unknowns", "--json"],
]
"""Valid command lines; words of them are damaged, or a file that they read."""


def damaged_line(words: list[str], draw: random.Random) -> list[str]:
    """A command line with words damaged, dropped, doubled, or a foreign option added."""
    words = [*words]
    for _ in range(draw.choice((1, 1, 2))):
        place, kind = draw.randrange(1, len(words)), draw.randrange(8)
        if kind < 3:
            words[place] = draw.choice(NASTY)
        elif kind < 5:
            words[place] = damaged(words[place], draw).decode("utf-8", "surrogateescape")
        elif kind == 5 and len(words) > 2:
            del words[place]
        elif kind == 6:
            words.insert(place, words[place])
        else:
            words += draw.choice(_FOREIGN)
            words[-1] = draw.choice([words[-1], *NASTY])
    return [word.replace("\0", "\ufffd") for word in words]  # the system passes no zero byte on


_FOREIGN = [
    ["--output", "design.toml"], ["--csv", "room.csv"], ["--plot", "design.toml"], ["--output", "out.json"],
    ["--until", "60C"], ["--fill", "400 mL"], ["--draws", "3"], ["--seed", "1"], ["--set", "body.gap.width=3 mm"],
    ["--wind", "3 m/s"], ["--humidity", "50 %"], ["--sunlight", "800 W/m2"], ["--stands-on", "steel"],
]  # fmt: skip


@dataclass
class Tally:
    """What became of the cases.

    Attributes
    ----------
    ends : Counter
        Cases by how they ended.
    failures : list of str
    """

    ends: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)

    def fail(self, what: str, case: str) -> None:
        """Note a case that ended as none may."""
        self.ends["failed"] += 1
        self.failures.append(f"{what}\n    {case[:300]}")


@contextmanager
def limited_time(seconds: float) -> Iterator[None]:
    """Stop what takes longer than it may, by processor time; what tells its progress gets as much again each time."""
    started = time.process_time()

    def stop(*_: Any) -> None:
        raise TookTooLongError

    def told(share: float) -> None:
        if time.process_time() - started > MOST:
            raise StillComputingError
        signal.setitimer(signal.ITIMER_VIRTUAL, seconds)

    before, told_before = signal.signal(signal.SIGVTALRM, stop), progress._told_to_nobody
    progress._told_to_nobody = told
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)
        signal.signal(signal.SIGVTALRM, before)
        progress._told_to_nobody = told_before


def try_reader(reader: Reader, draw: random.Random, tally: Tally) -> None:
    """Damage one file of a reader and read it."""
    name = draw.choice([*reader.files])
    data = damaged(reader.files[name], draw)
    Path(name).write_bytes(data)
    try:
        with limited_time(LONGEST):
            reader.read()
        tally.ends["read"] += 1
    except InputError as error:
        tally.ends["refused"] += 1
        _check_lines([str(problem) for problem in error.problems], f"{reader.name} {data[:200]!r}", tally)
    except TookTooLongError:
        tally.fail(f"{reader.name}: more than {LONGEST:g} s", repr(data))
    except Exception as error:
        where = traceback.extract_tb(error.__traceback__)[-1]
        tally.fail(
            f"{reader.name}: {type(error).__name__} at {where.filename}:{where.lineno}: {error}"[:300], repr(data)
        )
    if Path(name).read_bytes() != data:
        tally.fail(f"{reader.name}: changed its file", repr(data))
    Path(name).write_text(reader.files[name], encoding="utf-8")


def _check_lines(lines: list[str], case: str, tally: Tally) -> None:
    if any(not line.isprintable() for line in lines):
        tally.fail("a message has control characters", case)


def try_command(folder: Path, kept: dict[str, bytes], draw: random.Random, tally: Tally) -> None:
    """Damage a command line, or a file it reads, and run it."""
    words = draw.choice(LINES)
    if draw.random() < 0.3:
        names = [name for name in kept if any(name.split("/")[0] == word for word in words)]
        if names:
            name = draw.choice(names)
            (folder / name).write_bytes(damaged(kept[name].decode(), draw))
    else:
        words = damaged_line(words, draw)
    before = _files(folder)
    try:
        with limited_time(LONGEST):
            result = CliRunner().invoke(app, words, prog_name="holdtime")
        _judge(result, words, tally)
    except TookTooLongError:
        tally.fail(f"command: more than {LONGEST:g} s in silence", repr(words))
    except StillComputingError:
        tally.ends["computed on, and told so"] += 1
    after = _files(folder)
    changed = [name for name, data in before.items() if after.get(name) != data]
    if changed:
        tally.fail(f"changed {changed}", repr(words))
    for name in set(after) - set(kept):
        (folder / name).unlink()
    for name, data in kept.items():
        if after.get(name) != data:
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_bytes(data)


def _judge(result: Any, words: list[str], tally: Tally) -> None:
    if result.exit_code == 0:
        tally.ends["done"] += 1
    elif result.exit_code == 2:
        tally.ends["refused by the command"] += 1
        lines = result.stderr.splitlines()
        _check_lines(lines, repr(words), tally)
        if not 1 <= len(lines) <= MOST_PROBLEMS or not all(line.startswith("holdtime: ") for line in lines):
            tally.fail(f"{len(lines)} lines, the first: {lines[:1]}", repr(words))
    else:
        tally.fail(f"exit {result.exit_code}: {result.stderr[-300:]}", repr(words))


def _files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def fuzz(cases: int, seed: int, command_share: int) -> Tally:
    """Try cases and return what became of them."""
    draw, tally = random.Random(seed), Tally()
    with tempfile.TemporaryDirectory() as name, chdir(name), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        folder = Path(name)
        every = readers(folder)
        for reader in every:
            for path, text in reader.files.items():
                (folder / path).write_text(text, encoding="utf-8")
            reader.read()
        kept = _files(folder)
        if command_share:  # before the clock runs: a compiled solver that is kept is loaded once
            CliRunner().invoke(app, ["predict", "design.toml"], prog_name="holdtime")
        for number in range(cases):
            if command_share and number % command_share == 0:
                try_command(folder, kept, draw, tally)
            else:
                try_reader(draw.choice(every), draw, tally)
    return tally


def main() -> None:
    """Print figures, and every kind of failure once."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--command-share", type=int, default=20, help="One case in so many goes to the command.")
    given = parser.parse_args()
    start = time.perf_counter()
    tally = fuzz(given.cases, given.seed, given.command_share)
    print(f"{given.cases} cases, seed {given.seed}, {time.perf_counter() - start:.0f} s")
    for end, count in tally.ends.most_common():
        print(f"  {end}: {count}")
    kinds: dict[str, list[str]] = {}
    for failure in tally.failures:
        kinds.setdefault(re.sub(r"\d+", "#", failure.split("\n")[0])[:120], []).append(failure)
    for found in kinds.values():
        print(f"{len(found)} x {found[0]}")
    print(f"failures: {len(tally.failures)}, allowed: 0")


if __name__ == "__main__":
    main()
