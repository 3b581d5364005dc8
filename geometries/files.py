"""Files read and written whole or not at all."""

import os
import tempfile
import tomllib
from pathlib import Path
from typing import Any

from geometries.errors import InputError, InputProblem

LARGEST = 1_000_000
"""Largest text read [bytes]: a design or a scenario takes a few thousand."""


def read_text(path: Path, largest: int = LARGEST) -> str:
    """Return a file's text; a byte order mark at its start is dropped.

    Raises
    ------
    InputError
        If there is no such file, it can't be read, is too large, empty, or not UTF-8.
    """
    source = str(path)
    try:
        with path.open("rb") as file:
            data = file.read(largest + 1)
    except FileNotFoundError:
        raise InputError(InputProblem("there is no such file; check the path", source=source)) from None
    except IsADirectoryError:
        raise InputError(InputProblem("is a folder; give a file in it", source=source)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(InputProblem(f"can't be read: {reason}", source=source)) from None
    if len(data) > largest:
        raise InputError(InputProblem(f"is larger than {largest / 1e6:g} MB; that is no such file", source=source))
    return _decoded(data, source)


def _decoded(data: bytes, source: str) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        message = f"is not UTF-8 text (line {line}); save it as UTF-8"
        raise InputError(InputProblem(message, source=source)) from None
    if "\0" in text:
        raise InputError(InputProblem("is not a text file", source=source))
    if not text.strip():
        raise InputError(InputProblem("is empty", source=source))
    return text


def write_text(path: Path, text: str) -> None:
    """Write a file whole, as UTF-8, or not at all.

    Raises
    ------
    InputError
        If it can't be written; what was there stays as it was.
    """
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file whole: into a temporary file beside it, which then takes its place.

    Raises
    ------
    InputError
        If it can't be written; what was there stays as it was.
    """
    temporary: str | None = None
    try:
        target = path.resolve()
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, _mode_of(target))
        os.replace(temporary, target)
    except OSError as error:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        message = f"can't be written: {error.strerror or error}"
        raise InputError(InputProblem(message, source=str(path))) from None


def _mode_of(target: Path) -> int:
    """Return the permissions of a file, or those a new one gets."""
    if target.exists():
        return target.stat().st_mode & 0o7777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML file as a document, or raise an InputError that names file and line."""
    try:
        return tomllib.loads(read_text(path))
    except tomllib.TOMLDecodeError as error:
        message = f"is not valid TOML: {error}"
    except RecursionError:
        message = "its brackets are nested too deeply"
    raise InputError(InputProblem(message, source=str(path)))
