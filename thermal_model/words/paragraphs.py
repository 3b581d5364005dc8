"""Paragraphs of a terminal: as wide as a reader likes, no number parted from its unit, with an empty line between."""

import re
from collections.abc import Iterable
from textwrap import fill

WIDTH = 96
"""Columns of the text."""


def wrapped(text: str, indent: str = "", hanging: str = "  ") -> str:
    """Return a paragraph in lines, none of which begins with a unit.

    Parameters
    ----------
    text : str
    indent : str
        Before every line.
    hanging : str
        Besides before all lines but the first.

    Examples
    --------
    >>> print(wrapped("so", "  "))
      so
    """
    tied = re.sub(r"(?<=\d) (?=[%A-Za-z°])", "\u00a0", text)
    lines = fill(tied, WIDTH, initial_indent=indent, subsequent_indent=indent + hanging)
    return lines.replace("\u00a0", " ")


def titled(title: str, lines: Iterable[str]) -> str:
    """Return lines as a block under a title, what is indented more stays so; "" where there is none."""
    body = [wrapped(line.lstrip(), "  " + " " * (len(line) - len(line.lstrip()))) for line in lines]
    return "\n".join([title, *body]) if body else ""


def listed(lines: Iterable[str]) -> list[str]:
    """Return paragraphs, each with a dash before it."""
    return [wrapped(f"- {line}") for line in lines]


def in_blocks(blocks: Iterable[str]) -> str:
    """Return blocks with an empty line between them; empty ones are left out."""
    return "\n\n".join(block for block in blocks if block)
