"""Texts in the cells of a CSV: a spreadsheet takes one that begins with certain marks for a formula."""

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
