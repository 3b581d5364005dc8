"""How many cores this process may use, and work done on all of them."""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from threading import current_thread, main_thread
from typing import TypeVar

_Result = TypeVar("_Result")


def cores() -> int:
    """Return a number, 1 or more."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def are_free() -> bool:
    """Tell whether all cores are this thread's to use: the main one's; other threads share them already."""
    return current_thread() is main_thread()


def side_by_side(works: Sequence[Callable[[], _Result]], give_up: Callable[[], None]) -> Iterator[_Result]:
    """Yield what each work returns, in order; each is done in a thread of its own, in the caller's context.

    When one fails, or the caller is interrupted, `give_up` is called, which may end those that have begun: they are
    waited for. The others are not begun.
    """
    with ThreadPoolExecutor(min(cores(), len(works)), thread_name_prefix="runs") as pool:
        results = [pool.submit(copy_context().run, work) for work in works]
        try:
            for result in results:
                yield result.result()
        except BaseException:
            give_up()
            for result in results:
                result.cancel()
            raise
