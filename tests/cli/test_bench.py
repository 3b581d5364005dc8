"""`holdtime bench`, typed as a user types it."""

import json
import re
import shlex
from pathlib import Path

import pytest

from tests.cli.conftest import Command, refused
from tests.thermal_model.bench.folders import READINGS, bench_folder

MINUTES = range(5, 600, 10)
LOG = "run,time [min],temperature [C]\n" + "".join(
    f"{run},{minute},{20 + 70 * 0.935 ** (minute / 60) + shift:.1f}\n"
    for run, shift in (("r1", 0.0), ("r2", 0.3))
    for minute in MINUTES
)


def example(holdtime: Command, command: str) -> list[str]:
    """The example of a help page, without the name of the program."""
    text = holdtime("bench", command, "--help").stdout
    found = re.search(r"Example: (holdtime .*?)\n\s*\n", text, flags=re.S)
    assert found, text
    return shlex.split(found.group(1))[1:]


def test_examples_of_the_help_pages_run_one_after_another(holdtime: Command) -> None:
    for command in ("new", "demo", "check", "reduce"):
        result = holdtime(*example(holdtime, command))
        assert result.exit_code == 0, result.output
    assert "lid not seated?" in result.stdout
    assert "\nRepeatability (two runs in three lie this near to the mean, or nearer)\n" in result.stdout
    assert "burn skin" in result.stdout


def test_a_new_folder_explains_itself_and_is_filled_in(holdtime: Command, tmp_path: Path) -> None:
    assert holdtime("bench", "new", "mine").exit_code == 0
    names = {path.name for path in (tmp_path / "mine").iterdir()}
    assert names >= {"bench.toml", "runs.csv", "readings.csv", "passings.csv", "probe_checks.csv", "datapackage.json"}
    refused(holdtime("bench", "check", "mine"), "runs.csv: has headings but no runs")
    with (tmp_path / "mine" / "runs.csv").open("a", encoding="utf-8") as file:
        file.write("a,my_bottle,2026-04-20,pen,tea,500,,,92,,20,,,soaked,,,\n")
    refused(holdtime("bench", "check", "mine"), "neither readings.csv nor passings.csv has a row yet")
    with (tmp_path / "mine" / "readings.csv").open("a", encoding="utf-8") as file:
        file.write("a,2,89.5,,,\na,480,61.0,,,\n")
    result = holdtime("bench", "check", "mine")
    assert result.exit_code == 0, result.output
    assert "nobody checked pen" in result.stdout
    assert "no cold run" in result.stdout


@pytest.mark.parametrize("command", ["new", "demo"])
def test_nothing_is_overwritten(holdtime: Command, tmp_path: Path, command: str) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "note.txt").write_text("keep", encoding="utf-8")
    refused(holdtime("bench", command, "mine"), "mine: is there already and not empty")
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["note.txt"]


def test_check_says_what_is_wrong_by_line(holdtime: Command, tmp_path: Path) -> None:
    bench_folder(tmp_path, readings=READINGS + "r2,500,x\nr3,10,80\n")
    lines = refused(holdtime("bench", "check", tmp_path))
    assert lines == ["holdtime: readings.csv: line 8, run = 'r3': is not in runs.csv"]


def test_check_changes_nothing_unless_asked(holdtime: Command, tmp_path: Path) -> None:
    bench_folder(tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    result = holdtime("bench", "check", tmp_path)
    assert result.exit_code == 0
    assert "write it with --descriptor" in result.stdout
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert "--descriptor" not in holdtime("bench", "check", tmp_path, "--descriptor").stdout
    after = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert set(after) - set(before) == {"datapackage.json"}
    assert all(after[name] == data for name, data in before.items())


def test_json_is_one_object(holdtime: Command, tmp_path: Path) -> None:
    bench_folder(tmp_path, readings=LOG)
    checked = json.loads(holdtime("bench", "check", tmp_path, "--json").stdout)
    assert [run["readings"] for run in checked["runs"]] == [60, 60]
    document = json.loads(holdtime("bench", "reduce", tmp_path, "--json", "--until", "70 C", "--until", "140 F").stdout)
    held = document["runs"][0]["hold_times"]
    assert [round(one["until_K"], 2) for one in held] == [343.15, 333.15]
    assert held[0]["low_s"] < held[0]["time_s"] < held[0]["high_s"] < held[1]["time_s"]
    assert set(document["probe_offsets_K"]) == {"pen", "wireless"}


def test_the_same_object_goes_to_a_file(holdtime: Command, tmp_path: Path) -> None:
    bench_folder(tmp_path, readings=LOG)
    shown = holdtime("bench", "reduce", tmp_path, "--json", "--output", "out.json").stdout
    assert (tmp_path / "out.json").read_text(encoding="utf-8") == shown


def test_fahrenheit_asked_is_fahrenheit_shown(holdtime: Command, tmp_path: Path) -> None:
    bench_folder(tmp_path, readings=LOG)
    assert "140 °F" in holdtime("bench", "reduce", tmp_path, "--until", "140F").stdout


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_picture(holdtime: Command, tmp_path: Path, ending: str) -> None:
    bench_folder(tmp_path, readings=LOG)
    result = holdtime("bench", "reduce", tmp_path, "--plot", f"bench.{ending}")
    assert result.exit_code == 0, result.output
    assert f"written: bench.{ending}" in result.stderr
    assert (tmp_path / f"bench.{ending}").stat().st_size > 10_000


def test_refusals(holdtime: Command, tmp_path: Path) -> None:
    bench_folder(tmp_path, readings=LOG)
    refused(holdtime("bench", "check", "nowhere"), "nowhere: there is no such folder; holdtime bench new makes one")
    refused(holdtime("bench", "check", tmp_path / "runs.csv"), "is no folder")
    refused(holdtime("bench", "reduce", tmp_path, "--until", "60"), "--until", "no unit")
    refused(holdtime("bench", "reduce", tmp_path, "--until", "10 C"), "--until", "between start and room of no run")
    refused(holdtime("bench", "reduce", tmp_path, "--plot", "curve.xls"), "can't draw")
    (tmp_path / "readings.csv").write_bytes(b"\xff\xfe\x00r")
    refused(holdtime("bench", "check", tmp_path), "readings.csv", "UTF-8")
