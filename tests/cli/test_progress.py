"""The progress bar: only for someone who watches and has waited."""

import io
import sys

import pytest

from thermal_model.cli import progress


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
