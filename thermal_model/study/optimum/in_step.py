"""Several minimisers at once, each in a thread of its own; what they ask for together is answered in one go.

A solver of one problem asks for one point after the other. The engine answers sixty as fast as ten.
"""

import threading
from collections.abc import Callable, Sequence
from queue import Queue
from typing import Any, TypeVar

Answer = TypeVar("Answer")


class StoppedError(Exception):
    """Raised inside a minimiser when the others have been given up."""


_GONE = object()
"""Asked by a minimiser that has come to its end, and answered once the others have been given up."""


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
    asked: Queue[tuple[int, Any]] = Queue()
    answers: list[Queue[Any]] = [Queue() for _ in minimisers]
    results: dict[int, Answer] = {}
    failures: list[BaseException] = []

    def run(number: int) -> None:
        def ask(question: Any) -> Any:
            asked.put((number, question))
            if (own := answers[number].get()) is _GONE:
                raise StoppedError
            return own

        try:
            results[number] = minimisers[number](ask)
        except StoppedError:
            pass
        except BaseException as error:  # handed to the caller's thread
            failures.append(error)
        finally:
            asked.put((number, _GONE))

    threads = [threading.Thread(target=run, args=(number,), daemon=True) for number in range(len(minimisers))]
    for thread in threads:
        thread.start()
    running = len(threads)
    try:
        while running:
            questions: dict[int, Any] = {}
            while len(questions) < running:  # until all that still run have asked
                number, question = asked.get()
                if question is _GONE:
                    running -= 1
                else:
                    questions[number] = question
            numbers = sorted(questions)
            found = answer([questions[number] for number in numbers]) if numbers else []
            for number, own in zip(numbers, found, strict=True):
                answers[number].put(own)
    finally:
        for waiting in answers:
            waiting.put(_GONE)
        for thread in threads:
            thread.join()
    if failures:
        raise failures[0]
    return [results[number] for number in range(len(minimisers))]
