"""Texts in the cells of a CSV: a spreadsheet takes one that begins with certain marks for a formula."""

import json
import re

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
