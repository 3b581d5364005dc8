"""`holdtime sweep`: what it prints and writes, how it resumes, and every refusal."""

import io
import json
import os
import re
import resource
import shlex
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest

from tests.cli.conftest import Command, refused
from thermal_model.cli.sweep import _bar

COMMAND = [sys.executable, "-c", "from thermal_model.cli.main import run; run()"]
CUP = ("sweep", "stoneware_cup", "--until", "88C")
DEPTH, SURFACE = ("--vary", "body.inside_depth=80..120 mm:3"), ("--vary", "scenario.stands_on=wood,stone")
LONG = (*CUP, "--vary", "body.inside_depth=80..120 mm:40", "--vary", "scenario.room=10..25 C:12", "--chunk", "60")
"""480 designs, eight chunks: too few for the compiled stepper, so that no test waits for a compiler."""


# --- what is printed ------------------------------------------------------------------------------------------


def test_few_designs_are_all_shown(holdtime: Command) -> None:
    result = holdtime(*CUP, *DEPTH, *SURFACE)
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert lines[0] == "Varied: inside depth 80 mm to 120 mm; stands on wood, stone"
    assert lines[1].startswith("From stoneware_cup: ")
    heading = next(k for k, line in enumerate(lines) if "inside depth" in line and k > 1)
    assert lines[heading].endswith("to 88 °C")
    assert [line.split()[0] for line in lines[heading + 1 : heading + 7]] == ["80", "100", "120"] * 2
    assert "6 designs (grid): 6 reach the last limit" in result.stdout
    assert "longest" in result.stdout
    assert "Take care: 90 °C scalds within a second" in result.stdout
    assert result.stderr == ""


