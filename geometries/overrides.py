"""Single fields of a record, addressed by a dotted path such as "lid.layers.1.depth"."""

import re
from collections.abc import Collection, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel

from geometries.container import Container
from geometries.errors import InputError, nearest_hint
from geometries.numeric import Numeric
from geometries.validation import validated

Record = TypeVar("Record", bound=BaseModel)

_DIAMETERS = ("body.inside_diameter", "body.outside_diameter")
_DEPTHS = ("body.inside_depth", "body.outside_height")
_CAPACITY = "body.capacity"

INSTEAD_OF = {one: other for pair in (_DIAMETERS, _DEPTHS) for one, other in (pair, reversed(pair))}
"""Fields of which exactly one is given: setting one takes the other away."""


def _contradicted_sizes(has_all: bool, paths: Collection[str]) -> tuple[str, ...]:
    """Return the sizes that no longer hold once others are set, where diameter, depth and capacity are all given.

    A capacity that is set replaces the depth, or the diameter if the depth is set as well; any other change makes
    the capacity follow.
    """
    if not has_all:
        return ()
    if _CAPACITY not in paths:
        return (_CAPACITY,)
    if not any(path in paths for path in _DEPTHS):
        return _DEPTHS
    return () if any(path in paths for path in _DIAMETERS) else _DIAMETERS


def with_overrides(
    record: Record, overrides: Mapping[str, object], source: str = "override", *, needs_unit: bool = True
) -> Record:
    """Return a container or a scenario with some fields set anew, validated as a whole.

    Parameters
    ----------
    record : pydantic model
        One design, or one scenario, without arrays.
    overrides : mapping of str to object
        Path to what a file would hold there, for example {"body.neck.mouth_diameter": "45 mm"}; None
        or "none" takes the field away. Of inside and outside dimensions the one set replaces the other, and
        a capacity that was given beside diameter and depth gives way to what is set, or replaces the depth.
    source : str
        Named in the messages.
    needs_unit : bool
        As `geometries.validation.validated`.

    Raises
    ------
    InputError
        If a path leads nowhere or the result is not valid.
    """
    document = record.model_dump(mode="json", exclude_unset=True)
    apply_overrides(document, overrides, source)
    return validated(type(record), document, source, needs_unit=needs_unit)


def split_assignment(text: str) -> tuple[str, object]:
    """Return path and value of "path=value"; whole numbers, decimals, true and false become what they say.

    Raises
    ------
    InputError
        If there is no path or no equals sign.

    Examples
    --------
    >>> split_assignment("body.gap.width = 4 mm")
    ('body.gap.width', '4 mm')
    >>> split_assignment("body.gap.shields=2")
    ('body.gap.shields', 2)
    """
    path, equals, value = text.partition("=")
    if not equals or not path.strip():
        raise InputError("write path=value, for example body.gap.width='4 mm'", "override", text)
    return path.strip(), _plain(value.strip())


def _plain(text: str) -> object:
    if text in ("true", "false"):
        return text == "true"
    if re.fullmatch(r"[+-]?\d{1,15}", text):
        return int(text)
    return float(text) if re.fullmatch(r"[+-]?\d{0,15}\.\d{1,15}", text) else text


def apply_overrides(document: Any, overrides: Mapping[str, object], source: str = "override") -> None:
    """Set fields of a container's document, in place; of inside and outside dimensions one replaces the other.

    Raises
    ------
    InputError
        As `set_in_document`.
    """
    for path, value in overrides.items():
        set_in_document(document, part_without(path) if is_none(value) else path, value, source)
        other = INSTEAD_OF.get(path)
        if other is not None and other not in overrides:
            set_in_document(document, other, None, source)
    body = document.get("body") if isinstance(document, dict) else None
    given = {f"body.{key}" for key in body} if isinstance(body, dict) else set()
    has_all = all(any(path in given for path in paths) for paths in (_DIAMETERS, _DEPTHS, (_CAPACITY,)))
    for path in _contradicted_sizes(has_all and bool(overrides), overrides):
        set_in_document(document, path, None, source)


def is_none(value: object) -> bool:
    """Return whether a value takes a field away: None or "none"."""
    return value is None or (isinstance(value, str) and value.strip().lower() == "none")


