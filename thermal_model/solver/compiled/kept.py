"""Whether the kernel has been compiled on this machine before: found out without importing a compiler."""

import hashlib
import os
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
    """Return a digest of the sources that a kernel is made of."""
    paths = sorted(path for pattern in INGREDIENTS for path in ROOT.glob(pattern))
    return hashlib.sha256(b"\0".join(path.read_bytes() for path in paths)).hexdigest()


def is_kept() -> bool:
    """Tell whether the kernel of these sources is compiled already."""
    return _mark().exists()


def note_kept() -> None:
    """Note that the kernel of these sources is compiled; where nothing can be written, it is forgotten."""
    try:
        _mark().parent.mkdir(parents=True, exist_ok=True)
        _mark().touch()
    except OSError:
        pass


def _mark() -> Path:
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "holdtime" / f"kernel-{digest()}"
