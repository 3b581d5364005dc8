"""How much of some work is done, told to whoever waits for it."""

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Item = TypeVar("Item")

ShareDone = Callable[[float], None]
"""Called with the share of the work that is done, 0 to 1."""


def part_of(progress: ShareDone | None, begin: float, end: float) -> ShareDone | None:
    """Return the progress of a part of some work, which is all from one share of it to another."""
    return None if progress is None else lambda share: progress(begin + (end - begin) * share)


def parts_of(progress: ShareDone | None, count: int) -> Iterator[ShareDone | None]:
    """Yield the progress of each of so many parts of one size."""
    for number in range(count):
        yield part_of(progress, number / count, (number + 1) / count)


def counted(items: Sequence[Item], progress: ShareDone | None) -> Iterator[Item]:
    """Yield items, and tell after each how many are done."""
    for number, item in enumerate(items, start=1):
        yield item
        if progress is not None:
            progress(number / len(items))
