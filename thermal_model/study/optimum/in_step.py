"""Several minimisers at once, each in a thread of its own; what they ask for together is answered in one go.

A solver of one problem asks for one point after the other. The engine answers sixty as fast as ten.
"""

import threading
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

Answer = TypeVar("Answer")


class StoppedError(Exception):
    """Raised inside a minimiser when the others have been given up."""


class _Desk:
    """Where minimisers leave what they ask for, until all that still run have asked."""

    def __init__(self, count: int) -> None:
        self.changed = threading.Condition()
        self.running, self.is_closed = count, False
        self.asked: dict[int, Any] = {}
        self.answers: dict[int, Any] = {}

    def ask(self, number: int, question: Any) -> Any:
        with self.changed:
            self.asked[number] = question
            self.changed.notify_all()
            self.changed.wait_for(lambda: number in self.answers or self.is_closed)
            if self.is_closed:
                raise StoppedError
            return self.answers.pop(number)

    def leave(self) -> None:
        with self.changed:
            self.running -= 1
            self.changed.notify_all()

    def collected(self) -> dict[int, Any]:
        with self.changed:
            self.changed.wait_for(lambda: len(self.asked) >= self.running)
            taken, self.asked = self.asked, {}
            return taken

    def hand_out(self, answers: dict[int, Any]) -> None:
        with self.changed:
            self.answers |= answers
            self.changed.notify_all()

    def close(self) -> None:
        with self.changed:
            self.is_closed = True
            self.changed.notify_all()


def in_step(
    minimisers: Sequence[Callable[[Callable[[Any], Any]], Answer]], answer: Callable[[list[Any]], Sequence[Any]]
) -> list[Answer]:
    """Run minimisers side by side.

    Parameters
    ----------
    minimisers : sequence of callable
        Each takes a function to ask with, and returns its result.
    answer : callable
        Takes what several ask, in the order of the minimisers, and returns as many answers; called in this thread.

    Returns
    -------
    list
        Results in the order of the minimisers; the order in which threads run changes nothing.

    Raises
    ------
    Exception
        What a minimiser or `answer` raises first; all others are stopped.

    Examples
    --------
    >>> def twice(ask): return ask(1) + ask(2)
    >>> in_step([twice, twice], lambda asked: [10 * number for number in asked])
    [30, 30]
    """
    desk = _Desk(len(minimisers))
    results: dict[int, Answer] = {}
    failures: list[BaseException] = []

    def run(number: int) -> None:
        try:
            results[number] = minimisers[number](lambda question: desk.ask(number, question))
        except StoppedError:
            pass
        except BaseException as error:  # handed to the caller's thread
            failures.append(error)
        finally:
            desk.leave()

    threads = [threading.Thread(target=run, args=(number,), daemon=True) for number in range(len(minimisers))]
    for thread in threads:
        thread.start()
    try:
        while asked := desk.collected():
            numbers = sorted(asked)
            answers = answer([asked[number] for number in numbers])
            desk.hand_out(dict(zip(numbers, answers, strict=True)))
    finally:
        desk.close()
        for thread in threads:
            thread.join()
    if failures:
        raise failures[0]
    return [results[number] for number in range(len(minimisers))]
