"""A progress bar on standard error, only for someone who watches and has waited a second.

It moves by itself while the work has nothing to tell. A program that asks for lines gets lines.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Timer
from typing import TYPE_CHECKING

from thermal_model.work_done import ShareDone

if TYPE_CHECKING:
    from rich.progress import Progress

PATIENCE = 1.0
"""Time before a bar appears. [s]"""

REFRESHES = 4.0
"""How often a bar is drawn anew. [1/s]"""

READING, DRAWING = "reading the bench", "drawing"
"""Labels that several commands show."""

LINES = "HOLDTIME_PROGRESS"
"""Environment variable: where it is "lines", progress is told as lines, `progress 0.42`, for a program to read."""


class _Bar:
    """Rich's bar, which is imported and shown once someone has waited."""

    def __init__(self, label: str) -> None:
        self._label, self._share = label, 0.0
        self._shown: Progress | None = None
        self._patience = Timer(PATIENCE, self._appear)
        self._patience.daemon = True
        self._patience.start()

    def _appear(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

        label = TextColumn("{task.description}", markup=False)
        columns = (label, BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
        bar = Progress(
            *columns, console=Console(stderr=True), transient=True, redirect_stdout=False, refresh_per_second=REFRESHES
        )
        task = bar.add_task(self._label, total=1.0)
        bar.start()
        self._shown = bar
        bar.update(task, completed=self._share)  # last, so that nothing told meanwhile is lost

    def show(self, share: float) -> None:
        """Say what share of the work is done."""
        self._share = min(max(share, 0.0), 1.0)
        if self._shown is not None:
            self._shown.update(self._shown.task_ids[0], completed=self._share)

    def end(self) -> None:
        """Leave the line empty."""
        self._patience.cancel()
        self._patience.join()
        if self._shown is not None:
            self._shown.stop()


@contextmanager
def progress_bar(label: str) -> Iterator[ShareDone]:
    """Yield a function to call with the share of the work done, 0 to 1; the bar is wiped at the end."""
    if os.environ.get(LINES) == "lines":
        yield _tell_in_lines
        return
    if not sys.stderr.isatty():
        yield _told_to_nobody
        return
    tell_of_compiling()
    bar = _Bar(label)
    try:
        yield bar.show
    finally:
        bar.end()


def _tell_in_lines(share: float) -> None:
    print(f"progress {min(max(share, 0.0), 1.0):.3f}", file=sys.stderr, flush=True)


def _told_to_nobody(share: float) -> None:
    """Take what nobody watches."""


def tell_of_compiling() -> None:
    """Say so, and how long it takes, before the solver is compiled; above a bar, if there is one."""
    from thermal_model.solver import steppers

    steppers.tell_of_compiling(lambda words: print(f"holdtime: note: {words}", file=sys.stderr, flush=True))
