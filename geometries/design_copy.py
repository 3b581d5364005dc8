"""A design file copied to begin one's own: its comments on what to measure stay, what is said of the other goes."""

import re
from collections.abc import Callable, Mapping
from pathlib import Path

from geometries.container import Container, outside_diameter, outside_height
from geometries.materials_file import MATERIALS_FROM
from geometries.numeric import Numeric

_NAME = re.compile(r"[a-z][a-z0-9_]{0,59}")
_LINE = re.compile(r"^(\w+)\s*=")

_EITHER: dict[str, tuple[str, str, Callable[[Container], Numeric]]] = {
    "inside_diameter": ("outside_diameter", "a tape around it, divided by 3.14", outside_diameter),
    "outside_diameter": (
        "inside_diameter",
        "a ruler across the inside, below the neck",
        lambda container: 2.0 * container.body.radius,
    ),
    "inside_depth": ("outside_height", "standing on the table, lid off", outside_height),
    "outside_height": ("inside_depth", "a straw down to the inner floor", lambda container: container.body.depth),
}
"""Fields of which one is given: the other, how to measure it, and what it is for a container. [m]"""


def begun_copy(
    text: str, container: Container, file: Path, beside: Mapping[str, Mapping[str, object]] | None = None
) -> str:
    """Return the text of a design file as the beginning of another design.

    Parameters
    ----------
    text : str
        Of the design file.
    container : Container
        What it describes.
    file : Path
        Where the copy goes; its stem is the name, if it can be one.
    beside : mapping, optional
        Tables of the file that the design takes materials from; they go into the copy.

    Returns
    -------
    str
        The same container without title and summary, both ways of giving a diameter and a height in it, one of each
        as a comment.
    """
    lines = _without_head(text.splitlines())
    copied, table, in_text = [f"# Begun from {container.name}: change what you measured."], "", False
    for line in lines:
        if in_text:  # inside a text of several lines, which goes with its key
            in_text = '"""' not in line
            continue
        if line.startswith("["):
            table = line.strip()
        key = _LINE.match(line)
        if not table and key is not None and key[1] == MATERIALS_FROM:
            continue
        if not table and key is not None and key[1] in ("name", "title", "summary"):
            copied += _own(key[1], line, file)
            in_text = line.count('"""') == 1
            continue
        copied.append(line)
        if table == "[body]" and key is not None and key[1] in _EITHER:
            other, how, measure = _EITHER[key[1]]
            copied.append(f'# {other} = "{1e3 * float(measure(container)):.4g} mm"  # or this instead: {how}')
    return "\n".join(copied).rstrip("\n") + "\n" + _tables(beside or {})


def _tables(beside: Mapping[str, Mapping[str, object]]) -> str:
    if not any(beside.values()):
        return ""
    import tomlkit

    return "\n# From a file of materials:\n" + tomlkit.dumps({key: table for key, table in beside.items() if table})


def _own(key: str, line: str, file: Path) -> list[str]:
    """Return a line about the container as a whole for the copy."""
    if key != "name":
        return [f'# {key} = "in your own words"'] if key == "title" else []
    stem = re.sub(r"[^a-z0-9_]+", "_", file.stem.lower()).strip("_")
    return [f'name = "{stem}"' if _NAME.fullmatch(stem) else line]


def _without_head(lines: list[str]) -> list[str]:
    """Return lines without the comments and blanks over the first of them, which are about the other container."""
    first = next((k for k, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")), 0)
    return lines[first:]