def test_json_is_one_object_with_extremes_and_inputs(holdtime: Command) -> None:
    result = holdtime(*CUP, "--until", "86C", *DEPTH, "--vary", "scenario.fill=200,600 mL", "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert (found["designs"], found["possible_designs"]) == (6, 3)
    assert [limit["until_K"] for limit in found["hold_times"]] == [361.15, 359.15]
    for limit in found["hold_times"]:
        assert 0.0 < limit["shortest_s"] < limit["longest_s"]
        assert set(limit["longest_design"]) == {"number", "body.inside_depth", "scenario.fill"}
    assert found["outcomes"] == {"reached": 3, "not_reached": 0, "invalid": 3, "failed": 0}
    assert [(reason["field"], reason["designs"]) for reason in found["invalid"]] == [("fill", 3)]
    assert found["inputs"]["seed"] == 1
    assert any("Scalds" in line for line in found["warnings"])


def test_what_is_left_out_is_told_with_its_reason(holdtime: Command) -> None:
    text = holdtime(*CUP, *DEPTH, "--vary", "scenario.fill=200,600 mL").stdout
    assert "3 are not possible and left out" in text
    assert "3 x fill: 600 mL is beyond the brim; at most" in text
    assert text.count("not possible\n") == 3


def test_options_of_a_scenario_reach_the_designs(holdtime: Command) -> None:
    def longest(*options: str) -> float:
        result = holdtime(*CUP, *DEPTH, "--json", *options)
        return float(json.loads(result.stdout)["hold_times"][0]["longest_s"])

    assert longest("--wind", "5 m/s") < longest() < longest("--walls", "preheated")
    assert longest("--set", "body.wall.inner_thickness=2 mm") != longest()


def test_note_on_samples(holdtime: Command) -> None:
    result = holdtime(*CUP, *DEPTH, "--sample", "sobol", "--count", "5", "--json")
    assert "the steps behind ':' are not used" in result.stderr
    assert "powers of two, such as 4 or 8" in result.stderr
    assert json.loads(result.stdout)["designs"] == 5


def test_same_seed_same_file_another_seed_another(holdtime: Command) -> None:
    sample = (*CUP, "--vary", "body.inside_depth=80..120 mm", "--sample", "latin", "--count", "6")
    for name, seed in (("a", 4), ("b", 4), ("c", 5)):
        assert holdtime(*sample, "--seed", seed, "--output", f"{name}.csv").exit_code == 0
    a, b, c = (Path(f"{name}.csv").read_bytes() for name in "abc")
    assert a == b != c


@pytest.mark.parametrize("ending", ["csv", "parquet", "nc"])
def test_same_command_same_bytes_and_nothing_left_over(holdtime: Command, ending: str) -> None:
    for name in ("a", "b"):
        result = holdtime(*CUP, *DEPTH, *SURFACE, "--output", f"{name}.{ending}", "--plot", f"{name}.svg")
        assert result.exit_code == 0, result.output
        assert f"written: {name}.{ending}" in result.stderr
    assert Path(f"a.{ending}").read_bytes() == Path(f"b.{ending}").read_bytes()
    assert sorted(path.name for path in Path().iterdir()) == sorted(["a.svg", "b.svg", f"a.{ending}", f"b.{ending}"])
    assert Path("a.svg").read_bytes() == Path("b.svg").read_bytes()


def test_example_of_the_help_page_runs(holdtime: Command) -> None:
    text = " ".join(holdtime("sweep", "--help").stdout.split())
    example = shlex.split(text.partition("Example: holdtime ")[2].partition(" Arguments:")[0].partition(" Options:")[0])
    assert example[0] == "sweep"
    result = holdtime(*example)
    assert result.exit_code == 0, result.output
    assert "6 designs (grid)" in result.stdout


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("stream", [Terminal(), io.StringIO()], ids=["terminal", "file"])
def test_bar_tells_rate_and_time_left_to_who_watches(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO) -> None:
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("TERM", "xterm")
    with _bar(1000) as progress:
        progress(400)  # done by an earlier run
        for _ in range(4):
            time.sleep(0.15)
            progress(100)
    text = stream.getvalue()
    if not stream.isatty():
        assert text == ""
        return
    assert "800/1000" in text
    rates = [float(rate) for rate in re.findall(r"designs\s+(?:\x1b\[[\d;]*m)*([\d.e+]+)/s", text)]
    assert rates
    assert all(50.0 < rate < 700.0 for rate in rates)  # 100 in 0.15 s or more; the 400 don't count
    assert re.search(r"0:00:0\d", text)


# --- resuming -------------------------------------------------------------------------------------------------


def started(folder: Path, *arguments: str, start_new_session: bool = False) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [*COMMAND, *arguments],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=start_new_session,
        # A shell starts jobs in the background deaf to Ctrl-C, and what they start as well.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )


def wait_for_a_chunk(process: "subprocess.Popen[str]", folder: Path) -> None:
    journal = folder / "a.parquet.partial"
    end = time.monotonic() + 60.0
    while not list(journal.glob("*.npz")):
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < end
        time.sleep(0.02)


def stopped_after_a_chunk(folder: Path, how: signal.Signals, *arguments: str) -> tuple[int, str]:
    """Stop a sweep once its journal has a chunk; exit code and what it said."""
    process = started(folder, *arguments)
    wait_for_a_chunk(process, folder)
    process.send_signal(how)
    return process.wait(timeout=30), process.communicate()[1]


@pytest.fixture(scope="module")
def uninterrupted(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("whole")
    subprocess.run([*COMMAND, *LONG, "--output", "a.parquet"], cwd=folder, check=True, capture_output=True)
    return (folder / "a.parquet").read_bytes()


def test_killed_and_resumed_ends_the_same(tmp_path: Path, uninterrupted: bytes) -> None:
    """By SIGKILL, which nothing can catch; then with chunks of another size."""
    arguments = (*LONG, "--output", "a.parquet")
    code, _ = stopped_after_a_chunk(tmp_path, signal.SIGKILL, *arguments)
    assert code == -signal.SIGKILL
    assert not (tmp_path / "a.parquet").exists()
    kept = {path.name: path.stat().st_mtime_ns for path in (tmp_path / "a.parquet.partial").glob("*.npz")}
    assert 1 <= len(kept) < 8
    with started(tmp_path, *arguments, "--chunk", "100") as process:
        out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    done = sum(int(name[13:25]) - int(name[:12]) for name in kept)
    assert f"goes on after {done} of 480 designs" in err
    assert "480 designs (grid): 480 reach the last limit" in out
    assert (tmp_path / "a.parquet").read_bytes() == uninterrupted
    assert [path.name for path in tmp_path.iterdir()] == ["a.parquet"]
    assert pq.read_table(tmp_path / "a.parquet").num_rows == 480


@pytest.mark.parametrize("options", [("--threads", "2"), ("--threads", "3", "--chunk", "130")], ids=" ".join)
def test_threads_change_nothing(holdtime: Command, uninterrupted: bytes, options: tuple[str, ...]) -> None:
    result = holdtime(*LONG, *options, "--output", "a.parquet")
    assert result.exit_code == 0, result.output
    assert Path("a.parquet").read_bytes() == uninterrupted


def test_a_worker_that_is_killed_changes_nothing(tmp_path: Path, uninterrupted: bytes) -> None:
    """Processes of a real cluster; one of them gets SIGKILL once a chunk is kept, another takes its place."""
    psutil = pytest.importorskip("psutil")
    pytest.importorskip("distributed")
    with started(tmp_path, *LONG, "--workers", "2", "--output", "a.parquet") as process:
        wait_for_a_chunk(process, tmp_path)
        children = psutil.Process(process.pid).children(recursive=True)
        next(child for child in children if "spawn_main" in " ".join(child.cmdline())).kill()
        out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    assert err.strip() == "written: a.parquet"
    assert "480 designs (grid): 480 reach the last limit" in out
    assert (tmp_path / "a.parquet").read_bytes() == uninterrupted
    assert [path.name for path in tmp_path.iterdir()] == ["a.parquet"]


def test_ctrl_c_reaches_every_process_and_is_told_once(tmp_path: Path) -> None:
    """As a terminal sends it: to the command and to its workers alike."""
    pytest.importorskip("distributed")
    process = started(tmp_path, *LONG, "--workers", "1", "--output", "a.parquet", start_new_session=True)
    wait_for_a_chunk(process, tmp_path)
    os.killpg(process.pid, signal.SIGINT)
    assert process.wait(timeout=30) == 130
    assert process.communicate()[1].splitlines() == [
        "holdtime: what is done is kept in a.parquet.partial; the same command goes on there",
        "holdtime: interrupted; nothing more was written",
    ]


def test_ctrl_c_while_workers_start_is_heard_once_they_are_there(tmp_path: Path) -> None:
    """It comes when their processes are there but not yet at work; no traceback of any, and none left over."""
    psutil = pytest.importorskip("psutil")
    pytest.importorskip("distributed")
    process = started(tmp_path, *LONG, "--workers", "2", "--output", "a.parquet", start_new_session=True)
    workers: list[Any] = []
    end = time.monotonic() + 60.0
    while not workers:
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < end
        children = psutil.Process(process.pid).children(recursive=True)
        workers = [child for child in children if "spawn_main" in " ".join(child.cmdline())]
    os.killpg(process.pid, signal.SIGINT)
    assert process.wait(timeout=60) == 130
    assert process.communicate() == ("", "holdtime: interrupted; nothing more was written\n")
    assert not any(worker.is_running() for worker in workers)
    assert list(tmp_path.iterdir()) == []


def test_a_dead_scheduler_leaves_everything_as_it_was(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("thermal_model.study.cluster.SCHEDULER_TIMEOUT", 0.5)
    Path("a.csv").write_text("mine", encoding="utf-8")
    with socket.socket() as taken:  # bound, but nobody listens there
        taken.bind(("127.0.0.1", 0))
        address = f"127.0.0.1:{taken.getsockname()[1]}"
        (line,) = refused(holdtime(*CUP, *DEPTH, "--output", "a.csv", "--force", "--scheduler", address))
    assert line == (
        f"holdtime: --scheduler {address}: no scheduler answers within 0.5 s; start one with: dask scheduler"
    )
    assert Path("a.csv").read_text(encoding="utf-8") == "mine"
    assert [path.name for path in Path().iterdir()] == ["a.csv"]


def test_interrupted_says_where_it_goes_on(tmp_path: Path) -> None:
    code, err = stopped_after_a_chunk(tmp_path, signal.SIGINT, *LONG, "--output", "a.parquet")
    assert code == 130
    assert "what is done is kept in a.parquet.partial; the same command goes on there" in err
    assert "Traceback" not in err
    assert list((tmp_path / "a.parquet.partial").glob("*.npz"))


@pytest.mark.parametrize("name", ["a.csv", "a.parquet", "a.nc"])
def test_full_disk_keeps_the_journal(tmp_path: Path, name: str) -> None:
    """A limit on the size of files stands in for a full disk: writing fails in the same way."""

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (7000, 7000))

    arguments = [*COMMAND, *CUP, "--vary", "body.inside_depth=80..120 mm:300", "--no-paths", "--output", name]
    done = subprocess.run(
        arguments,
        cwd=tmp_path,
        preexec_fn=limit,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    (line,) = done.stderr.splitlines()
    assert line.startswith(f"holdtime: {name}: can't be written: ")
    assert f"what is done is kept in {name}.partial, give the same command again" in line
    assert not (tmp_path / name).exists()
    again = subprocess.run(arguments, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert again.returncode == 0, again.stderr
    assert "goes on after 300 of 300 designs" in again.stderr
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_disk_full_at_a_chunk(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.replace

    def fails(source: str, target: Path) -> None:
        if str(target).endswith(".npz"):
            raise OSError(28, "No space left on device")
        real(source, target)

    monkeypatch.setattr(os, "replace", fails)
    (line,) = refused(holdtime(*CUP, *DEPTH, "--output", "a.csv"), "No space left on device", "make room")
    assert "a.csv.partial" in line
    assert [path.name for path in Path("a.csv.partial").glob("*.part")] == []
    (line,) = refused(holdtime(*CUP, *DEPTH), "No space left on device", "make room for temporary files, or give an")
    assert "is kept" not in line


def test_journal_of_another_sweep_is_refused(holdtime: Command) -> None:
    folder = Path("a.csv.partial")
    folder.mkdir()
    (folder / "inputs.json").write_text('{"version": "0.0.9"}\n', encoding="utf-8")
    (line,) = refused(holdtime(*CUP, *DEPTH, "--output", "a.csv"), "a.csv.partial: holds part of another sweep")
    assert "remove the folder" in line
    assert (folder / "inputs.json").read_text(encoding="utf-8") == '{"version": "0.0.9"}\n'
    assert not Path("a.csv").exists()


def test_a_finished_file_outlives_kills(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed when the file had its name but still its old one too, then again while it was written anew."""

    def linked(finished: Path, target: Path) -> None:
        os.link(finished, target)
        raise KeyboardInterrupt

    def begun(*arguments: Any) -> None:
        arguments[3].write_text("half")
        raise KeyboardInterrupt

    line = (*CUP, *DEPTH, "--output", "a.csv")
    with monkeypatch.context() as patched:
        patched.setattr("thermal_model.study.sweep_files.replace_file", linked)
        assert holdtime(*line).exit_code == 130
    whole = Path("a.csv").read_bytes()
    with monkeypatch.context() as patched:
        patched.setattr("thermal_model.study.sweep_files._write_csv", begun)
        assert holdtime(*line, "--force").exit_code == 130
    assert Path("a.csv").read_bytes() == whole
    assert holdtime(*line, "--force").exit_code == 0
    assert Path("a.csv").read_bytes() == whole
    assert [path.name for path in Path().iterdir()] == ["a.csv"]


def test_output_is_not_overwritten_unless_forced(holdtime: Command) -> None:
    Path("a.csv").write_text("mine", encoding="utf-8")
    refused(holdtime(*CUP, *DEPTH, "--output", "a.csv"), "a.csv: is there already; give another name, or add --force")
    assert Path("a.csv").read_text(encoding="utf-8") == "mine"
    assert holdtime(*CUP, *DEPTH, "--output", "a.csv", "--force").exit_code == 0
    assert Path("a.csv").read_text(encoding="utf-8").startswith("# holdtime ")


# --- refusals -------------------------------------------------------------------------------------------------

REFUSALS: list[tuple[list[str], list[str]]] = [
    ([], ["--vary: give what to vary, for example --vary body.neck.mouth_diameter="]),
    (["--vary", "body.inside_depth"], ["--vary: 'body.inside_depth' is not understood; write name=value"]),
    (["--vary", "body.inside_dept=80..90 mm:3"], ["did you mean 'body.inside_depth'?"]),
    (["--vary", "body.inside_depth=90..80 mm:3"], ["is reversed; write '80 mm..90 mm'"]),
    (["--vary", "body.inside_depth=90..90 mm:3"], ["is empty, both ends are the same"]),
    (["--vary", "body.inside_depth=80..90 mm:0"], ["behind ':' stands how many values, 2 or more"]),
    (["--vary", "body.inside_depth=80..90 mm"], ["body.inside_depth: how many steps?", "--sample"]),
    (["--vary", "body.inside_depth=80..90 g:3"], ["'80 g' is not a length"]),
    (["--vary", "body.inside_depth=80,90,80 mm"], ["a value comes twice"]),
    (["--vary", "body.inside_depth=80,90 mm", "--vary", "body.inside_depth=70,75 mm"], ["is varied twice"]),
    ([*DEPTH, "--count", "5"], ["--count: goes with --sample latin or sobol"]),
    ([*DEPTH, "--sample", "latin"], ["--sample latin: how many designs?"]),
    ([*DEPTH, "--sample", "sobol", "--count", "0"], ["--count: 0 is not allowed; it must be at least 1"]),
    ([*DEPTH, "--sample", "sobol", "--count", "2000000000"], ["at most 1073741824 designs"]),
    ([*DEPTH, "--sample", "halton"], ["--sample: 'halton' is not one of 'grid'"]),
    ([*DEPTH, "--output", "a.xls"], ["a.xls: can't write a '.xls' file; end the name in .csv, .parquet, .nc"]),
    ([*DEPTH, "--output", "nowhere/a.csv"], ["there is no folder", "make it first"]),
    ([*DEPTH, "--plot", "a.bmp"], ["a.bmp: can't draw a '.bmp' file"]),
    ([*DEPTH, "--chunk", "0"], ["--chunk: '0' is not allowed; it must be a whole number, at least 1"]),
    ([*DEPTH, "--threads", "0"], ["--threads: '0' is not allowed; it must be a whole number, at least 1"]),
    ([*DEPTH, "--workers", "0"], ["--workers: '0' is not allowed; it must be a whole number, at least 1"]),
    ([*DEPTH, "--threads", "2", "--workers", "2"], ["--workers: goes without --threads; take one of them"]),
    (
        [*DEPTH, "--workers", "2", "--scheduler", "10.0.0.5:8786"],
        ["--scheduler: goes without --workers; take one of them"],
    ),
    ([*DEPTH, "--scheduler", "nowhere"], ["--scheduler nowhere: is no address; write one such as tcp://"]),
    ([*DEPTH, "--until", "95C"], ["95.0 C"]),
    (
        ["--vary", "scenario.fill=2 L,3 L"],
        ["--vary: none of the 2 designs is possible; fill: 2000 mL is beyond the brim"],
    ),
    (
        ["--vary", "body.inside_depth=80..90 mm:1000000", "--vary", "scenario.room=10..20 C:1000000"],
        ["1 000 000 000 000 designs are too many", "years", "--sample sobol --count 4096"],
    ),
    (
        ["--vary", "body.inside_depth=80..90 mm:10000", "--vary", "scenario.room=10..20 C:10000", "--output", "a.nc"],
        ["a.nc: NetCDF is written for at most 20000000 designs", ".parquet"],
    ),
]


@pytest.mark.parametrize(("options", "fragments"), REFUSALS, ids=lambda value: " ".join(value)[:50])
def test_refusal(holdtime: Command, options: list[str], fragments: list[str]) -> None:
    lines = refused(holdtime(*CUP, *options), *fragments)
    assert len(lines) == 1
    assert list(Path().iterdir()) == []


def test_every_problem_is_told_at_once(holdtime: Command) -> None:
    result = holdtime(
        *CUP, "--vary", "body.inside_dept=1..2 mm:2", "--vary", "scenario.rom=1..2 C:2", "--vary", "lid.sels=0,1"
    )
    assert len(refused(result, "inside_dept", "scenario.rom", "lid.sels")) == 3


def test_dask_that_is_missing_is_named(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib.util

    real = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *more: None if name == "distributed" else real(name, *more)
    )
    for option, value in (("--workers", "2"), ("--scheduler", "10.0.0.5:8786")):
        lines = refused(holdtime(*CUP, *DEPTH, option, value), f"{option}: needs the library distributed; install it")
        assert lines == [lines[0]]
        assert "holdtime[distributed]" in lines[0]


def test_libraries_that_are_missing_are_named(holdtime: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib.util

    real = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *more: None if name == "pyarrow" else real(name, *more)
    )
    refused(holdtime(*CUP, *DEPTH, "--output", "a.parquet"), "a.parquet: needs pyarrow; install holdtime[sweep]")
    assert holdtime(*CUP, *DEPTH, "--output", "a.csv").exit_code == 0


# --- what is varied is said, and said once ----------------------------------------------------------------------


def test_the_header_says_what_varies(holdtime: Command) -> None:
    text = holdtime("sweep", "stoneware_cup", "--vary", "scenario.fill=200..400 mL:3").stdout
    assert text.startswith("Varied: fill 200 mL to 400 mL\nFrom stoneware_cup: fill varied, water (assumed), start 90")


def test_what_is_varied_is_not_set(holdtime: Command) -> None:
    fill = ("sweep", "stoneware_cup", "--vary", "scenario.fill=200..400 mL:3")
    refused(holdtime(*fill, "--set", "scenario.fill=300 mL"), "--set: scenario.fill: is varied by --vary; leave one")
    seals = ("sweep", "slim_neck_double_seal", "--vary", "lid.seals=1,2", "--set", "lid.seals.0.depth=4 mm")
    refused(holdtime(*seals), "--set: lid.seals.0.depth: is varied by --vary")
    screened = ("screen", "stoneware_cup", "--vary", "scenario.fill=200..400 mL:3", "--set", "scenario.fill=300 mL")
    refused(holdtime(*screened), "--set: scenario.fill: is varied by --vary")


def test_a_bare_name_is_completed_and_a_single_value_sent_to_set(holdtime: Command) -> None:
    refused(holdtime("sweep", "stoneware_cup", "--vary", "fill=200..400 mL:3"), "did you mean 'scenario.fill'?")
    refused(holdtime("sweep", "stoneware_cup", "--vary", "start=80,90 C"), "did you mean 'scenario.start'?")
    one = holdtime("sweep", "stoneware_cup", "--vary", "scenario.fill=300 mL")
    refused(one, "is one value, which varies nothing; set it with --set scenario.fill='300 mL'")
    assert "scenario.fill=" in " ".join(holdtime("sweep", "--help").stdout.split())


# --- from results that are there ---------------------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["csv", "parquet", "nc"])
def test_a_picture_from_results_that_are_there(holdtime: Command, monkeypatch: pytest.MonkeyPatch, ending: str) -> None:
    words = ("sweep", "stoneware_cup", "--vary", "scenario.fill=100..800 mL:4", "--until", "60C", "--until", "70C")
    made = holdtime(*words, "--output", f"r.{ending}", "--plot", "one.svg")
    assert made.exit_code == 0, made.output
    monkeypatch.setattr("thermal_model.cli.sweep.run", None)  # nothing is computed again
    again = holdtime(*words, "--results", f"r.{ending}", "--plot", "two.svg")
    assert again.exit_code == 0, again.output
    assert again.stdout == made.stdout
    assert Path("one.svg").read_bytes() == Path("two.svg").read_bytes()
    other = ("sweep", "stoneware_cup", "--vary", "scenario.fill=100..700 mL:4", "--until", "60C", "--until", "70C")
    refused(holdtime(*other, "--results", f"r.{ending}"), "holds another sweep, which differs in: vary")
    refused(holdtime(*words, "--results", f"r.{ending}", "--output", "new.csv"), "--results: goes without --output")
    Path(f"r.{ending}").write_text("a,b\n1,2\n", encoding="utf-8")
    refused(holdtime(*words, "--results", f"r.{ending}"), "can't be read as the results of a sweep")
