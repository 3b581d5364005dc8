"""The command as a process of its own: streams, exit codes, pipes."""

import json
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.conftest import refused, run

COMMAND = [sys.executable, "-c", "from thermal_model.cli.main import run; run()"]
PREDICT = [*COMMAND, "predict", "slim_neck_double_seal", "--no-interval"]


def test_json_is_all_there_is_on_standard_output(tmp_path: Path) -> None:
    done = subprocess.run(
        [*PREDICT, "--json", "--csv", "c.csv"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["hold_times"][0]["until_K"] == 333.15
    assert done.stderr == ""


def test_bad_input(tmp_path: Path) -> None:
    done = subprocess.run([*PREDICT, "--fill", "48"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr == "holdtime: --fill: '48' has no unit; give the unit, for example '473 mL'\n"


def test_reader_that_has_had_enough(tmp_path: Path) -> None:
    with subprocess.Popen(
        [*PREDICT, "--json"], cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        errors = process.stderr.read()
        code = process.wait(timeout=60)
    assert errors == ""
    assert code == 141


def test_terminal_without_the_letters_of_the_table(tmp_path: Path) -> None:
    done = subprocess.run(
        PREDICT,
        cwd=tmp_path,
        capture_output=True,
        check=False,
        env={"PYTHONIOENCODING": "ascii", "PATH": "", "LC_ALL": "C"},
    )
    assert done.returncode == 0, done.stderr
    assert b"stays above 60" in done.stdout
    assert done.stderr == b""


def test_full_and_closed_standard_output(tmp_path: Path) -> None:
    for words, message in (
        ("designs list >/dev/full", "standard output: can't be written: No space left on device"),
        ("--help >/dev/full", "standard output: can't be written: No space left on device"),
        ("designs list >&-", "standard output is closed; send it to a file"),
    ):
        line = f"{shlex.join(COMMAND)} {words}"
        done = subprocess.run(["sh", "-c", line], cwd=tmp_path, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stderr) == (2, f"holdtime: {message}\n")


def test_reader_of_the_help_page_that_has_had_enough(tmp_path: Path) -> None:
    line = f"({shlex.join(COMMAND)} --help; echo $? >code) | true"
    done = subprocess.run(["sh", "-c", line], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.stderr == ""
    assert (tmp_path / "code").read_text() in ("141\n", "0\n")


def test_at_most_twenty_lines(tmp_path: Path) -> None:
    rows = "".join(f"wrong_{i} = 1\n" for i in range(100))
    (tmp_path / "mine.toml").write_text(rows)
    done = subprocess.run(
        [*COMMAND, "designs", "show", "mine.toml"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    lines = done.stderr.splitlines()
    assert done.returncode == 2
    assert len(lines) == 20
    assert "and at least 83 more problems like these" in lines[-1]
    assert all(line.isprintable() for line in lines)


def test_control_characters_reach_no_terminal(tmp_path: Path) -> None:
    texts = {
        'name = "a\\u001b[2J"\n': "name = 'a\\x1b[2J'",
        '"a\\u001b[2J" = 1\n': "has",
        "# \x1b[2J\n": "line 1",
    }
    for text, place in texts.items():
        (tmp_path / "mine.toml").write_text(text)
        done = subprocess.run(
            [*COMMAND, "designs", "show", "mine.toml"], cwd=tmp_path, capture_output=True, text=True, check=False
        )
        assert done.returncode == 2
        assert done.stderr.startswith(f"holdtime: mine.toml: {place}")
        assert "has a control character" in done.stderr
        assert done.stderr.rstrip("\n").isprintable()


@pytest.mark.parametrize("mark", ["\x1b[2J", "\n", "\r", "\t", "\x9b2J", "\u202e"], ids=ascii)
def test_control_characters_on_the_command_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mark: str) -> None:
    """Whichever word has one, it is refused in a line and shown as its escape, before anything is written."""
    monkeypatch.chdir(tmp_path)
    for words in (
        ("predict", f"a{mark}b"),
        ("predict", "slim_neck_double_seal", "--set", f"body.neck.mouth_diameter=44{mark} mm"),
        ("designs", "copy", "slim_neck_double_seal", f"a{mark}b.toml"),
        ("plan", "schedule", f"a{mark}b", "c"),
        ("bench", "new", f"a{mark}b"),
        (f"a{mark}b",),
    ):
        result = run(*words)
        (line,) = refused(result, "has a control character; type it without")
        assert mark.encode("unicode_escape").decode() in line
        assert line.isprintable()
    assert list(tmp_path.iterdir()) == []


def test_interrupted_while_it_is_imported() -> None:
    """Ctrl-C in the first moments; a finder raises it where the first library is looked for."""
    lines = """
import sys
class Interrupted:
    def find_spec(self, name, *others):
        if name == "typer":
            raise KeyboardInterrupt
sys.meta_path.insert(0, Interrupted())
from thermal_model.cli.main import run
"""
    done = subprocess.run([sys.executable, "-c", lines], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr == "holdtime: interrupted; nothing was written\n"
