"""How records show themselves: one line for a console, tables for a notebook."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from geometries.numeric import Numeric
from geometries.quantities import format_quantity


def shown(si: Numeric, unit: str) -> str:
    """Return an SI value in a unit, of an array the span of its values.

    Examples
    --------
    >>> shown(0.0475, "mm")
    '47.5 mm'
    """
    low, high = (format_quantity(float(end), unit, 4) for end in (np.min(si), np.max(si)))
    return low if low == high else f"{low} to {high}"


@dataclass(frozen=True)
class Listing:
    """Rows of text under a title; heading, if there is one, names the columns."""

    title: str
    rows: Sequence[Sequence[str]]
    heading: Sequence[str] = ()


class Displayed:
    """A record that says what it is in one line, and more of it in tables."""

    def _line(self) -> str:
        """Return what it is, in one line."""
        raise NotImplementedError

    def _tables(self) -> Iterator[Listing]:
        """Yield what a notebook shows of it."""
        raise NotImplementedError

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self._line()}>"

    def __str__(self) -> str:
        blocks = (block for listing in self._tables() for block in (listing.title, *_lines(listing)) if block)
        return "\n".join([self._line(), *blocks])

    def _repr_html_(self) -> str:
        tables = "".join(map(_html, self._tables()))
        return f"<div><b>{type(self).__name__}</b> {_escaped(self._line())}{tables}</div>"


def _html(listing: Listing) -> str:
    caption = f"<caption>{_escaped(listing.title)}</caption>" if listing.title else ""
    heading = f"<thead>{_row(listing.heading, 'th')}</thead>" if listing.heading else ""
    return f"<table>{caption}{heading}<tbody>{''.join(_row(row, 'td') for row in listing.rows)}</tbody></table>"


def _row(cells: Sequence[str], tag: str) -> str:
    return f"<tr>{''.join(f'<{tag}>{_escaped(cell)}</{tag}>' for cell in cells)}</tr>"


def _lines(listing: Listing) -> Iterator[str]:
    """Yield the rows as columns, two spaces apart."""
    rows = [listing.heading, *listing.rows] if listing.heading else [*listing.rows]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        yield "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _escaped(text: str) -> str:
    from html import escape

    return escape(text)
