"""Files read and written whole or not at all, and what a command may write over.

Within `write_rules` no file is replaced unless that is allowed, and never one that was read.
"""

import errno
import os
import shutil
import stat
import tempfile
import time
import tomllib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from geometries.errors import CONTROL, InputError

LARGEST = 1_000_000
"""Largest text read [bytes]: a design or a scenario takes a few thousand."""


@dataclass
class WriteRules:
    """What may be written over.

    Attributes
    ----------
    may_replace : bool
        Whether a file that exists may be replaced at all.
    inputs : set of (int, int)
        Device and number of each file that was read: never replaced, under whichever name.
    folders : tuple of Path
        Nothing in them that exists is replaced.
    """

    may_replace: bool
    inputs: set[tuple[int, int]] = field(default_factory=set)
    folders: tuple[Path, ...] = ()

    def add_input(self, path: Path) -> None:
        """Note a file as read."""
        try:
            status = path.stat()
        except (OSError, ValueError):
            return
        self.inputs.add((status.st_dev, status.st_ino))


_rules: ContextVar[WriteRules | None] = ContextVar("write_rules", default=None)


@contextmanager
def write_rules(*, may_replace: bool, inputs: Iterable[Path] = (), folders: Iterable[Path] = ()) -> Iterator[None]:
    """Hold everything that is written within to rules; what is read within counts as an input.

    Parameters
    ----------
    may_replace : bool
    inputs : iterable of Path
        Known to be inputs before they are read.
    folders : iterable of Path
        Whose files are inputs.
    """
    rules = WriteRules(may_replace, folders=tuple(folder.resolve() for folder in folders))
    for path in inputs:
        rules.add_input(path)
    before = _rules.set(rules)
    try:
        yield
    finally:
        _rules.reset(before)


def check_target(path: Path) -> None:
    """Refuse a file that can't or may not be written.

    Raises
    ------
    InputError
        If it is a folder, a device or a pipe, in no folder, behind a loop of links; under `write_rules` also if it
        is an input, or is there already.
    """
    problem = _target_problem(path)
    if problem:
        raise InputError(problem, source=str(path))


def _target_problem(path: Path) -> str:
    try:
        target = path.resolve()
        status = target.stat() if target.exists() else None
        has_folder = target.parent.is_dir()
    except (OSError, RuntimeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or " ".join(str(error).split()).split(":")[0]
        return f"can't be written: {reason}"
    if status is None:
        return "" if has_folder else f"there is no folder {target.parent}; make it first"
    if stat.S_ISDIR(status.st_mode):
        return "is a folder; give a file in it"
    if not stat.S_ISREG(status.st_mode):
        return "is a device or a pipe, no file; give a file, or use --json for standard output"
    rules = _rules.get()
    if rules is None:
        return ""
    if (status.st_dev, status.st_ino) in rules.inputs or any(target.is_relative_to(f) for f in rules.folders):
        return "is an input of this command; nothing that is read is written over, give another name"
    return "" if rules.may_replace else "is there already; give another name, or add --force"


def is_there(path: Path) -> bool:
    """Tell whether there is a file or folder of a name; of one that no file can have, there is none."""
    try:
        return path.exists()
    except (OSError, ValueError):  # a name too long, or with a null character
        return False


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
        raise InputError("there is no such file; check the path", source=source) from None
    except IsADirectoryError:
        raise InputError("is a folder; give a file in it", source=source) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"can't be read: {reason}", source=source) from None
    rules = _rules.get()
    if rules is not None:
        rules.add_input(path)
    if len(data) > largest:
        raise InputError(f"is larger than {largest / 1e6:g} MB; that is no such file", source=source)
    return _decoded(data, source)


def _decoded(data: bytes, source: str) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(f"is not UTF-8 text (line {line}); save it as UTF-8", source=source) from None
    if "\0" in text:
        raise InputError("is not a text file", source=source)
    control = CONTROL.search(text)
    if control is not None:
        line = text.count("\n", 0, control.start()) + 1
        raise InputError(f"has a control character, {control.group()!a}; take it out", f"line {line}", source=source)
    if not text.strip():
        raise InputError("is empty", source=source)
    return text


def write_text(path: Path, text: str, *, is_own: bool = False) -> None:
    """Write a file whole, as UTF-8, or not at all; as `write_bytes`."""
    write_bytes(path, text.encode("utf-8"), is_own=is_own)


