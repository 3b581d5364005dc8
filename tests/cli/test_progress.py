"""The progress bar: only for someone who watches and has waited."""

import io
import sys
import time

import pytest

from thermal_model.cli import progress
from thermal_model.solver import steppers


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("stream", "patience", "is_shown"),
    [(Terminal(), 0.0, True), (Terminal(), 3600.0, False), (io.StringIO(), 0.0, False)],
    ids=["waited", "not waited", "no terminal"],
)
def test_bar(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, patience: float, is_shown: bool) -> None:
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "PATIENCE", patience)
    with progress.progress_bar("computing") as show:
        show(0.5)
    assert ("computing ▰▰▰▰▰▰▰▰▰▰▰▰▰▰▰▱▱▱▱▱▱▱▱▱▱▱▱▱▱▱  50 %" in stream.getvalue()) is is_shown
    assert (stream.getvalue() == "") is not is_shown
    assert not is_shown or stream.getvalue().rpartition("\r")[2] == ""


def test_a_bar_moves_by_itself_while_the_work_is_silent(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "PATIENCE", 0.01)
    monkeypatch.setattr(progress, "TICK", 0.01)
    until = time.monotonic() + 30.0
    with progress.progress_bar("reading"):
        while stream.getvalue().count("reading ▱") < 2 and time.monotonic() < until:
            time.sleep(0.01)
    assert stream.getvalue().count("reading ▱") >= 2
    assert stream.getvalue().rpartition("\r")[2] == ""


def test_a_note_leaves_no_bar_before_it(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "PATIENCE", 0.0)
    monkeypatch.setattr(steppers, "is_kept", lambda: False)
    with progress.progress_bar("computing") as show:
        show(0.5)
        steppers.compiled_stepper()
    (line,) = [part for part in stream.getvalue().splitlines() if "note" in part]
    assert line.rpartition("\r")[2] == f"holdtime: note: {steppers.COMPILING}"


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
