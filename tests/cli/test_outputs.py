"""No command writes over what it reads, over what is there, or over anything but a file; for every file option."""

import itertools
import os
import shutil
import stat
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest
import typer

from geometries.design_file import catalogue_path
from tests.cli.conftest import Command, refused, run
from thermal_model.cli.main import TableOfContents
from thermal_model.cli.outputs import OUTPUTS, guarded

ENDINGS = {
    "plot": ".png",
    "drawing": ".svg",
    "csv": ".csv",
    "calendar": ".ics",
    "output": ".json",
    "target": ".toml",
    "save": ".toml",
}

LEAST_WORK: dict[tuple[str, ...], list[str]] = {
    ("predict",): ["design.toml", "--no-interval"],
    ("carry",): ["design.toml", "--no-interval"],
    ("check",): ["design.toml", "--claim", "hot for 1 h", "--above", "60C", "--draws", "20"],
    ("compare",): ["design.toml", "thin_disc_lid", "--no-interval", "--no-cold"],
    ("explain",): ["design.toml", "thin_disc_lid", "--no-interval"],
    ("bench", "reduce"): ["bench"],
    ("calibrate",): ["bench"],
    ("validate",): ["bench"],
    ("report",): ["bench"],
    ("plan", "run"): ["design.toml"],
    ("plan", "soak"): ["design.toml"],
    ("plan", "repeats"): ["--difference", "5%", "--repeatability", "3%"],
    ("plan", "schedule"): ["--count", "3"],
    ("plan", "next"): ["design.toml"],
    ("sweep",): ["design.toml", "--vary", "body.gap.width=3,4 mm"],
    ("sensitivity",): ["design.toml"],
    ("screen",): ["design.toml", "--vary", "body.gap.width=3..4 mm", "--against", "mass", "--count", "4"],
    ("optimise",): [
        *("design.toml", "--vary", "body.gap.width=3..4 mm", "--best", "hold", "--best", "mass"),
        *("--tries", "10", "--count", "3"),
    ],
    ("redraw",): ["result.json"],
    ("bundle",): ["bench"],
    ("reproduce",): ["bench"],
    ("new",): [],
    ("designs", "show"): ["design.toml"],
    ("designs", "copy"): ["design.toml"],
}
"""Arguments of every command that writes files; a new one has to be entered here."""


def leaves(typer_app: typer.Typer, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], set[str]]]:
    """Each command by its words, with the names of its parameters."""
    import inspect

    for command in typer_app.registered_commands:
        assert command.callback is not None
        name = command.name or command.callback.__name__.removesuffix("_designs").replace("_", "-")
        yield (*path, name), set(inspect.signature(command.callback).parameters)
    for group in typer_app.registered_groups:
        assert group.typer_instance is not None
        yield from leaves(group.typer_instance, (*path, str(group.name)))


def all_commands() -> dict[tuple[str, ...], set[str]]:
    """Every command as it is offered, guarded."""
    found: dict[tuple[str, ...], set[str]] = {}
    for name in TableOfContents.modules:
        holder = typer.Typer()
        offered = getattr(import_module(f"thermal_model.cli.{name}"), name)
        if isinstance(offered, typer.Typer):
            holder.add_typer(offered, name=name)
        else:
            holder.command(name)(guarded(offered))
        found |= dict(leaves(holder))
    return found


COMMANDS = all_commands()
WRITING = {path: names & OUTPUTS for path, names in COMMANDS.items() if names & OUTPUTS}
CASES = sorted((path, name) for path, names in WRITING.items() for name in names)


def ids(case: tuple[tuple[str, ...], str]) -> str:
    return f"{'-'.join(case[0])}:{case[1]}"


