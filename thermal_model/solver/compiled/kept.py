"""The kernel as it is kept on this machine: where, and whether what lies there can be trusted.

The compiler reads back what it kept as code. So it is kept in a folder that nobody else can write, beside a list of
digests, and what does not match the list is thrown away. Found out without importing a compiler.
"""

import hashlib
import json
import os
import shutil
import stat
import tempfile
import time
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
INGREDIENTS = (
    "solver/laws.py",
    "solver/network.py",
    "solver/rates.py",
    "solver/rosenbrock.py",
    "solver/stepping.py",
    "solver/compiled/*.py",
    "physics/*.py",
    "properties/*.py",
)
"""What a kernel is made of."""


@lru_cache(maxsize=1)
def digest() -> str:
    """Return a digest of the sources that a kernel is made of, and of where they lie: the compiler keeps by path."""
    paths = sorted(path for pattern in INGREDIENTS for path in ROOT.glob(pattern))
    return hashlib.sha256(b"\0".join([os.fsencode(ROOT), *(path.read_bytes() for path in paths)])).hexdigest()


def is_kept() -> bool:
    """Tell whether the kernel of these sources is compiled already, and whole."""
    return _whole_folder() is not None


@lru_cache(maxsize=1)
def prepared_folder() -> Path | None:
    """Return the folder of a kept kernel, or a new one to keep it in; None where there is no safe place.

    What is damaged is not read again: a new folder takes its place. Several processes never share an unfinished one.
    """
    whole, place = _whole_folder(), _place()
    if whole is not None or place is None:
        return whole
    try:
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
        return Path(tempfile.mkdtemp(prefix=_PREFIX, dir=place)) if _is_private(place) else None
    except OSError:
        return None


def note_kept() -> None:
    """List what the kernel of these sources was kept as; where nothing can be written, it is forgotten."""
    folder, place = prepared_folder(), _place()
    if folder is None or place is None or _whole_folder() is not None:
        return
    try:
        listed = {"folder": folder.name, "files": _digests(folder)}
        if listed["files"]:
            part = place / f"{folder.name}.part"
            part.write_text(json.dumps(listed), encoding="utf-8")
            part.replace(place / _LIST)
            _remove_old(place, folder)
    except OSError:
        pass


_LIST, _PREFIX = "kernel.json", "kernel-"

_OLD = 86400.0
"""Age from which an unfinished folder of another process is removed. [s]"""


def _remove_old(place: Path, kept: Path) -> None:
    for folder in place.glob(f"{_PREFIX}*"):
        if folder != kept and time.time() - folder.stat().st_mtime > _OLD:
            shutil.rmtree(folder, ignore_errors=True)


def _place() -> Path | None:
    """Return the folder of all that is kept for these sources."""
    try:
        base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    except RuntimeError:  # a user without a home
        return None
    return Path(base) / "holdtime" / digest()


def _whole_folder() -> Path | None:
    """Return the folder of a kept kernel, every file as it was listed and none besides; else None."""
    place = _place()
    if place is None or not _is_private(place):
        return None
    try:
        listed = json.loads((place / _LIST).read_text(encoding="utf-8"))
        name, files = str(listed["folder"]), listed["files"]
        folder = place / name
        is_whole = Path(name).name == name and bool(files) and _is_private(folder) and _digests(folder) == files
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return folder if is_whole else None


def _is_private(folder: Path) -> bool:
    """Tell whether a folder and the one above are this user's, and nobody else can write there."""
    try:
        states = [os.lstat(place) for place in (folder, folder.parent)]
    except (OSError, ValueError):
        return False
    if not all(stat.S_ISDIR(state.st_mode) for state in states):
        return False
    return not hasattr(os, "geteuid") or all(
        state.st_uid == os.geteuid() and not state.st_mode & 0o022 for state in states
    )


def _digests(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


_CLAIM = "compiling"

_GIVEN_UP = 900.0
"""Age from which a compilation that left nothing behind counts as dead. [s]"""


def claim_compiling() -> bool:
    """Return whether this process may begin to compile in the background: nothing is kept, and nobody else does it."""
    place = _place()
    if place is None or is_kept():
        return False
    try:
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
        claim = place / _CLAIM
        if claim.exists() and time.time() - claim.stat().st_mtime > _GIVEN_UP:
            claim.unlink()
        os.close(os.open(claim, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        return _is_private(place)
    except OSError:
        return False


def end_compiling() -> None:
    """Let another process compile, should this one have failed."""
    place = _place()
    if place is not None:
        (place / _CLAIM).unlink(missing_ok=True)
