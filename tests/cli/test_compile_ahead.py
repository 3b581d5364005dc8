"""The solver is compiled in the background once, where someone watches, with one line that says so."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from thermal_model.cli import compile_ahead
from thermal_model.solver.compiled import kept


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[list[str]]:
    """Processes that are begun, none of them truly; a machine on which nothing is kept, and someone who watches."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv(compile_ahead.SWITCH, raising=False)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    found: list[list[str]] = []

    def popen(line: list[str], **_: Any) -> None:
        found.append(line)

    monkeypatch.setattr(subprocess, "Popen", popen)
    return found


def test_it_is_begun_once_and_says_so_in_one_line(
    begun: list[list[str]], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    compile_ahead.compile_ahead()
    compile_ahead.compile_ahead()
    assert [line[1:] for line in begun] == [["-m", "thermal_model.cli.compile_ahead"]]
    assert capsys.readouterr().err == f"holdtime: note: {compile_ahead.NOTE}\n"
    kept.end_compiling()
    compile_ahead.compile_ahead()
    assert len(begun) == 2


@pytest.mark.usefixtures("begun")
def test_a_compilation_that_died_is_begun_again(monkeypatch: pytest.MonkeyPatch) -> None:
    assert kept.claim_compiling()
    assert not kept.claim_compiling()
    monkeypatch.setattr(kept, "_GIVEN_UP", -1.0)
    assert kept.claim_compiling()


@pytest.mark.parametrize("why_not", ["no terminal", "switched off", "kept"])
def test_nothing_is_begun(begun: list[list[str]], monkeypatch: pytest.MonkeyPatch, why_not: str) -> None:
    if why_not == "no terminal":
        monkeypatch.setattr(sys.stderr, "isatty", lambda: False, raising=False)
    elif why_not == "switched off":
        monkeypatch.setenv(compile_ahead.SWITCH, "never")
    else:
        monkeypatch.setattr(compile_ahead, "is_kept", lambda: True)
    compile_ahead.compile_ahead()
    assert begun == []