def part_without(path: str) -> str:
    """Return what goes with a field that is taken away: of a pocket's, a plug's or a seal's depth the part itself.

    Examples
    --------
    >>> part_without("lid.layers.1.depth"), part_without("body.gap.base_width")
    ('lid.layers.1', 'body.gap.base_width')
    """
    return path.removesuffix(".depth") if _PART_WITH_DEPTH.fullmatch(path) else path


_PART_WITH_DEPTH = re.compile(r"lid\.(plug|seals\.\d+|layers\.\d+)\.depth")


def set_in_document(document: Any, path: str, value: object, source: str = "override") -> None:
    """Set one field of a nested document, in place, making tables and lists on the way.

    None or "none" removes the field. The number after a list's last entry appends one. Works on plain
    dictionaries and lists and on those of a TOML editor alike.

    Raises
    ------
    InputError
        If the path leads through something that has no fields, or to an entry that a list doesn't have.
    """
    keys = path.split(".")
    if not all(re.fullmatch(r"\w+", key) for key in keys):
        raise InputError("a path is made of field names with dots between them", path, source=source)
    place = document
    for depth, key in enumerate(keys[:-1]):
        at = ".".join(keys[: depth + 1])
        below: Any = [] if keys[depth + 1] == "0" else {}
        if isinstance(place, list):
            number = _index(place, key, at, source, may_append=True)
            if number == len(place):
                place.append(below)
            place = place[number]
        elif isinstance(place, dict):
            if key not in place:
                place[key] = below
            place = place[key]
        else:
            break
    _set_last(place, keys[-1], value, path, source)


def _set_last(place: Any, key: str, value: object, path: str, source: str) -> None:
    is_removed = is_none(value)
    if isinstance(place, list):
        number = _index(place, key, path, source, may_append=not is_removed)
        if is_removed:
            del place[number]
        elif number == len(place):
            place.append(value)
        else:
            place[number] = value
    elif isinstance(place, dict):
        if not is_removed:
            place[key] = value
        elif key in place:
            del place[key]
    else:
        raise InputError("the path goes on below a plain value; shorten it", path, source=source)


def _index(place: list[Any], key: str, path: str, source: str, may_append: bool = False) -> int:
    last = len(place) if may_append else len(place) - 1
    if key.isdecimal() and int(key[:9]) <= last:
        return int(key)
    allowed = f"0 to {last}" if last > 0 else "0" if last == 0 else "none, the list is empty"
    raise InputError(f"the list has no entry '{key}'; entries: {allowed}", path, source=source)


def with_values(record: Record, values: Mapping[str, Numeric]) -> Record:
    """Return a record with some numbers replaced by others or by arrays of designs; nothing is validated.

    Parameters
    ----------
    record : pydantic model
        For example a Container; the paths must lead to fields that it has.
    values : mapping of str to float or (n,) array
        Path to SI value. Of inside and outside dimensions the one set replaces the other.

    Raises
    ------
    InputError
        If a path leads nowhere.

    See Also
    --------
    geometries.checks.dimension_problems : tells which designs of the batch can't be.
    """
    for path, value in values.items():
        record = _replaced(record, path.split("."), value, path)
        other = INSTEAD_OF.get(path)
        if other is not None and other not in values and isinstance(record, Container):
            record = _replaced(record, other.split("."), None, other)
    if isinstance(record, Container) and values:
        body = record.body
        has_all = body.capacity is not None and body.has_diameter and body.has_depth
        for path in _contradicted_sizes(has_all, values):
            record = _replaced(record, path.split("."), None, path)
    return record


def _replaced(place: Any, keys: list[str], value: Any, path: str) -> Any:
    if not keys:
        return value
    key, rest = keys[0], keys[1:]
    if isinstance(place, tuple):
        number = _index(list(place), key, path, "")
        return (*place[:number], _replaced(place[number], rest, value, path), *place[number + 1 :])
    if not isinstance(place, BaseModel):
        missing = "is left out in this design; give it there first" if place is None else "has no fields below it"
        raise InputError(missing, path.removesuffix("." + ".".join(keys)))
    fields = type(place).model_fields
    if key not in fields:
        raise InputError(f"unknown field; {nearest_hint(key, fields)}allowed: {', '.join(fields)}", path)
    return place.model_copy(update={key: _replaced(getattr(place, key), rest, value, path)})
