"""The kernel as it is kept on this machine: where, and whether what lies there can be trusted.

It is machine code. So it is kept in a folder that nobody else can write, behind its own digest, and what does not match
is not loaded. Found out without importing a compiler.
"""

import hashlib
import os
import stat
import tempfile
import time
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
INGREDIENTS = (
    "solver/*.py",
    "solver/compiled/*.py",
    "physics/*.py",
    "properties/*.py",
)
"""What a kernel is made of."""


@lru_cache(maxsize=1)
def digest() -> str:
    """Return a digest of the sources that a kernel is made of, and of where they lie."""
    paths = sorted(path for pattern in INGREDIENTS for path in ROOT.glob(pattern))
    return hashlib.sha256(b"\0".join([os.fsencode(ROOT), *(path.read_bytes() for path in paths)])).hexdigest()


def read(processor: str) -> bytes | None:
    """Return the machine code kept for these sources and a processor; None if there is none, or it is damaged."""
    path = _path(processor)
    if path is None or not _is_private(path):
        return None
    try:
        kept = path.read_bytes()
    except OSError:
        return None
    stated, code = kept[:_DIGEST_SIZE], kept[_DIGEST_SIZE:]
    return code if code and hashlib.sha256(code).digest() == stated else None


def keep(processor: str, code: bytes) -> None:
    """Keep machine code, whole or not at all; where nothing can be written, it is forgotten."""
    path = _path(processor)
    if path is None:
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        if not _is_private(path.parent):
            return
        handle, part = tempfile.mkstemp(suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(hashlib.sha256(code).digest() + code)
        os.replace(part, path)
        _remove_old(path.parent)
    except OSError:
        pass


_DIGEST_SIZE = hashlib.sha256().digest_size

_OLD = 86400.0
"""Age from which what a killed process left is removed. [s]"""


def _remove_old(place: Path) -> None:
    for part in place.glob("*.part"):
        if time.time() - part.stat().st_mtime > _OLD:
            part.unlink(missing_ok=True)


def _place() -> Path | None:
    """Return the folder of all that is kept for these sources."""
    try:
        base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    except RuntimeError:  # a user without a home
        return None
    return Path(base) / "holdtime" / digest()


def _path(processor: str) -> Path | None:
    place = _place()
    return place and place / f"kernel-{hashlib.sha256(processor.encode()).hexdigest()[:16]}.o"


def _is_private(path: Path) -> bool:
    """Tell whether a file or folder and the folder above are this user's, and nobody else can write there."""
    try:
        state, above = os.lstat(path), os.lstat(path.parent)
    except (OSError, ValueError):
        return False
    if stat.S_ISLNK(state.st_mode) or not stat.S_ISDIR(above.st_mode):
        return False
    return not hasattr(os, "geteuid") or all(
        each.st_uid == os.geteuid() and not each.st_mode & 0o022 for each in (state, above)
    )


_CLAIM = "compiling"

_GIVEN_UP = 900.0
"""Age from which a compilation that left nothing behind counts as dead. [s]"""


def claim_compiling() -> bool:
    """Return whether this process may begin to compile in the background: nobody else does it."""
    place = _place()
    if place is None:
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
