"""Workers for the parts of a long computation: threads of this process, or those of a cluster.

Parts come back as they are finished; the caller puts them in order and alone writes.
"""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import TypeVar

Part = tuple[int, int]
"""First and past-the-last number of what is computed together."""

Found = TypeVar("Found")

IN_HAND = 2
"""Parts handed out for each that can be computed at a time, so that nobody waits for work."""


@dataclass(frozen=True)
class Crew:
    """An executor and how many parts it computes at a time, which may change as workers come and go.

    Attributes
    ----------
    executor : concurrent.futures.Executor
    size : callable
        Returns a number, 1 or more.
    """

    executor: Executor
    size: Callable[[], int]

    def finished(self, compute: Callable[[int, int], Found], parts: Iterable[Part]) -> Iterator[tuple[Part, Found]]:
        """Yield parts with what came out of each, as they are finished; `parts` is not read far ahead."""
        waiting = iter(parts)
        in_hand: dict[Future[Found], Part] = {}
        while True:
            for part in islice(waiting, max(IN_HAND * self.size() - len(in_hand), 0)):
                in_hand[self.executor.submit(compute, *part)] = part
            if not in_hand:
                return
            for future in wait(in_hand, return_when=FIRST_COMPLETED).done:
                yield in_hand.pop(future), future.result()


@contextmanager
def threads(count: int) -> Iterator[Crew]:
    """Yield a crew of threads; at the end, and when interrupted, what is not begun is dropped."""
    executor = ThreadPoolExecutor(count, thread_name_prefix="sweep")
    try:
        yield Crew(executor, lambda: count)
    finally:
        executor.shutdown(cancel_futures=True)
