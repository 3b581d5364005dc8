"""A progress bar on standard error, only for someone who watches and has waited a second.

A thread keeps it moving while the work itself has nothing to tell. A program that asks for lines gets lines.
"""

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from threading import Event, Lock, Thread

PATIENCE = 1.0
"""Time before a bar appears, and no more often than ten times in it is it drawn. [s]"""

TICK = 0.5
"""Time after which a bar is drawn anew by itself. [s]"""

READING, DRAWING = "reading the bench", "drawing"
"""Labels that several commands show."""

LINES = "HOLDTIME_PROGRESS"
"""Environment variable: where it is "lines", progress is told as lines, `progress 0.42`, for a program to read."""

_WIDTH = 30

Tell = Callable[[float], None]


class _Bar:
    """What is on the line: a label, the share that is done, and for how long."""

    def __init__(self, label: str) -> None:
        self.label, self.share = label, 0.0
        self._started = self._drawn = time.monotonic()
        self._on_line, self._lock, self._ended = 0, Lock(), Event()
        self._ticker = Thread(target=self._tick, daemon=True)

    def start(self) -> None:
        """Let it move by itself."""
        self._ticker.start()

    def show(self, share: float) -> None:
        """Say what share of the work is done."""
        self.share = min(max(share, 0.0), 1.0)
        now = time.monotonic()
        if now - self._started >= PATIENCE and now - self._drawn >= 0.1 * PATIENCE:
            self._draw()

    def note(self, words: str) -> None:
        """Say something above the bar."""
        with self._lock:
            self._wipe()
            print(f"holdtime: note: {words}", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Leave the line empty."""
        self._ended.set()
        self._ticker.join()
        with self._lock:
            self._wipe()

    def _tick(self) -> None:
        wait = PATIENCE
        while not self._ended.wait(wait):
            wait = TICK
            if time.monotonic() - self._drawn >= TICK:
                self._draw()

    def _draw(self) -> None:
        with self._lock:
            self._drawn = time.monotonic()
            done = round(self.share * _WIDTH)
            line = f"{self.label} {'▰' * done}{'▱' * (_WIDTH - done)} {100 * self.share:3.0f} %"
            line = f"{line}  {self._drawn - self._started:.0f} s"
            print(f"\r{line}{' ' * (self._on_line - len(line))}", end="", file=sys.stderr, flush=True)
            self._on_line = len(line)

    def _wipe(self) -> None:
        if self._on_line:
            print(f"\r{' ' * self._on_line}\r", end="", file=sys.stderr, flush=True)
        self._on_line = 0


@contextmanager
def progress_bar(label: str) -> Iterator[Tell]:
    """Yield a function to call with the share of the work done, 0 to 1; the bar is wiped at the end."""
    if os.environ.get(LINES) == "lines":
        yield _tell_in_lines
        return
    if not sys.stderr.isatty():
        yield _told_to_nobody
        return
    bar = _Bar(label)
    _tell_of_compiling(bar.note)
    bar.start()
    try:
        yield bar.show
    finally:
        bar.end()


def _tell_in_lines(share: float) -> None:
    print(f"progress {min(max(share, 0.0), 1.0):.3f}", file=sys.stderr, flush=True)


def _told_to_nobody(share: float) -> None:
    """Take what nobody watches."""


def tell_of_compiling() -> None:
    """Say so, and how long it takes, before the solver is compiled."""
    _tell_of_compiling(lambda words: print(f"holdtime: note: {words}", file=sys.stderr, flush=True))


def _tell_of_compiling(tell: Callable[[str], None]) -> None:
    from thermal_model.solver import steppers

    steppers.tell_of_compiling(tell)


def parts_of(tell: Tell, count: int) -> Iterator[Tell]:
    """Yield, for each of so many pieces of work of one size, the function to call with the share of it that is done."""
    for number in range(count):
        yield partial(_tell_part, tell, number, count)


def _tell_part(tell: Tell, number: int, count: int, share: float) -> None:
    tell((number + share) / count)
