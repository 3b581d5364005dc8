"""The one error a user's input can cause: one line for each problem, all problems at once."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

LONGEST_VALUE = 60

CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Characters that a terminal obeys, or that turn the order of what it shows; no text needs them."""


@dataclass(frozen=True)
class InputProblem:
    """One thing that is wrong with an input.

    Attributes
    ----------
    message : str
        What is wrong, what is allowed, what to do.
    field : str
        Dotted path inside the document, "" for the document as a whole.
    value : object
        What was given; None leaves it out of the line.
    source : str
        File or option the value came from.
    """

    message: str
    field: str = ""
    value: object = None
    source: str = ""

    def __str__(self) -> str:
        given = "" if self.value is None else f" = {shortened(self.value)}"
        where = [part for part in (self.source, f"{self.field}{given}" if self.field else "") if part]
        return printable(": ".join([*where, " ".join(self.message.split())]))


class InputError(ValueError):
    """Bad input, told in one line for each problem.

    Parameters
    ----------
    problems : str or iterable of InputProblem
        A text is the message of a single problem.
    field, value, source
        As of an `InputProblem`, of that single one.
    """

    def __init__(
        self, problems: str | Iterable[InputProblem], field: str = "", value: object = None, source: str = ""
    ) -> None:
        if isinstance(problems, str):
            problems = (InputProblem(problems, field, value, source),)
        self.problems: tuple[InputProblem, ...] = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))

    def within(self, source: str) -> "InputError":
        """Return the same error with its source named where none was."""
        return InputError(replace(p, source=p.source or source) for p in self.problems)


@contextmanager
def told_of(field: str = "", source: str = "") -> Iterator[None]:
    """Raise what is wrong with a value within the block as an `InputError` of its field and source."""
    try:
        yield
    except ValueError as error:
        raise InputError(str(error), field, source=source) from None


def refuse(problems: Iterable[InputProblem]) -> None:
    """Raise all problems together; where there are none, go on."""
    if problems := tuple(problems):
        raise InputError(problems)


def refuse_repeated(names: Sequence[str], message: str, source: str = "") -> None:
    """Refuse every name that is given more than once."""
    refuse(InputProblem(message, name, source=source) for name in sorted(set(names)) if names.count(name) > 1)


def refuse_given(options: Mapping[str, object], message: str) -> None:
    """Refuse every option that was given: whose value is not empty."""
    refuse(InputProblem(message, source=option) for option, value in options.items() if value)


def printable(text: str) -> str:
    r"""Return a text with what a terminal would obey, or hide, written as its escape.

    Examples
    --------
    >>> printable("a\x1b[2Jb")
    'a\\x1b[2Jb'
    """
    if text.isprintable():
        return text
    return "".join(mark if mark.isprintable() else mark.encode("unicode_escape").decode() for mark in text)


def shortened(value: object) -> str:
    """Return a value on one line, cut to a readable length, strings in quotes.

    Examples
    --------
    >>> shortened("4,8 mm")
    "'4,8 mm'"
    """
    try:
        text = repr(value) if isinstance(value, str) else " ".join(str(value).split())
    except (ValueError, RecursionError):  # more digits than Python writes; deeper than it goes
        text = f"a very long {type(value).__name__}"
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 3] + "..."


def nearest_hint(name: object, allowed: Iterable[str]) -> str:
    """Return "did you mean '...'? " for the nearest allowed name, or "" if none is near.

    Examples
    --------
    >>> nearest_hint("stainles_304", ["stainless_304", "cork"])
    "did you mean 'stainless_304'? "
    """
    from difflib import get_close_matches

    near = get_close_matches(str(name)[:LONGEST_VALUE], list(allowed), 1)
    return f"did you mean '{near[0]}'? " if near else ""


def at_once(*readers: Callable[[], Any]) -> list[Any]:
    """Call all readers and return what they return, or raise the problems of all of them together."""
    results: list[Any] = []
    problems: list[InputProblem] = []
    for reader in readers:
        try:
            results.append(reader())
        except InputError as error:
            problems += error.problems
    # Two readers may meet the same one.
    refuse({str(problem): problem for problem in problems}.values())
    return results
