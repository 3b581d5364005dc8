"""A progress bar on standard error, only for someone who watches and has waited a second."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

PATIENCE = 1.0
"""Time before a bar appears, and no more often than ten times in it is it drawn. [s]"""

_WIDTH = 30


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[float], None]]:
    """Yield a function to call with the share of the work done, 0 to 1; the bar is wiped at the end."""
    started = drawn = time.monotonic()
    is_watched, has_drawn = sys.stderr.isatty(), False
    if is_watched:
        tell_of_compiling()

    def show(share: float) -> None:
        nonlocal drawn, has_drawn
        now = time.monotonic()
        if not is_watched or now - started < PATIENCE or now - drawn < 0.1 * PATIENCE:
            return
        done = round(min(max(share, 0.0), 1.0) * _WIDTH)
        print(
            f"\r{label} {'▰' * done}{'▱' * (_WIDTH - done)} {100 * share:3.0f} %", end="", file=sys.stderr, flush=True
        )
        drawn, has_drawn = now, True

    try:
        yield show
    finally:
        if has_drawn:
            print(f"\r{' ' * (len(label) + _WIDTH + 8)}\r", end="", file=sys.stderr, flush=True)


def tell_of_compiling() -> None:
    """Say so, and how long it takes, before the solver is compiled."""
    from thermal_model.solver import steppers

    steppers.tell_of_compiling(lambda words: print(f"holdtime: note: {words}", file=sys.stderr, flush=True))
