"""The text of a CSV: a spreadsheet takes a cell that begins with certain marks for a formula."""

import csv
import io
import json
import re
from collections.abc import Iterable, Sequence

_FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")


def cell_text(text: str) -> str:
    """Return a text that no spreadsheet computes; a number stays as it is.

    Examples
    --------
    >>> cell_text("=1+1"), cell_text("-1.5"), cell_text("tea")
    ("'=1+1", '-1.5', 'tea')
    """
    if not text.startswith(_FORMULA_MARKS):
        return text
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return text


def csv_text(rows: Iterable[Sequence[object]], *, comments: Sequence[str] = (), separator: str = ",") -> str:
    r"""Return rows as the text of a CSV, no cell of which a spreadsheet computes.

    Parameters
    ----------
    rows : iterable of sequence
        The headings first; None and NaN become empty cells.
    comments : sequence of str, optional
        Lines above them, without the mark #.
    separator : str, optional

    Examples
    --------
    >>> csv_text([["drink", "time [min]"], ["=tea", 2.5]], comments=["of the night watch"])
    "# of the night watch\ndrink,time [min]\n'=tea,2.5\n"
    """
    out = io.StringIO()
    out.writelines(f"# {line}\n" for line in comments)
    csv.writer(out, delimiter=separator, lineterminator="\n").writerows(map(_cells, rows))
    return out.getvalue()


def _cells(row: Sequence[object]) -> list[object]:
    return [cell_text(cell) if isinstance(cell, str) else None if cell != cell else cell for cell in row]


_AFTER_SEPARATOR = re.compile(r"(?<=[,;])(\s*)([=+@]|-(?!\d))")


def json_comment(document: object) -> str:
    r"""Return a document as JSON for a comment line: its commas make cells to a spreadsheet, none of them a formula.

    Examples
    --------
    >>> json_comment({"title": "a,=1+1", "fill": -1.5})
    '{"title": "a,\\u003d1+1", "fill": -1.5}'
    """
    text = json.dumps(document, ensure_ascii=False)
    return _AFTER_SEPARATOR.sub(lambda found: f"{found.group(1)}\\u{ord(found.group(2)):04x}", text)
