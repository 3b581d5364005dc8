"""The progress bar: only for someone who watches and has waited."""

import io
import sys
import time
from collections.abc import Callable

import pytest

from thermal_model.cli import progress
from thermal_model.solver import steppers


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


WIPED = "\r\x1b[1A\x1b[2K"
"""What leaves a line of a terminal empty, the cursor at its beginning."""


def _waited_for(stream: Terminal, seen: Callable[[str], bool]) -> bool:
    until = time.monotonic() + 30.0
    while not seen(stream.getvalue()) and time.monotonic() < until:
        time.sleep(0.01)
    return seen(stream.getvalue())


def _watched(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "PATIENCE", 0.0)
    monkeypatch.setattr(progress, "REFRESHES", 50.0)
    monkeypatch.setenv("TERM", "xterm")
    return stream


def test_bar_moves_by_itself_and_is_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = _watched(monkeypatch)
    with progress.progress_bar("computing") as show:
        show(0.5)
        assert _waited_for(stream, lambda text: "computing" in text and " 50%" in text)
        drawn = stream.getvalue().count("computing")
        assert _waited_for(stream, lambda text: text.count("computing") > drawn + 1)
        show(7.0)
        assert _waited_for(stream, lambda text: "100%" in text)
    assert stream.getvalue().endswith(WIPED)


def test_no_bar_before_someone_has_waited(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = _watched(monkeypatch)
    monkeypatch.setattr(progress, "PATIENCE", 3600.0)
    with progress.progress_bar("computing") as show:
        show(0.5)
    assert stream.getvalue() == ""


def test_no_bar_where_nobody_watches(monkeypatch: pytest.MonkeyPatch) -> None:
    _watched(monkeypatch)
    monkeypatch.setattr(sys, "stderr", file := io.StringIO())
    with progress.progress_bar("computing") as show:
        time.sleep(0.05)
        show(0.5)
    assert file.getvalue() == ""


def test_a_note_stands_above_the_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = _watched(monkeypatch)
    monkeypatch.setattr(steppers, "is_kept", lambda: False)
    with progress.progress_bar("computing"):
        assert _waited_for(stream, lambda text: "computing" in text)
        steppers.compiled_stepper()
    # On a line that was wiped before, and wrapped where the terminal ends.
    assert f"\x1b[2Kholdtime: note: {steppers.COMPILING} " in stream.getvalue().replace("\n", " ")


def test_compiling_says_so_once_and_how_long_it_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(steppers, "is_kept", lambda: False)
    with progress.progress_bar("computing"):
        steppers.compiled_stepper()
        steppers.compiled_stepper()
    assert stream.getvalue() == f"holdtime: note: {steppers.COMPILING}\n"
    assert "some seconds, once" in steppers.COMPILING


@pytest.mark.parametrize(("stream", "is_kept"), [(Terminal(), True), (io.StringIO(), False)], ids=["kept", "unwatched"])
def test_nothing_is_said_of_compiling(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, is_kept: bool) -> None:
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(steppers, "is_kept", lambda: is_kept)
    monkeypatch.setattr(steppers, "_told", [])
    with progress.progress_bar("computing"):
        steppers.compiled_stepper()
    assert stream.getvalue() == ""
