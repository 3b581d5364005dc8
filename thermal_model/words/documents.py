"""Records as entries of a JSON document."""

import re
from typing import Any

from pydantic_core import to_jsonable_python

_UNIT = re.compile(r"_(K|s|m3|kg|SI|J|J_per_K|W_per_K)$")


def entries(record: object, *keys: str) -> dict[str, Any]:
    """Return fields of a record, each under its name and, where it has one, its SI unit.

    Parameters
    ----------
    record : object
    *keys : str
        Such as "low_s" for the field `low`, in seconds.

    Raises
    ------
    AttributeError
        If the record has no such field.

    Examples
    --------
    >>> entries(range(3, 9, 2), "start_K", "step")
    {'start_K': 3, 'step': 2}
    """
    return {key: plain(getattr(record, _UNIT.sub("", key))) for key in keys}


def plain(value: object) -> Any:
    """Return a value, or a record with all its fields, as JSON can hold it: None for infinite and unknown numbers.

    Examples
    --------
    >>> plain((1.5, float("inf")))
    [1.5, None]
    """
    return to_jsonable_python(value, inf_nan_mode="null", fallback=_listed)


def _listed(array: Any) -> Any:
    return array.tolist()