def write_bytes(path: Path, data: bytes, *, is_own: bool = False) -> None:
    """Write a file whole: into a temporary file beside it, which then takes its place.

    Parameters
    ----------
    path : Path
    data : bytes
    is_own : bool
        It is the program's own, made anew from time to time; `write_rules` do not hold for it.

    Raises
    ------
    InputError
        As `check_target`, or if it can't be written; what was there stays as it was.
    """
    if not is_own:
        check_target(path)
    temporary: Path | None = None
    try:
        target = path.resolve()
        _remove_stale_parts(target.parent)
        # A name of its own, short enough wherever the target's is.
        handle, name = tempfile.mkstemp(prefix=_PREFIX, suffix=_PART, dir=target.parent)
        temporary = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, _mode_of(target))
        put_in_place(temporary, path, is_own=is_own)
    except OSError as error:
        raise InputError(f"can't be written: {error.strerror or error}", source=str(path)) from None
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def put_in_place(finished: Path, path: Path, *, is_own: bool = False) -> None:
    """Give a finished file its name; what may not be replaced is not, even if it came into being meanwhile.

    Raises
    ------
    InputError
        As `check_target`; the finished file is still there then.
    OSError
    """
    if not is_own:
        check_target(path)
    target, rules = path.resolve(), _rules.get()
    if is_own or rules is None or rules.may_replace:
        os.replace(finished, target)
        return
    try:
        os.link(finished, target)
    except FileExistsError:
        check_target(path)
        raise
    except OSError:  # a file system without links
        os.replace(finished, target)
    else:
        finished.unlink()


def _mode_of(target: Path) -> int:
    """Return the permissions of a file, or those a new one gets."""
    if target.exists():
        return target.stat().st_mode & 0o7777
    return _new_mode(0o666)


def _new_mode(asked: int) -> int:
    mask = os.umask(0)
    os.umask(mask)
    return asked & ~mask


_PREFIX, _PART = ".holdtime-", ".part"
"""How the names of unfinished files and folders begin and end."""

STALE = 86400.0
"""Age from which an unfinished file or folder is one that a killed command left. [s]"""


@lru_cache(maxsize=64)
def _remove_stale_parts(folder: Path) -> None:
    """Remove what killed commands left in a folder, if it is a day old; what can't be removed stays."""
    for path in folder.glob(f"{_PREFIX}*{_PART}"):
        with suppress(OSError):
            status = path.lstat()
            if time.time() - status.st_mtime < STALE:
                continue
            if stat.S_ISDIR(status.st_mode):
                shutil.rmtree(path)
            elif stat.S_ISREG(status.st_mode):
                path.unlink()


@contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """Yield a temporary folder to write files into; afterwards all of them are in `folder`, or it is not made.

    A folder that is there already gets file by file. It must be empty, or hold some of the same files and nothing else,
    as it does when a command was killed meanwhile: then the same command completes it.

    Raises
    ------
    InputError
        If the folder holds anything else or all of it already, or can't be made.
    """
    growing: Path | None = None
    try:
        is_there = folder.exists()
        place = folder.resolve() if is_there else folder.resolve().parent
        place.mkdir(parents=True, exist_ok=True)
        _remove_stale_parts(place)
        growing = Path(tempfile.mkdtemp(prefix=_PREFIX, suffix=_PART, dir=place))
        yield growing
        if is_there:
            _complete(folder, growing)
        else:
            growing.chmod(_new_mode(0o777))
            growing.rename(folder)
    except OSError as error:
        if error.errno in (errno.ENOTEMPTY, errno.EEXIST):
            raise _is_in_the_way(folder) from None
        raise InputError(f"can't be made: {error.strerror}", source=str(folder)) from None
    finally:
        if growing is not None:
            shutil.rmtree(growing, ignore_errors=True)


def _complete(folder: Path, finished: Path) -> None:
    """Move files into a folder that holds some of them, or none."""
    wanted = {path.name: path for path in sorted(finished.iterdir())}
    found = (path for path in folder.iterdir() if not (path.name.startswith(_PREFIX) and path.name.endswith(_PART)))
    there = {path.name: path for path in found}
    is_ours = all(
        name in wanted and path.is_file() and path.read_bytes() == wanted[name].read_bytes()
        for name, path in there.items()
    )
    if not is_ours or there.keys() == wanted.keys():
        raise _is_in_the_way(folder)
    for name, path in wanted.items():
        if name not in there:
            path.rename(folder / name)


def _is_in_the_way(folder: Path) -> InputError:
    message = "is there already and not empty; nothing in it is overwritten, take another name"
    return InputError(message, source=str(folder))


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML file as a document.

    Raises
    ------
    InputError
        As `read_text` and `parse_toml`.
    """
    return parse_toml(read_text(path), str(path))


MOST_DOTS = 100
"""Most dots in a line of TOML: the parser's time grows with the square of the parts of a key."""


def parse_toml(text: str, source: str = "") -> dict[str, Any]:
    """Return the text of a TOML file as a document.

    Raises
    ------
    InputError
        If it is not TOML, nested too deeply, or holds a number too long to be one.
    """
    for number, line in enumerate(text.splitlines(), start=1):
        if line.count(".") > MOST_DOTS:
            message = f"has more than {MOST_DOTS} dots; break a long text, and name a field by its path"
            raise InputError(message, f"line {number}", source=source)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = f"is not valid TOML: {error}"
    except RecursionError:
        message = "its brackets are nested too deeply"
    except ValueError:  # more digits than Python reads
        message = "holds a whole number with too many digits"
    raise InputError(message, source=source)
