"""A file of solids and surfaces beside a design file, which several designs share.

The design names it, `materials_from = "our_materials.toml"`; it has the tables `materials` and `surfaces` of a design.
"""

from pathlib import Path
from typing import Any

from geometries.errors import InputError, InputProblem, nearest_hint, refuse
from geometries.files import parse_toml, read_text

MATERIALS_FROM = "materials_from"
_TABLES = ("materials", "surfaces")


def with_materials_beside(document: dict[str, Any], source: str, folder: Path | None) -> dict[str, Any]:
    """Return a design's document with what the file has that it names; a document that names none as it is.

    Raises
    ------
    InputError
        If the file is not there or has something else in it, or a name stands in both.
    """
    if MATERIALS_FROM not in document:
        return document
    named = document[MATERIALS_FROM]
    if not isinstance(named, str) or not named:
        raise InputError("must be the name of a file, in quotes", MATERIALS_FROM, named, source)
    if folder is None:
        message = "can't be looked for; read the design from its file, or put the tables into it"
        raise InputError(message, MATERIALS_FROM, named, source)
    beside = materials_in(folder / named)
    problems: list[InputProblem] = []
    joined = {key: value for key, value in document.items() if key != MATERIALS_FROM}
    for table in _TABLES:
        own, shared = document.get(table, {}), beside.get(table, {})
        if not isinstance(own, dict):
            continue  # told when the design is read
        message = f"stands twice, here and in {named}; take one of them out"
        problems += [InputProblem(message, f"{table}.{name}", source=source) for name in own if name in shared]
        if own or shared:
            joined[table] = {**shared, **own}
    refuse(problems)
    return joined


def materials_in(file: Path) -> dict[str, dict[str, Any]]:
    """Return the tables of a file of materials.

    Raises
    ------
    InputError
        If it can't be read or has something else in it.
    """
    found = parse_toml(read_text(file), str(file))
    allowed = f"a file of materials has {' and '.join(_TABLES)}, tables of tables"
    refuse(
        InputProblem(f"{nearest_hint(key, _TABLES) if key not in _TABLES else ''}{allowed}", key, source=str(file))
        for key, value in found.items()
        if key not in _TABLES or not isinstance(value, dict)
    )
    return found


def materials_named_in(document: dict[str, Any], folder: Path) -> dict[str, dict[str, Any]]:
    """Return what the file has that a design's document names, nothing if it names none."""
    return materials_in(folder / str(document[MATERIALS_FROM])) if MATERIALS_FROM in document else {}