def test_every_command_that_writes_is_tried() -> None:
    assert set(WRITING) == set(LEAST_WORK)
    for path in WRITING:
        assert "--force" in run(*path, "--help").stdout, path


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bench, made once."""
    folder = tmp_path_factory.mktemp("made") / "bench"
    assert run("bench", "demo", folder).exit_code == 0
    return folder


@pytest.fixture
def place(tmp_path: Path, made: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a design and a bench."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(made, tmp_path / "bench")
    shutil.copy(catalogue_path("thin_disc_lid"), "design.toml")
    return tmp_path


def call(path: tuple[str, ...], name: str, file: str, *more: str) -> list[str]:
    """Arguments of a command that is asked to write one of its outputs to a file."""
    if name == "target":
        return [*path, *LEAST_WORK[path], file, *more]
    given = LEAST_WORK[path] if path != ("new",) else ["fresh.toml"]
    if path == ("designs", "copy"):
        given = [*given, "fresh.toml"]
    return [*path, *given, f"--{name}", file, *more]


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file() and not p.is_symlink()}


@pytest.mark.parametrize("case", CASES, ids=ids)
def test_outputs_are_refused_before_any_work(case: tuple[tuple[str, ...], str], place: Path) -> None:
    """What is there, inputs by whichever name, pipes, folders, loops, dangling folders: refused, nothing changed."""
    (path, name), ending = case, ENDINGS[case[1]]
    (place / f"there{ending}").write_text("mine")
    (place / f"folder{ending}").mkdir()
    os.mkfifo(place / f"pipe{ending}")
    (place / f"loop{ending}").symlink_to(place / f"other{ending}")
    (place / f"other{ending}").symlink_to(place / f"loop{ending}")
    (place / f"link{ending}").symlink_to(place / "design.toml")
    os.link(place / "design.toml", place / f"hard{ending}")
    wrong = {
        f"there{ending}": "is there already; give another name, or add --force",
        f"folder{ending}": "is a folder; give a file in it",
        f"pipe{ending}": "is a device or a pipe, no file",
        f"loop{ending}": "can't be written",
        f"nowhere/a{ending}": "there is no folder",
    }
    if any("design.toml" in word for word in LEAST_WORK[path]):
        wrong |= {f"link{ending}": "is an input of this command", f"hard{ending}": "is an input of this command"}
    before = contents(place)
    for file, message in wrong.items():
        refused(run(*call(path, name, file)), file, message)
        if "there already" not in message:
            refused(run(*call(path, name, file, "--force")), file, message)
    assert contents(place) == before
    assert stat.S_ISFIFO((place / f"pipe{ending}").stat().st_mode)


@pytest.mark.parametrize("case", [c for c in CASES if "bench" in LEAST_WORK[c[0]]], ids=ids)
def test_no_file_of_a_bench_is_written_over(case: tuple[tuple[str, ...], str], place: Path) -> None:
    (path, name), ending = case, ENDINGS[case[1]]
    (place / "bench" / f"notes{ending}").write_text("mine")
    for file in ("runs.csv", "bench.toml", f"notes{ending}"):
        if name == "plot" and not file.endswith(ending):
            continue
        for force in ([], ["--force"]):
            refused(run(*call(path, name, f"bench/{file}", *force)), f"bench/{file}", "is an input")


def test_force_replaces_and_nothing_else_does(holdtime: Command) -> None:
    arguments = ["predict", "thin_disc_lid", "--no-interval", "--output", "a.json"]
    assert holdtime(*arguments).exit_code == 0
    Path("a.json").write_text("mine")
    refused(holdtime(*arguments), "a.json: is there already")
    assert Path("a.json").read_text() == "mine"
    assert holdtime(*arguments, "--force").exit_code == 0
    assert Path("a.json").read_text() != "mine"


def test_two_options_with_one_file(holdtime: Command) -> None:
    pairs = itertools.permutations(["a.json", "./a.json", f"{Path.cwd()}/../{Path.cwd().name}/a.json"], 2)
    for first, second in pairs:
        lines = refused(
            holdtime("predict", "thin_disc_lid", "--output", first, "--csv", second), "is named by two options"
        )
        assert len(lines) == 1
    assert not Path("a.json").exists()


def test_inputs_given_by_options(holdtime: Command) -> None:
    Path("room.csv").write_text("time [min],temperature [C]\n0,20\n100,21\n")
    holdtime("bench", "demo", "bench")
    assert holdtime("calibrate", "bench", "--output", "known.json").exit_code == 0
    before = contents(Path())
    predict = ["predict", "thin_disc_lid", "--no-interval", "--force"]
    refused(holdtime(*predict, "--room-file", "room.csv", "--csv", "room.csv"), "room.csv: is an input")
    refused(holdtime(*predict, "--calibration", "known.json", "--output", "known.json"), "known.json: is an input")
    assert contents(Path()) == before


def test_what_comes_into_being_meanwhile_is_kept(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    from importlib import import_module

    command = import_module("thermal_model.cli.predict")

    compute = command.predicted

    def slow(*given: object, **options: object) -> object:
        Path("a.json").write_text("someone else's")
        return compute(*given, **options)

    monkeypatch.setattr(command, "predicted", slow)
    refused(holdtime("predict", "thin_disc_lid", "--no-interval", "--output", "a.json"), "a.json: is there already")
    assert Path("a.json").read_text() == "someone else's"
    assert [path.name for path in Path().iterdir()] == ["a.json"]


def test_a_device_is_left_alone(holdtime: Command) -> None:
    try:
        os.mknod("null", 0o666 | stat.S_IFCHR, os.makedev(1, 3))
    except PermissionError:
        pytest.skip("needs the right to make a device node")
    refused(holdtime("predict", "thin_disc_lid", "--output", "null", "--force"), "null: is a device")
    assert stat.S_ISCHR(Path("null").stat().st_mode)


def test_the_program_s_own_files_are_inputs(holdtime: Command) -> None:
    path = catalogue_path("thin_disc_lid")
    before = path.read_bytes()
    refused(holdtime("designs", "copy", "stoneware_cup", path, "--force"), "is an input of this command")
    assert path.read_bytes() == before
