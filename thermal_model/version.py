"""Which version made a result; apart from `results`, so that asking for it imports nothing slow."""

from functools import lru_cache
from typing import TYPE_CHECKING


@lru_cache(maxsize=1)
def version() -> str:
    """Return the version of the distribution that is installed."""
    from importlib.metadata import version as installed_version

    return installed_version("holdtime")


if TYPE_CHECKING:
    __version__: str


def __getattr__(name: str) -> str:
    # Asked for by few, and reading the distribution's metadata takes time.
    if name == "__version__":
        return version()
    raise AttributeError(name)
